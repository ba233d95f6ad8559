"""A design in a workshop's words is the design that is simulated."""

from __future__ import annotations

from math import pi

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boilerfront.model import evaluate_many
from boilerfront.model.describe import WAY, describe
from boilerfront.model.variables import FAMILIES
from tests.model.random_designs import NOMINAL, random_designs

KINDS = ("dual_boiler", "dual_boiler_coil")


@pytest.mark.parametrize("kind", KINDS)
def test_sizes_currents_and_costs_fit_together(kind: str) -> None:
    site = NOMINAL.site
    for design in random_designs(20, 3, architecture=kind):
        found = describe(design, NOMINAL, offset_K=0.4)
        for body in found.bodies:
            assert body.volume_mL == pytest.approx(pi / 4 * body.diameter_mm**2 * body.height_mm * 1e-3)
            assert body.outer_diameter_mm == pytest.approx(
                body.diameter_mm + 2 * (body.wall_mm + body.insulation_mm)
            )
            assert body.wall_mm >= body.required_wall_mm
        assert (found.tube is not None) == ("coil" in found.way) == (kind == "dual_boiler_coil")
        if found.tube is not None:
            assert found.tube.length_mm == pytest.approx(found.tube.turns * pi * found.tube.centreline_mm)
            assert found.tube.centreline_mm + found.tube.outer_mm < found.bodies[-1].diameter_mm
        for heater in found.heaters:
            assert heater.current_A * site.voltage_V == pytest.approx(heater.power_W)
            assert heater.resistance_ohm * heater.current_A == pytest.approx(site.voltage_V)
            assert heater.highest_current_A > heater.current_A * (1.0 + site.mains_tolerance)
        assert [each.priority for each in found.controls] == [1, 2, 3]
        assert found.controls[0].set_point_C == pytest.approx(93.4)
        assert found.controls[2].set_point_C == design["steam_set_point_C"]


def test_the_way_of_the_water() -> None:
    (plain,) = random_designs(1, 1, architecture="dual_boiler")
    (coil,) = random_designs(1, 1, architecture="dual_boiler_coil")
    assert describe(plain, NOMINAL, offset_K=0.0).way == ("inlet", "brew", "group")
    assert describe(coil, NOMINAL, offset_K=0.0).way == ("inlet", "coil", "brew", "group")


@pytest.mark.parametrize("kind", list(FAMILIES))
def test_every_architecture_can_be_described(kind: str) -> None:
    found = describe({"architecture": kind}, NOMINAL, offset_K=1.5)
    assert found.way[0] == "inlet"
    assert found.way[-1] == "group"
    assert set(found.way) <= set(WAY.values())
    assert (found.block is not None) == (kind == "thermoblock")
    assert (found.loop is not None) == (kind == "heat_exchanger")
    assert (found.swings_to_C is not None) == (kind in ("thermoblock", "single_boiler"))
    assert (found.flush_mL is not None) == (kind in ("thermoblock", "single_boiler", "heat_exchanger"))
    trimmed = next(each for each in found.controls if each.name == found.trimmed)
    assert trimmed.set_point_C == found.user_set_point_C + 1.5
    assert sum(each.steams for each in found.bodies) == (kind != "thermoblock")


@pytest.mark.parametrize("group_W", [0.0, 150.0])
@pytest.mark.parametrize("kind", list(FAMILIES))
def test_every_heated_body_has_its_element_sensor_and_cut_out_on_the_bill(kind: str, group_W: float) -> None:
    found = describe({"architecture": kind, "group_power_W": group_W}, NOMINAL, offset_K=0.0)
    heated = sorted(heater.name for heater in found.heaters)
    assert ("group" in heated) == (group_W > 0.0)
    for item in ("element", "sensor", "thermal_cut_out"):
        assert sorted(line.of for line in found.lines if line.item == item) == heated, item
    assert all(line.quantity == 1.0 for line in found.lines if line.item == "thermal_cut_out")


def test_an_unheated_group_has_no_heater_and_no_loop() -> None:
    (design,) = random_designs(1, 1, architecture="dual_boiler", heated=False)
    found = describe(design, NOMINAL, offset_K=0.0)
    assert [each.name for each in found.heaters] == ["brew", "steam"]
    assert [each.priority for each in found.controls] == [1, 3]


@given(seed=st.integers(0, 1000))
@settings(max_examples=5, deadline=None)
def test_what_is_described_is_what_is_rated(seed: int) -> None:
    (design,) = random_designs(1, seed, architecture="dual_boiler_coil")
    row = evaluate_many([design], NOMINAL)[0]
    if row["reason"] is not None:
        return
    found = describe(design, NOMINAL, offset_K=float(row["trim_offset_K"] or 0.0))
    assert sum(line.cost for line in found.lines) == row["part_cost"]
    assert found.assembly.cost == row["assembly_cost"]
    assert found.mass_kg == row["mass_kg"]
    highest = max(heater.highest_load_W_cm2 or 0.0 for heater in found.heaters)
    limit = NOMINAL.limits.watt_density_W_cm2
    assert row["margin_watt_density_W_cm2"] == pytest.approx(limit - highest)
