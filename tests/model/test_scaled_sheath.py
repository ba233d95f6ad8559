"""Scale on an element: a resistance between sheath and water, in closed form and against the stiff solver."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.model import ARCHITECTURES
from boilerfront.model.design import read_design
from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.arrays import Lanes, Net, Runs
from boilerfront.model.kernel.compile_step import Advance
from boilerfront.model.kernel.march import new_lanes
from boilerfront.model.network.graph import Carry, Network, Store
from boilerfront.model.runs import Pool, Request
from boilerfront.model.tolerances import NOMINAL as MACHINE
from boilerfront.shared.shapes import Floats
from tests.model.random_designs import NOMINAL
from tests.model.small_networks import fixed
from tests.model.stiff_reference import Reference, conductances_of

AREA_M2, BOILS_C = 0.01, 110.0
FREE, BOILING = 0, 1


def sheath_in_water(sheath_C: float, water_C: float, resistance: float) -> tuple[Advance, Lanes]:
    """Return what fills conductances, and lanes: a sheath and water joined by this resistance, film laws empty."""
    network = Network()
    for law in ("free", "boiling"):
        network.law(law, "water")
    network.node("sheath", Store.SOLID, 100.0)
    network.node("water", Store.SOLID, 1000.0)
    network.link(Carry.SHEATH, "sheath", "water", (AREA_M2, BOILS_C, resistance), law=FREE)
    network.path = ["water"]
    made = fixed(network)
    net = Net(made.stores, made.links, made.flows.reshape(-1, 4), made.roles, made.laws, np.zeros(4, int))
    lanes = new_lanes(net, 2, np.float64)
    lanes.numbers[0] = np.array(network.numbers[0])[:, None]
    lanes.G[0] = AREA_M2
    lanes.T[0], lanes.T[1] = sheath_C, water_C
    lanes.t[:], lanes.cell[:] = lanes.T, 0.0
    return conductances_of(made), lanes


def heat_W(lanes: Lanes) -> float:
    return float(lanes.G[0, 0] * (lanes.T[0, 0] - lanes.T[1, 0]) - lanes.J[0, 0])


@given(st.floats(20.0, 160.0), st.floats(20.0, 130.0), st.floats(0.0, 1.0), st.floats(50.0, 5000.0))
def test_a_constant_film_and_scale_are_two_resistances_in_series(
    sheath_C: float, water_C: float, resistance: float, film: float
) -> None:
    conductances, lanes = sheath_in_water(sheath_C, water_C, resistance)
    lanes.first[FREE, 0] = film
    conductances(lanes.buffer)
    expected = (sheath_C - water_C) / (1.0 / (film * AREA_M2) + resistance)
    assert heat_W(lanes) == pytest.approx(expected, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("resistance", [1e-3, 0.01, 0.05, 0.2])
def test_boiling_under_scale_heats_by_what_its_surface_gives(resistance: float) -> None:
    root = (
        40.0  # root of the film [W/m2K] at the last superheat of the row; linear, so the film is its square
    )
    conductances, lanes = sheath_in_water(140.0, 105.0, resistance)
    lanes.first[BOILING, 1] = root
    lanes.first[FREE, 0] = 200.0
    for _ in range(20):
        conductances(lanes.buffer)
    heat = heat_W(lanes)
    surface_C = 140.0 - resistance * heat
    film = 200.0 + (root * max(surface_C - BOILS_C, 0.0) * at.PER_SUPERHEAT) ** 2
    assert heat == pytest.approx(AREA_M2 * film * (surface_C - 105.0), rel=1e-9)


class Scaled(Pool):
    """A pool whose elements carry scale."""

    resistance = 0.0

    def arrays(self, requests: Sequence[Request]) -> Runs:
        """Return the runs with the resistance on every link of a sheath."""
        runs = super().arrays(requests)
        sheaths = self.topology.links[:, 0] == Carry.SHEATH
        runs.numbers[:, sheaths, 2] = self.resistance
        return runs


def scaled(resistance: float) -> Scaled:
    """Return a machine with so much scale [K/W] on every link of its elements."""
    design = read_design({"architecture": "dual_boiler_coil"}, NOMINAL.machine)
    pool = Scaled([ARCHITECTURES["dual_boiler_coil"].build(design, NOMINAL)], NOMINAL)
    pool.resistance = resistance
    return pool


def course(pool: Pool) -> tuple[Floats, Floats]:
    """Return a record of the kernel and the stiff solver's water at the screen beside it [rows]."""
    request = Request(0, 93.0, 0.0, MACHINE)
    record = pool.run([request], record=True).record
    return record, Reference(pool, request).imposed(record).T


@pytest.mark.slow
def test_a_scaled_machine_follows_the_stiff_solver() -> None:
    pool = scaled(0.03)
    record, there = course(pool)
    drawing = record[:, at.R_MODE] == at.MODE_SHOT
    screen = pool.net.roles[at.N_SCREEN]
    assert np.max(np.abs(record[drawing, at.NR + screen] - there[drawing, screen])) <= 0.05


def test_scale_makes_the_sheath_hotter_by_heat_times_resistance() -> None:
    clean, furred = (scaled(r).run([Request(0, 93.0, 0.0, MACHINE)], record=True).record for r in (0.0, 0.05))
    sheath = at.NR + scaled(0.0).net.roles[at.N_STEAM_ELEMENT]
    power = furred[:, at.R_STEAM_W]
    full = (power == power.max()) & (furred[:, at.R_TIME_S] > 60.0)
    first = int(np.flatnonzero(full)[0])
    hotter = furred[first, sheath] - clean[first, sheath]
    assert hotter == pytest.approx(0.05 * power[first], rel=0.15)
