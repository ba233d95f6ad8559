"""Vessels and elements as they are sized: walls, losses and loads against closed forms."""

from __future__ import annotations

from math import hypot, pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.model.laws.strength import flat_end_wall, hoop_stress, shell_wall
from boilerfront.model.machine import Casing, Elements, Stainless, Vessels
from boilerfront.model.parts.element import Element, make_element, surface_load_W_cm2
from boilerfront.model.parts.envelope import Packed, packing_slack_mm
from boilerfront.model.parts.vessel import MATERIALS, Vessel, make_vessel
from boilerfront.model.variables import VARIABLES


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


def test_shell_of_the_code_s_example() -> None:
    # E41: 100 psi, R 48 in, S 20000 psi, E 0.85: 0.283353 in
    psi, inch = 6894.757, 0.0254
    wall = shell_wall(100.0 * psi, inner_radius_m=48.0 * inch, stress_Pa=20000.0 * psi, joint=0.85)
    assert wall / inch == pytest.approx(0.283353, rel=1e-5)


def test_flat_end_as_a_clamped_plate() -> None:
    # E43: 1.2 MPa, R 40 mm, 4 mm: 90 MPa at the edge
    assert flat_end_wall(1.2e6, inner_radius_m=0.040, stress_Pa=90e6) == pytest.approx(4e-3, rel=1e-12)
    made = vessel(valve_bar=12.0 / 1.1, data=Vessels(ends="flat", stainless=Stainless(stress_MPa=90.0)))
    assert made.end_wall_m == made.required_end_wall_m == pytest.approx(4e-3)


metals = st.sampled_from(sorted(MATERIALS))


@given(st.floats(0.04, 0.15), st.floats(0.5, 20.0), metals)
def test_hoop_stress_stays_below_what_seam_and_metal_bear(
    diameter: float, valve: float, material: str
) -> None:
    made = vessel(diameter, valve_bar=valve, material=material)
    metal = Vessels().metal(material)
    stress = hoop_stress(1.1e5 * valve, mean_diameter_m=diameter + made.wall_m, wall_m=made.wall_m)
    assert stress <= 1.02 * 1e6 * metal.stress_MPa * metal.joint  # at mean diameter the code's 0.6 p is 0.5 p
    assert made.wall_slack_m >= 0.0
    assert made.wall_m >= 1e-3 * metal.minimum_wall_mm


def test_every_material_of_a_design_is_known() -> None:
    assert set(VARIABLES["material"].choices) == set(MATERIALS)


@given(st.floats(0.04, 0.15), st.floats(0.5, 20.0), metals, st.sampled_from(["dished", "flat"]))
def test_a_thicker_wall_is_heavier_and_never_weaker(d: float, valve: float, metal: str, ends: str) -> None:
    data = Vessels.model_validate({"ends": ends})
    thin = vessel(d, valve_bar=valve, material=metal, data=data)
    given_mm = 1e3 * thin.wall_m + 0.5
    thick = vessel(d, valve_bar=valve, material=metal, data=data.model_copy(update={"wall_mm": given_mm}))
    assert thick.wall_m == pytest.approx(thin.wall_m + 0.5e-3)
    assert thick.mass_kg > thin.mass_kg
    assert thick.heat_capacity_J_K > thin.heat_capacity_J_K
    assert thick.along_wall_Wm_K > thin.along_wall_Wm_K
    assert thick.wall_slack_m >= thin.wall_slack_m
    assert thick.outer_diameter_m > thin.outer_diameter_m


def test_a_given_wall_may_be_too_thin() -> None:
    # E42: 0.80463 mm needed at 16 bar
    thin = vessel(0.160, valve_bar=16.0 / 1.1, data=Vessels(wall_mm=1.0))
    assert thin.wall_slack_m == pytest.approx(1e-3 - 2.0 * 0.80463e-3, abs=1e-8)


