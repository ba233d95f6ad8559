"""Exchanger effectiveness and wall thicknesses: order, limits, ht over the range.

Published values stand in the table of `make validate`, tests/validate/published.
"""

import math

import ht
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.model.laws import strength
from boilerfront.model.laws.closed_forms import effectiveness_isothermal


@given(st.floats(0.0, 50.0))
def test_effectiveness_is_the_library_s(NTU: float) -> None:
    there = ht.hx.effectiveness_from_NTU(NTU=NTU, Cr=0.0)  # type: ignore[no-untyped-call]
    assert effectiveness_isothermal(NTU) == pytest.approx(there, rel=1e-9, abs=1e-15)


@given(st.floats(0.0, 1e4), st.floats(0.0, 1e4))
def test_effectiveness_rises_from_0_to_1(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert 0.0 <= effectiveness_isothermal(low) <= effectiveness_isothermal(high) <= 1.0


def test_dished_end_is_near_its_shell() -> None:
    # p D / (2 S E - 0.2 p): 2 R / (2 S E) = R / (S E), as the shell but for the small terms
    end = strength.dished_end_wall(1.6e6, inner_diameter_m=0.080, stress_Pa=115e6, joint=0.70)
    assert end == pytest.approx(1.6e6 * 0.080 / (2 * 115e6 * 0.70 - 0.2 * 1.6e6), rel=1e-12)
    shell = strength.shell_wall(1.6e6, inner_radius_m=0.040, stress_Pa=115e6, joint=0.70)
    assert end == pytest.approx(shell, rel=0.02)


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
