"""Designs by public names: defaults, masks, and every fault at once."""

from __future__ import annotations

import math

import pytest

from boilerfront.model.design import design_faults, read_design
from boilerfront.model.machine import Coil, Machine
from boilerfront.model.variables import VARIABLES, Value
from boilerfront.shared.errors import InputError

NUMBERS = {name: v for name, v in VARIABLES.items() if v.kind == "number" and name != "coil_outer_mm"}


def faults(values: dict[str, Value]) -> list[str]:
    with pytest.raises(InputError) as caught:
        read_design(values, Machine())
    return [fault.where for fault in caught.value.faults]


def test_an_empty_design_is_all_defaults() -> None:
    design = read_design({}, Machine())
    assert design.architecture == "dual_boiler"
    assert design.brew_m3 == pytest.approx(600e-6)
    assert design.steam_W == 1400.0
    assert design.insulation_m == pytest.approx(0.010)
    assert not design.feed_forward
    assert not design.saturated
    assert design.material == "stainless"


def test_every_fault_is_told_at_once() -> None:
    bad: dict[str, Value] = {
        "architecture": "kettle",
        "brew_volume_mL": 10.0,
        "steam_volume_mL": 1e9,
        "brew_power_W": math.nan,
        "steam_power_W": "much",
        "group_power_W": -1.0,
        "steam_set_point_C": math.inf,
        "control": "pd",
        "material": 3.0,
        "colour": "red",
    }
    assert sorted(faults(bad)) == sorted(bad)


@pytest.mark.parametrize(
    ("name", "end"),
    [
        (n, end)
        for n, v in VARIABLES.items()
        if v.kind == "number" and n != "coil_outer_mm"
        for end in (v.low, v.high)
    ],
)
def test_both_ends_of_every_range_are_allowed(name: str, end: float) -> None:
    read_design({"architecture": "dual_boiler_coil", name: end}, Machine())
    beyond = end - 1.0 if end == VARIABLES[name].low else end + 1.0
    assert [fault.where for fault in design_faults({name: beyond})] == [name]


def test_masked_variables_change_nothing() -> None:
    bare = read_design({"architecture": "dual_boiler"}, Machine())
    masked = {"coil_length_m": None, "coil_bore_mm": None, "coil_outer_mm": None}
    assert read_design({"architecture": "dual_boiler", **masked}, Machine()) == bare
    left_over = {"coil_length_m": 1.0, "coil_bore_mm": 8.0, "coil_outer_mm": 3.6}
    assert read_design({"architecture": "dual_boiler", **left_over}, Machine()) == bare
    assert (bare.coil_m, bare.coil_bore_m, bare.coil_outer_m) == (0.0, 0.0, 0.0)


def test_tube_is_the_bore_and_two_walls_unless_given() -> None:
    machine = Machine(coil=Coil(wall_mm=0.7))
    coil: dict[str, Value] = {"architecture": "dual_boiler_coil", "coil_bore_mm": 4.0}
    assert read_design(coil, machine).coil_outer_m == pytest.approx(5.4e-3)
    # EN 1057 copper tube 6 x 1 (from memory)
    assert read_design({**coil, "coil_material": "copper"}, machine).coil_outer_m == pytest.approx(6e-3)
    assert read_design({**coil, "coil_outer_mm": 6.0}, machine).coil_outer_m == pytest.approx(6e-3)


def test_a_tube_needs_a_wall() -> None:
    thin: dict[str, Value] = {"architecture": "dual_boiler_coil", "coil_bore_mm": 6.0, "coil_outer_mm": 6.1}
    assert faults(thin) == ["coil_outer_mm"]


def test_faults_name_what_is_allowed() -> None:
    found = design_faults({"control": "pd", "coil_length_m": 9.0})
    assert "pid, pid_ff" in str(found[1])
    assert "0.1 to 3 m" in str(found[0])


def test_defaults_lie_in_their_ranges() -> None:
    for variable in VARIABLES.values():
        if variable.kind == "choice":
            assert variable.default in variable.choices
        elif variable.default is not None:
            assert isinstance(variable.default, float)
            assert variable.low <= variable.default <= variable.high
