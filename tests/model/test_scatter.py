"""What one machine of the batch is: element powers by the standard, sensors, insulation, room, limescale."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.design import read_design
from boilerfront.model.kernel import layout as at
from boilerfront.model.network.graph import Carry
from boilerfront.model.parts.element import power_band
from boilerfront.model.runs import Pool, Ran, Request
from boilerfront.model.scatter import power_factor
from boilerfront.model.tolerances import NOMINAL as NOMINAL_MACHINE
from boilerfront.shared.shapes import Floats
from tests.model.random_designs import NOMINAL


# IEC 60335-1, clause 10, as recalled: rated power, least and largest power allowed [W]
@pytest.mark.parametrize(
    ("rated", "least", "largest"),
    [
        (1450.0, 1305.0, 1522.5),
        (300.0, 270.0, 320.0),
        (400.0, 360.0, 420.0),
        (150.0, 135.0, 165.0),
        (20.0, 16.0, 24.0),
    ],
)
def test_power_lies_where_the_standard_allows(rated: float, least: float, largest: float) -> None:
    assert rated * power_factor(rated, -1.0) == pytest.approx(least)
    assert rated * power_factor(rated, 1.0) == pytest.approx(largest)
    assert rated * power_factor(rated, 0.0) == pytest.approx(0.5 * (least + largest))


def test_the_upper_end_of_the_band_has_no_step_at_its_crossings() -> None:
    for crossing in (200.0, 400.0):
        below, above = power_band(crossing)[1], power_band(crossing + 1e-9)[1]
        assert above == pytest.approx(below, rel=1e-9)


@cache
def pool() -> Pool:
    """Return one dual boiler with coil."""
    read = read_design({"architecture": "dual_boiler_coil"}, NOMINAL.machine)
    return Pool([ARCHITECTURES["dual_boiler_coil"].build(read, NOMINAL)], NOMINAL)


def ran(**values: float) -> Ran:
    """Return a recorded run of a machine that differs by `values` from the nominal one."""
    return pool().run([Request(0, 93.0, 0.0, {**NOMINAL_MACHINE, **values})], record=True)


def settled(**values: float) -> Floats:
    """Return the record of a settled run of such a machine."""
    request = Request(0, 93.0, 0.0, {**NOMINAL_MACHINE, **values}, settled=True)
    return pool().run([request], record=True).record


def node(name: str, record: Floats) -> Floats:
    """Return the temperatures of a node."""
    return record[:, at.NR + pool().topology.names.index(name)]


def after(seconds: float, name: str, record: Floats) -> float:
    """Return a node's temperature so long after the start."""
    return float(np.interp(seconds, record[:, at.R_TIME_S] + record[:, at.R_DT_S], node(name, record)))


def test_elements_give_their_own_power() -> None:
    design = pool().plants[0].design
    record = ran(brew_power=-1.0, mains=1.05).record
    assert record[5, at.R_BREW_W] == pytest.approx(design.brew_W * 0.9 * 1.05**2)
    weak, strong = (after(100.0, "brew_3", ran(brew_power=place).record) for place in (-1.0, 1.0))
    assert strong > weak + 1.0


def test_a_controller_does_not_know_what_its_element_gives() -> None:
    """Power and gain are scaled alike: parts of full power as a controller gives them, times what comes of it."""
    nominal = pool().arrays([Request(0, 93.0, 0.0, NOMINAL_MACHINE)]).parameters[0]
    scattered = pool().arrays([Request(0, 93.0, 0.0, {"group_power": 1.0, "brew_power": 0.5})]).parameters[0]
    group = power_factor(nominal[at.P_GROUP_W], 1.0)
    for place in (at.P_GROUP_W, at.P_GROUP_GAIN):
        assert scattered[place] == pytest.approx(group * nominal[place])
    brew = power_factor(nominal[at.P_BREW_W], 0.5)
    for place in (at.P_BREW_W, at.P_BREW_GAIN, at.P_FEED_FORWARD):
        assert scattered[place] == pytest.approx(brew * nominal[place])
    for place in (at.P_STEAM_W, at.P_STEAM_GAIN, at.P_BREW_RESETS_A_S):
        assert scattered[place] == nominal[place]


def test_a_sensor_that_reads_too_much_makes_a_boiler_too_cold() -> None:
    before_shots_s = 250.0
    for name, sensor in (("brew_3", "brew_sensor"), ("steam", "steam_sensor"), ("group", "group_sensor")):
        true, wrong = (settled(**{sensor: error}) for error in (0.0, 0.5))
        difference = after(before_shots_s, name, wrong) - after(before_shots_s, name, true)
        assert difference == pytest.approx(-0.5, abs=0.02), name


def test_a_warm_room_and_thick_insulation_save_holding_power() -> None:
    hold = {
        label: ran(**values).out[0, at.O_HOLD_W]
        for label, values in {
            "nominal": {},
            "warm": {"ambient": 6.0},
            "leaky": {"insulation": 1.2},
            "tight": {"insulation": 0.8},
        }.items()
    }
    assert hold["warm"] < hold["nominal"]
    assert hold["tight"] < hold["nominal"] < hold["leaky"]


def test_the_room_is_where_a_cold_machine_starts() -> None:
    record = ran(ambient=-6.0).record
    assert node("portafilter", record)[0] == pytest.approx(NOMINAL.site.ambient_C - 6.0, abs=0.1)


def test_limescale_lies_on_every_element_and_on_the_whole_coil() -> None:
    network = pool().plants[0].network
    scale = 1e-4  # 0.1 mm at 1 W/mK [m2K/W]
    clean, scaled = (
        pool().arrays([Request(0, 93.0, 0.0, {"scale": value})]).numbers[0] for value in (0.0, scale)
    )
    for k, (carry, *_) in enumerate(network.links):
        added = scaled[k] - clean[k]
        if carry in (Carry.BATH, Carry.HEADER):
            assert added == pytest.approx([0.0, scale / clean[k, 0], 0.0])
        elif carry == Carry.SHEATH:
            assert added == pytest.approx([0.0, 0.0, scale / clean[k, 0]])
        else:
            assert not added.any()


def test_losses_and_coil_scale_with_their_factors_and_nothing_else() -> None:
    network = pool().plants[0].network
    clean = np.array(network.numbers)
    found = pool().arrays([Request(0, 93.0, 0.0, {"insulation": 1.2, "coil_conductance": 0.8})]).numbers[0]
    for k, (carry, a, b, _) in enumerate(network.links):
        if b == "casing":
            assert found[k] == pytest.approx(clean[k] * [1.2, 1.0, 1.0]), a
        elif carry in (Carry.BATH, Carry.HEADER) or (carry == Carry.FORCED and a.startswith("coil_")):
            assert found[k] == pytest.approx(clean[k] * [0.8, 1.25, 1.0]), a
        else:
            assert np.array_equal(found[k], clean[k]), (a, b)
