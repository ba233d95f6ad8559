"""Effects of variables and tolerances against plain evaluations of both ends, moves that stay in their ranges."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boilerfront.model import OBJECTIVES, VARIABLES, evaluate_many
from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.brief import Brief
from boilerfront.model.design import design_faults, read_design
from boilerfront.model.kernel import layout as at
from boilerfront.model.runs import Pool, Request
from boilerfront.model.sensitivity import (
    Effect,
    Reach,
    Sensitivity,
    neighbours,
    tolerance_effects,
    variable_effects,
)
from boilerfront.model.site import Site
from boilerfront.model.tolerances import NOMINAL as NOMINAL_MACHINE
from boilerfront.model.tolerances import Tolerances, TrimRule, ends
from boilerfront.shared.errors import InputError
from tests.model.random_designs import BOOK, NOMINAL, Design, number

BRIEF = Brief(prices=BOOK, tolerances=Tolerances(samples=8))
DESIGN: Design = {"architecture": "dual_boiler_coil", "brew_power_W": 900.0, "coil_length_m": 0.5}
REACH: dict[str, Reach] = {
    "brew_power_W": (850.0, 1500.0),
    "control": ("pid", "pid_ff"),
    "coil_length_m": (0.2, 1.0),
}


@cache
def by_variables() -> Sensitivity:
    """Return the effects of the variables."""
    return variable_effects(DESIGN, BRIEF)


@cache
def by_tolerances() -> Sensitivity:
    """Return the effects of the tolerances."""
    return tolerance_effects(DESIGN, BRIEF)[""]


def one(found: Sensitivity, name: str, after: float | str) -> Effect:
    (effect,) = [each for each in found.effects if each.name == name and each.after == after]
    return effect


def test_a_variable_s_effect_is_the_difference_of_two_evaluations() -> None:
    for name, after in (("brew_power_W", 800.0), ("coil_length_m", 0.7), ("control", "pid_ff")):
        was, now = evaluate_many([DESIGN, {**DESIGN, name: after}], BRIEF)
        effect = one(by_variables(), name, after)
        for column in (*OBJECTIVES, "holding_power_W"):
            assert effect.changes[column] == number(now, column) - number(was, column)
        margins = [key for key in was if key.startswith("margin_")]
        broken = {key for key in margins if number(was, key) >= 0.0 > number(now, key)}
        assert set(effect.broken) == broken
        assert all(missing == -number(now, key) for key, missing in effect.broken.items())


def test_a_margin_that_breaks_is_named_with_what_is_missing() -> None:
    # past its optimum the coil heats the refill above the set-point: nothing can cool it
    effect = one(by_variables(), "coil_length_m", 0.7)
    assert effect.broken["margin_overshoot_K"] > 0.0


def test_steps_stay_in_the_reach_and_choices_are_flipped() -> None:
    moves = neighbours(DESIGN, REACH)
    by_name: dict[str, list[object]] = {}
    for name, _, after in moves:
        by_name.setdefault(name, []).append(after)
    assert by_name["brew_power_W"] == [850.0, 1000.0], "clipped at the sweep's low end"
    assert by_name["coil_length_m"] == pytest.approx([0.3, 0.7])
    assert by_name["control"] == ["pid_ff"]
    assert by_name["steam_power_W"] == [1300.0, 1500.0], "a variable without a reach goes as far as the model"
    assert "architecture" not in by_name


def test_what_an_architecture_lacks_is_not_moved() -> None:
    names = {name for name, _, _ in neighbours({"architecture": "dual_boiler"})}
    assert names <= set(ARCHITECTURES["dual_boiler"].variables)
    assert not any(name.startswith("coil") for name in names)


def test_at_an_end_there_is_one_way() -> None:
    assert [after for name, _, after in neighbours({"group_power_W": 0.0}) if name == "group_power_W"] == [
        50.0
    ]
    top = [
        after
        for name, _, after in neighbours(DESIGN, {"brew_power_W": (500.0, 901.0)})
        if name == "brew_power_W"
    ]
    assert top == [800.0], "one watt is no move"


@given(
    st.sampled_from(
        [name for name, each in VARIABLES.items() if each.kind == "number" and each.architectures]
    ),
    st.floats(0.0, 1.0),
    st.floats(0.0, 1.0),
    st.floats(0.0, 1.0),
)
@settings(max_examples=150, deadline=None)
def test_every_move_is_a_design_within_reach(name: str, at_: float, a: float, b: float) -> None:
    variable = VARIABLES[name]
    span = variable.high - variable.low
    value = variable.low + at_ * span
    low, high = sorted((variable.low + a * span, variable.low + b * span))
    architecture = variable.architectures[-1]
    design: Design = {"architecture": architecture, name: value}
    for moved, before, after in neighbours(design, {name: (low, high)}):
        assert not design_faults({moved: after})
        if moved == name:
            assert before == value
            assert isinstance(after, float)
            assert low <= after <= high


def test_a_tolerance_s_effect_is_the_difference_of_two_runs() -> None:
    (nominal,) = evaluate_many([DESIGN], NOMINAL)
    read = read_design(DESIGN, BRIEF.machine)
    pool = Pool([ARCHITECTURES[read.architecture].build(read, BRIEF)], BRIEF)
    offset = number(nominal, "trim_offset_K")
    for name, (low, high) in ends(BRIEF.tolerances, BRIEF.site, BRIEF.trim).items():
        for end in {low, high} - {NOMINAL_MACHINE.get(name)}:
            ran = pool.run([Request(0, 93.0, offset, {**NOMINAL_MACHINE, name: end})])
            change = float(ran.out[0, at.O_READY_S]) - number(nominal, "warm_up_s")
            found = [each for each in by_tolerances().effects if (each.name, each.after) == (name, end)]
            assert [each.changes["warm_up_s"] for each in found] == [
                pytest.approx(change, abs=1e-9)
            ] or not found
            assert found or change == 0.0, "left out is only what changes nothing"


def test_low_mains_warm_up_later_and_a_cold_room_costs_energy() -> None:
    assert one(by_tolerances(), "mains", 0.9).changes["warm_up_s"] > 20.0
    assert one(by_tolerances(), "ambient", -6.0).changes["energy_kWh_day"] > 0.0
    assert all(each.changes["part_cost"] == 0.0 for each in by_tolerances().effects)


def test_the_wider_sensor_of_a_trim_by_model_hurts_more() -> None:
    by_model = tolerance_effects(DESIGN, BRIEF.model_copy(update={"trim": TrimRule(by="model")}))[""]
    unit, model = one(by_tolerances(), "brew_sensor", 0.15), one(by_model, "brew_sensor", 0.5)
    assert model.changes["shot_deviation_K"] > unit.changes["shot_deviation_K"] > 0.0


def test_a_design_without_coil_knows_no_coil_tolerance() -> None:
    found = tolerance_effects({"architecture": "dual_boiler"}, BRIEF)[""]
    assert not {each.name for each in found.effects} & {"coil_conductance", "coil_immersed"}


def test_a_design_that_never_gets_ready_has_a_reason_and_its_mended_neighbours() -> None:
    # 1450 W at 120 V are more than the socket's 12 A: the element never gets its turn
    brief = NOMINAL.model_copy(update={"site": Site(voltage_V=120.0, current_limit_A=12.0)})
    strong: Design = {"steam_power_W": 1450.0}
    found = variable_effects(strong, brief)
    assert found.row["reason"] is not None
    assert one(found, "steam_power_W", 1350.0).reason is None
    assert one(found, "steam_power_W", 1550.0).reason is not None
    machines = tolerance_effects(strong, brief)[""]
    assert (machines.row["reason"], machines.effects) == (found.row["reason"], [])


def test_over_several_sites_powers_move_at_one_and_tolerances_at_each() -> None:
    sites = {"eu": Site(), "us": Site(voltage_V=120.0, current_limit_A=12.0, mains_tolerance=0.05)}
    platform = Brief(prices=BOOK, tolerances=Tolerances(samples=0), sites=sites)
    design: Design = {"brew_power_W@eu": 900.0, "brew_power_W@us": 700.0, "steam_power_W": 1200.0}
    names = [name for name, _, _ in neighbours(design)]
    assert names.count("brew_power_W@us") == 2
    assert "brew_power_W" not in names
    found = tolerance_effects(design, platform)
    assert list(found) == ["eu", "us"]
    assert one(found["us"], "mains", 0.95).changes["warm_up_s"] > 0.0


def test_no_design_is_refused() -> None:
    with pytest.raises(InputError):
        tolerance_effects({"brew_power_W": 1e6}, BRIEF)
    with pytest.raises(InputError):
        variable_effects({"boiler": 3.0}, BRIEF)
