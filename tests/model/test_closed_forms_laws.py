"""Exchanger effectiveness and wall thicknesses against closed forms and ht."""

import math

import ht
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.model.laws import strength
from boilerfront.model.laws.closed_forms import effectiveness_isothermal


@pytest.mark.parametrize(
    ("UA", "mass_flow_kg_s", "T_bath_C", "effectiveness", "T_out_C"),
    [  # E01-E04: c_p 4186 J/kgK, inlet 20 degC
        (12.0, 0.0025, 125.0, 0.682310, 91.6426),
        (25.0, 0.0025, 125.0, 0.908271, 115.3684),
        (12.0, 0.0100, 125.0, 0.249240, 46.1702),
        (6.0, 0.0020, 93.0, 0.511626, 57.3487),
    ],
)
def test_coil_in_an_isothermal_bath(
    UA: float, mass_flow_kg_s: float, T_bath_C: float, effectiveness: float, T_out_C: float
) -> None:
    here = effectiveness_isothermal(UA / (mass_flow_kg_s * 4186.0))
    assert here == pytest.approx(effectiveness, abs=1e-6)
    assert 20.0 + here * (T_bath_C - 20.0) == pytest.approx(T_out_C, abs=1e-4)


@given(st.floats(0.0, 50.0))
def test_effectiveness_is_the_library_s(NTU: float) -> None:
    there = ht.hx.effectiveness_from_NTU(NTU=NTU, Cr=0.0)  # type: ignore[no-untyped-call]
    assert effectiveness_isothermal(NTU) == pytest.approx(there, rel=1e-9, abs=1e-15)


@given(st.floats(0.0, 1e4), st.floats(0.0, 1e4))
def test_effectiveness_rises_from_0_to_1(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert 0.0 <= effectiveness_isothermal(low) <= effectiveness_isothermal(high) <= 1.0


def test_hoop_stress() -> None:
    assert strength.hoop_stress(1.2e6, mean_diameter_m=0.080, wall_m=0.0015) == pytest.approx(32e6)  # E39


def test_shell_wall() -> None:
    # E41: ASME VIII-1 UG-27(c)(1), 100 psi, R 48 in, S 20000 psi, E 0.85, any one set of units
    wall_in = strength.shell_wall(100.0, inner_radius_m=48.0, stress_Pa=20000.0, joint=0.85)
    assert wall_in == pytest.approx(0.283353, rel=1e-5)
    # E42: 1.6 MPa, R 40 mm, S 115 MPa, E 0.70
    wall_m = strength.shell_wall(1.6e6, inner_radius_m=0.040, stress_Pa=115e6, joint=0.70)
    assert wall_m == pytest.approx(0.80463e-3, rel=1e-5)
    assert strength.hoop_stress(1.6e6, mean_diameter_m=0.08 + wall_m, wall_m=wall_m) <= 115e6 * 0.7 * 1.01


def test_dished_end_is_near_its_shell() -> None:
    # p D / (2 S E - 0.2 p): 2 R / (2 S E) = R / (S E), as the shell but for the small terms
    end = strength.dished_end_wall(1.6e6, inner_diameter_m=0.080, stress_Pa=115e6, joint=0.70)
    assert end == pytest.approx(1.6e6 * 0.080 / (2 * 115e6 * 0.70 - 0.2 * 1.6e6), rel=1e-12)
    shell = strength.shell_wall(1.6e6, inner_radius_m=0.040, stress_Pa=115e6, joint=0.70)
    assert end == pytest.approx(shell, rel=0.02)


def test_flat_end_wall() -> None:
    # E43: clamped plate, 1.2 MPa, R 40 mm, t 4 mm: 90 MPa
    assert strength.flat_end_wall(1.2e6, inner_radius_m=0.040, stress_Pa=90e6) == pytest.approx(0.004)


@given(st.floats(0.0, 3e6), st.floats(0.0, 3e6))
def test_more_pressure_never_needs_less_wall(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert strength.shell_wall(low, inner_radius_m=0.04, stress_Pa=115e6, joint=0.7) <= strength.shell_wall(
        high, inner_radius_m=0.04, stress_Pa=115e6, joint=0.7
    )
    assert strength.flat_end_wall(low, inner_radius_m=0.04, stress_Pa=115e6) <= strength.flat_end_wall(
        high, inner_radius_m=0.04, stress_Pa=115e6
    )


def test_no_wall_without_pressure_and_none_is_enough_beyond_the_rule() -> None:
    for p in (0.0, -1e5):
        assert strength.shell_wall(p, inner_radius_m=0.04, stress_Pa=115e6, joint=0.7) == 0.0
        assert strength.dished_end_wall(p, inner_diameter_m=0.08, stress_Pa=115e6, joint=0.7) == 0.0
        assert strength.flat_end_wall(p, inner_radius_m=0.04, stress_Pa=115e6) == 0.0
    too_much = 0.386 * 115e6 * 0.7
    assert strength.shell_wall(too_much, inner_radius_m=0.04, stress_Pa=115e6, joint=0.7) == math.inf
    assert strength.dished_end_wall(too_much, inner_diameter_m=0.08, stress_Pa=115e6, joint=0.7) == math.inf
