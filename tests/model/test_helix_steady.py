"""The coil of a real machine in steady flow, against a march of its own along the tube with the correlations."""

from __future__ import annotations

from math import exp, log, pi

import numpy as np
import pytest

from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.design import read_design
from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.films import prepare
from boilerfront.model.kernel.march import SINGLE, move, new_lanes
from boilerfront.model.kernel.start import load
from boilerfront.model.laws.external import horizontal_cylinder_in_water
from boilerfront.model.laws.internal import nusselt_helical, nusselt_straight, reynolds
from boilerfront.model.laws.phase import film_condensation
from boilerfront.model.parts.helix import Helix
from boilerfront.model.props.water import conductivity, heat_capacity, prandtl
from boilerfront.model.runs import Pool, Request
from boilerfront.model.tolerances import NOMINAL as NOMINAL_MACHINE
from tests.model.random_designs import NOMINAL, Design

STEAM_C, INLET_C, LEVEL = 124.0, 15.0, 0.615


def outside(helix: Helix, wall_C: float, share: float) -> float:
    """Return the coefficient of a tube that stands in water by `share` of its length, in steam by the rest."""
    wet = horizontal_cylinder_in_water(wall_C, STEAM_C, helix.outer_m)
    return share * wet + (1.0 - share) * film_condensation(STEAM_C, wall_C, helix.outer_m)


def along(
    water_C: float, length_m: float, flow: float, helix: Helix, *, straight: bool, share: float
) -> float:
    """Return the water's temperature at the end of a short piece in which all coefficients are constant."""
    Re, Pr = reynolds(flow, helix.bore_m, water_C), prandtl(water_C)
    if straight:
        Nu = nusselt_straight(Re, Pr, helix.bore_m / helix.header_m)
    else:
        Nu = nusselt_helical(Re, Pr, helix.curvature)
    inside = Nu * conductivity(water_C) / helix.bore_m * pi * helix.bore_m
    through = 2.0 * pi / log(helix.outer_m / helix.bore_m) * 16.0  # k of stainless steel 16 W/mK
    low, high = water_C, STEAM_C
    for _ in range(60):  # the outer face where the heat through film and wall equals that from the bath
        face = 0.5 * (low + high)
        to_water = (face - water_C) / (1.0 / inside + 1.0 / through)
        from_bath = share * outside_W_mK(helix, face) if straight else outside_W_mK(helix, face, share)
        low, high = (face, high) if from_bath * (STEAM_C - face) > to_water else (low, face)
    heat_W_m = (face - water_C) / (1.0 / inside + 1.0 / through)
    UA_W_mK = heat_W_m / max(STEAM_C - water_C, 1e-9)
    return STEAM_C - (STEAM_C - water_C) * exp(-UA_W_mK * length_m / (flow * heat_capacity(water_C)))


def outside_W_mK(helix: Helix, face_C: float, share: float = 1.0) -> float:
    return outside(helix, face_C, share) * pi * helix.outer_m


def marched(helix: Helix, flow: float, share: float, pieces: int) -> float:
    """Return the refill's temperature behind both headers; the headers count where they are wet."""
    water_C = INLET_C
    for length, count, straight in (
        (helix.header_m, pieces // 4, True),
        (helix.length_m, pieces, False),
        (helix.header_m, pieces // 4, True),
    ):
        for _ in range(count):
            part = LEVEL if straight else share
            water_C = along(water_C, length / count, flow, helix, straight=straight, share=part)
    return water_C


class Steady:
    """The kernel's coil at steady flow beside a bath of one temperature."""

    def __init__(self, length_m: float, bore_mm: float) -> None:
        values: Design = {
            "architecture": "dual_boiler_coil",
            "coil_length_m": length_m,
            "coil_bore_mm": bore_mm,
        }
        plant = ARCHITECTURES["dual_boiler_coil"].build(read_design(values, NOMINAL.machine), NOMINAL)
        self.pool = Pool([plant], NOMINAL)
        assert plant.helix is not None
        self.helix = plant.helix

    def outlet(self, flow: float, share: float) -> float:
        """Take huge steps until nothing moves."""
        net = self.pool.net
        runs = self.pool.arrays([Request(0, 93.0, 0.0, NOMINAL_MACHINE)])
        lanes = new_lanes(net, runs.laws.shape[1], SINGLE)
        for lane in range(at.LANES):
            load(lane, 0, net, runs, lanes, np.zeros(at.NO))
        lanes.S[at.S_FLOW] = flow
        lanes.S[at.S_ALL_FLOW] = flow
        lanes.S[at.S_SHARE] = share
        lanes.S[at.S_LEVEL] = LEVEL
        lanes.DT[:] = 1e6
        steam = net.roles[at.N_STEAM]
        lanes.T[: len(self.pool.topology.names)] = 60.0
        lanes.T[steam] = STEAM_C
        for _ in range(60):
            prepare(net, lanes, runs)
            lanes.C[steam] = 1e25
            move(self.pool.advance, lanes)
        return float(lanes.T[self.pool.topology.names.index("coil_header_out"), 0])


@pytest.mark.parametrize("flow_g_s", [0.95, 1.55, 2.4, 5.2])
@pytest.mark.parametrize("share", [0.0, 0.7, 1.0])
@pytest.mark.parametrize(("length_m", "bore_mm"), [(0.3, 4.0), (0.5, 4.0), (1.5, 6.0)])
def test_steady_coil(length_m: float, bore_mm: float, flow_g_s: float, share: float) -> None:
    steady = Steady(length_m, bore_mm)
    here = steady.outlet(1e-3 * flow_g_s, share)
    fine = marched(steady.helix, 1e-3 * flow_g_s, share, 160)
    effect, exact = ((t - INLET_C) / (STEAM_C - INLET_C) for t in (here, fine))
    print(
        f"{length_m} m, {bore_mm} mm, {flow_g_s} g/s, share {share}: kernel {here:.2f}, march {fine:.2f} °C"
    )
    # plain mixed cells, twelve in a row, would give up to 0.022 less than a tube (NTU 2: (7/6)^-12 against
    # exp(-2)); corrected for that, what is left is the film's change along a cell
    assert abs(exact - effect) < 0.005
