"""Vessels and elements as they are sized: walls, losses and loads against closed forms."""

from __future__ import annotations

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.model.laws.strength import hoop_stress
from boilerfront.model.machine import Elements, Vessels
from boilerfront.model.parts.element import Element, make_element, surface_load_W_cm2
from boilerfront.model.parts.vessel import Vessel, make_vessel


def vessel(
    diameter_m: float = 0.080,
    *,
    insulation_m: float = 0.010,
    valve_bar: float = 12.0,
    material: str = "stainless",
    data: Vessels | None = None,
) -> Vessel:
    return make_vessel(
        1.5 * pi / 4.0 * diameter_m**3,
        height_to_diameter=1.5,
        valve_bar=valve_bar,
        insulation_m=insulation_m,
        material=material,
        data=data or Vessels(),
    )


def test_wall_of_a_small_boiler() -> None:
    # ASME VIII-1 UG-27(c)(1) (formula from memory): 1.6 MPa, R 40 mm, S 115 MPa, E 0.70: 0.80463 mm
    made = vessel(valve_bar=16.0 / 1.1)
    assert made.diameter_m == pytest.approx(0.080)
    assert made.required_wall_m == pytest.approx(0.80463e-3, rel=1e-5)
    assert made.wall_m == pytest.approx(0.80463e-3, rel=1e-5)


def test_no_wall_is_thinner_than_a_workshop_welds() -> None:
    low = vessel(valve_bar=2.0)
    assert low.wall_m == pytest.approx(0.8e-3)
    assert low.required_wall_m < low.wall_m


@given(st.floats(0.04, 0.15), st.floats(0.5, 20.0), st.sampled_from(["stainless", "copper"]))
def test_hoop_stress_stays_below_what_weld_and_metal_bear(diameter: float, valve: float, metal: str) -> None:
    made = vessel(diameter, valve_bar=valve, material=metal)
    allowed = {"stainless": 115e6, "copper": 46e6}[metal] * 0.7
    stress = hoop_stress(1.1e5 * valve, mean_diameter_m=diameter + made.wall_m, wall_m=made.wall_m)
    assert stress <= 1.01 * allowed


def test_loss_through_the_shell_and_the_ends() -> None:
    # closed forms with k 0.05 W/mK and 12 W/m2K outside, radii 36.5 / 46.5 mm: 1.060972 m K/W over all layers,
    # of which water film (1000 W/m2K) and 1.5 mm of steel (k 15) are 0.004547 + 0.000445;
    # plane, per m2: 0.284433 m2K/W over all layers, of which 0.001 + 0.0001
    data = Vessels(
        minimum_wall_mm=1.5, insulation_conductivity_W_mK=0.05, outside_W_m2K=12.0, fittings_W_K=0.0
    )
    made = vessel(0.070, data=data)
    assert made.wall_m == pytest.approx(1.5e-3)
    shell = 0.105 / (1.060972 - 0.004547 - 0.000445)
    ends = 2.0 * pi * 0.0365**2 / (0.284433 - 0.0011)
    assert made.loss_W_K == pytest.approx(shell + ends, rel=1e-5)


@given(st.floats(0.05, 0.15), st.floats(0.0, 0.039))
def test_insulation_always_helps(diameter: float, thickness: float) -> None:
    # critical radius k / h = 0.038 / 9 = 4.2 mm, far inside any boiler
    thin, thick = vessel(diameter, insulation_m=thickness), vessel(diameter, insulation_m=thickness + 1e-3)
    assert thick.loss_W_K < thin.loss_W_K
    assert thick.outer_diameter_m > thin.outer_diameter_m


def test_surface_load_at_its_worst() -> None:
    # arithmetic: 1200 W on 8 mm x 0.6 m are 150.8 cm2, 7.958 W/cm2; +5 % by IEC 60335-1 (from memory),
    # +10 % mains gives 1.21: 10.11 W/cm2
    element = Element(1200.0, 0.6, pi * 8e-3 * 0.6, 90.0, 2.0)
    assert surface_load_W_cm2(element, 1.1) == pytest.approx(1200.0 / 150.796 * 1.05 * 1.21, rel=1e-4)
    # below 400 W the deviation allowed is 20 W: 300 W may draw 320 W
    small = Element(300.0, 0.6, pi * 8e-3 * 0.6, 90.0, 1.0)
    assert surface_load_W_cm2(small, 1.0) == pytest.approx(320.0 / 150.796, rel=1e-4)


@given(st.floats(200.0, 3000.0), st.floats(0.05, 0.15))
def test_an_element_is_as_long_as_its_load_asks_or_as_fits(power: float, diameter: float) -> None:
    made = make_element(power, vessel(diameter), 0.35, Elements())
    load = power / made.area_m2 * 1e-4
    assert load >= 7.0 - 1e-9
    assert made.area_m2 == pytest.approx(pi * 8e-3 * made.length_m)
    longer = make_element(power, vessel(1.1 * diameter), 0.35, Elements())
    assert longer.length_m >= made.length_m