def test_flat_ends_are_thicker_and_heavier_but_lower() -> None:
    dished, flat = vessel(), vessel(data=Vessels(ends="flat"))
    assert flat.end_wall_m > 3.0 * dished.end_wall_m
    assert flat.wall_m <= dished.wall_m
    assert flat.mass_kg > dished.mass_kg
    # 2:1 ends: two of depth D/4 that hold as much as D/3 of the cylinder
    bulge = 2.0 * 0.080 / 4.0 - 0.080 / 3.0
    ends = 2.0 * (dished.end_wall_m - flat.end_wall_m)
    assert dished.outer_height_m - flat.outer_height_m == pytest.approx(bulge + ends)


def test_conduction_along_the_wall_follows_the_metal() -> None:
    # E24: k A / L; stainless k 15 against brass k 115 conduct as 0.15 to 1.15. Here per metre of shell, by wall
    made = {metal: vessel(material=metal) for metal in MATERIALS}
    for metal, one in made.items():
        per_area = one.along_wall_Wm_K / (pi * one.diameter_m * one.wall_m)
        assert per_area == pytest.approx(MATERIALS[metal].conductivity_W_mK)
    assert made["copper"].along_wall_Wm_K > 20.0 * made["stainless"].along_wall_Wm_K
    assert made["stainless"].along_wall_Wm_K < made["lead_free_brass"].along_wall_Wm_K


def body(diameter_m: float, height_m: float, *, is_round: bool = True) -> Packed:
    return Packed(diameter_m, diameter_m, height_m, 0.0, is_round)


CAVITY = Casing(width_mm=200.0, depth_mm=300.0, height_mm=250.0)


def test_two_vessels_stand_in_opposite_corners() -> None:
    # centres 200 - 110 and 300 - 110 mm apart across and along: by hand
    slack = packing_slack_mm([body(0.120, 0.200), body(0.100, 0.180)], CAVITY)
    assert slack == pytest.approx(min(250.0 - 200.0, 200.0 - 120.0, hypot(90.0, 190.0) - 110.0))
    tight = packing_slack_mm([body(0.150, 0.200), body(0.150, 0.180)], CAVITY)
    assert tight == pytest.approx(hypot(50.0, 150.0) - 150.0)


def test_one_body_and_three() -> None:
    assert packing_slack_mm([body(0.120, 0.240)], CAVITY) == pytest.approx(10.0)
    assert packing_slack_mm([body(0.090, 0.100)] * 3, CAVITY) == pytest.approx(300.0 - 270.0)


def test_blocks_have_corners() -> None:
    blocks = [body(0.150, 0.200, is_round=False), body(0.140, 0.180)]
    assert packing_slack_mm(blocks, CAVITY) == pytest.approx(300.0 - 290.0)


@given(st.floats(0.02, 0.25), st.floats(0.02, 0.25), st.floats(0.05, 0.4))
def test_two_vessels_that_fit_do_not_overlap(one: float, other: float, height: float) -> None:
    bodies = [body(one, height), body(other, height)]
    slack = packing_slack_mm(bodies, CAVITY)
    assert slack == packing_slack_mm(bodies[::-1], CAVITY)
    if slack >= 0.0:
        across, along = 0.200 - (one + other) / 2, 0.300 - (one + other) / 2
        assert hypot(across, along) >= (one + other) / 2 - 1e-12
        assert max(one, other) <= 0.200
        assert height <= 0.250
    grown = packing_slack_mm([body(one + 1e-3, height), body(other, height)], CAVITY)
    assert slack - 2.0 <= grown <= slack + 1e-9


def test_loss_through_the_shell_and_the_ends() -> None:
    # closed forms with k 0.05 W/mK and 12 W/m2K outside, radii 36.5 / 46.5 mm: 1.060972 m K/W over all layers,
    # of which water film (1000 W/m2K) and 1.5 mm of steel (k 15) are 0.004547 + 0.000445;
    # plane, per m2: 0.284433 m2K/W over all layers, of which 0.001 + 0.0001
    data = Vessels(wall_mm=1.5, insulation_conductivity_W_mK=0.05, outside_W_m2K=12.0, fittings_W_K=0.0)
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
