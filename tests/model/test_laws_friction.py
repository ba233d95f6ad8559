"""Friction inside tubes against fluids over the range, and for steps between regimes.

Published values stand in the table of `make validate`, tests/validate/published.
"""

from functools import partial

import fluids
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.model.laws import friction
from boilerfront.model.props import water
from tests.model.scan import assert_continuous, assert_rising

curvatures = st.floats(0.01, 0.2)


@given(st.floats(4000.0, 1e6))
def test_straight_tube_lies_near_colebrook(Re: float) -> None:
    # Colebrook's smooth tube by fluids; 10 % between authors
    assert friction.friction_straight(Re) == pytest.approx(fluids.friction_factor(Re=Re, eD=0.0), rel=0.03)


@given(st.floats(1.0, 2300.0))
def test_laminar_straight_tube_is_the_library_s(Re: float) -> None:
    assert friction.friction_straight(Re) == pytest.approx(fluids.friction_laminar(Re), rel=1e-12)


@given(st.floats(1.0, 22000.0), curvatures)
def test_laminar_coil_is_the_library_s(Re: float, d_over_D: float) -> None:
    there = fluids.helical_laminar_fd_White(Re=Re, Di=d_over_D, Dc=1.0)
    assert friction.friction_helical_laminar(Re, d_over_D) == pytest.approx(there, rel=1e-9)


@given(st.floats(22000.0, 1.5e5), st.floats(0.02, 0.2))
def test_turbulent_coil_is_the_library_s(Re: float, d_over_D: float) -> None:
    there = fluids.helical_turbulent_fd_Mori_Nakayama(Re=Re, Di=d_over_D, Dc=1.0)
    assert friction.friction_helical(Re, d_over_D) == pytest.approx(there, rel=1e-9)


@given(st.floats(1.0, 2300.0) | st.floats(22000.0, 1.5e5), curvatures)
def test_coiling_adds_friction_where_both_tubes_flow_alike(Re: float, d_over_D: float) -> None:
    # Between, the straight tube is turbulent already and the coil, still laminar, may rub less.
    straight = friction.friction_straight(Re)
    assert friction.friction_helical(Re, d_over_D) >= straight * (1.0 - 1e-12)


def test_pressure_drop_of_a_straight_tube_is_hagen_poiseuille_s() -> None:
    m, d, L, T = 0.001, 0.004, 2.0, 60.0
    there = 128.0 * water.viscosity(T) * L * m / (water.density(T) * 3.141592653589793 * d**4)
    assert friction.tube_pressure_drop(m, d, L, 0.0, T) == pytest.approx(there, rel=1e-12)
    assert friction.tube_pressure_drop(0.0, d, L, 0.0, T) == 0.0
    assert friction.tube_pressure_drop(0.0, d, L, 0.08, T) == 0.0


@pytest.mark.parametrize("d_over_D", [0.0, 0.01, 0.05, 0.08, 0.2])
@pytest.mark.parametrize("T_C", [15.0, 60.0, 120.0])
def test_pressure_drop_rises_with_flow_and_has_no_step(d_over_D: float, T_C: float) -> None:
    law = partial(_drop, d_over_D=d_over_D, T_C=T_C)
    assert_rising(law, low=0.0, high=0.03)
    assert_continuous(law, low=0.0, high=0.03)


def _drop(mass_flow_kg_s: float, *, d_over_D: float, T_C: float) -> float:
    return friction.tube_pressure_drop(mass_flow_kg_s, 0.004, 1.5, d_over_D, T_C)


@pytest.mark.parametrize("Re", [5.0, 30.0, 41.0, 500.0, 3000.0, 8648.0, 15000.0, 25000.0])
def test_friction_has_no_step(Re: float) -> None:
    assert_continuous(lambda d_over_D: friction.friction_helical(Re, d_over_D), low=0.01, high=0.2)
    assert_continuous(lambda step: friction.friction_helical(Re + step, 0.08), low=0.0, high=5000.0)
    assert_continuous(lambda step: friction.friction_straight(Re + step), low=0.0, high=5000.0)
