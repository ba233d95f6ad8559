"""Friction inside tubes against fluids, and for steps between regimes."""

from functools import partial

import fluids
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.model.laws import friction
from boilerfront.model.props import water
from tests.model.scan import assert_continuous, assert_rising

curvatures = st.floats(0.01, 0.2)


@pytest.mark.parametrize(
    ("Re", "fd"),
    [  # C03: 64/Re; T03-T09: Konakov
        (1000.0, 0.064),
        (4000.0, 0.040262),
        (5000.0, 0.037585),
        (6000.0, 0.035591),
        (8000.0, 0.032753),
        (10000.0, 0.030779),
        (15000.0, 0.027621),
        (20000.0, 0.025667),
    ],
)
def test_straight_tube(Re: float, fd: float) -> None:
    assert friction.friction_straight(Re) == pytest.approx(fd, abs=6e-7)


@given(st.floats(4000.0, 1e6))
def test_straight_tube_lies_near_colebrook(Re: float) -> None:
    # Colebrook's smooth tube by fluids; 10 % between authors
    assert friction.friction_straight(Re) == pytest.approx(fluids.friction_factor(Re=Re, eD=0.0), rel=0.03)


@given(st.floats(1.0, 2300.0))
def test_laminar_straight_tube_is_the_library_s(Re: float) -> None:
    assert friction.friction_straight(Re) == pytest.approx(fluids.friction_laminar(Re), rel=1e-12)


@pytest.mark.parametrize(
    ("Re", "white", "mori_nakayama", "schmidt"),
    [  # H20-H23, d 4 mm, D 50 mm: fluids.helical_laminar_fd_*
        (500.0, 0.219986, 0.226298, 0.253286),
        (1000.0, 0.141367, 0.144122, 0.166269),
        (2000.0, 0.092497, 0.095222, 0.115481),
        (4000.0, 0.061273, 0.064346, 0.084144),
    ],
)
def test_laminar_coil(Re: float, white: float, mori_nakayama: float, schmidt: float) -> None:
    here = friction.friction_helical(Re, 0.08)
    assert here == pytest.approx(white, abs=6e-7)
    assert here == pytest.approx(mori_nakayama, rel=0.05)
    assert here == pytest.approx(schmidt, rel=0.4)


@pytest.mark.parametrize(
    ("Re", "mori_nakayama", "mandal_nigam", "guo"),
    [  # H28-H31, d 4 mm, D 50 mm, smooth: fluids.friction_factor_curved
        (8000.0, 0.040589, 0.040706, 0.045702),
        (12000.0, 0.037286, 0.037374, 0.043005),
        (22000.0, 0.032860, 0.033313, 0.039267),
        (30000.0, 0.030809, 0.031585, 0.037482),
    ],
)
def test_turbulent_coil(Re: float, mori_nakayama: float, mandal_nigam: float, guo: float) -> None:
    assert friction.friction_helical_turbulent(Re, 0.08) == pytest.approx(mori_nakayama, abs=6e-7)
    here = friction.friction_helical(Re, 0.08)
    assert here == pytest.approx(mandal_nigam, rel=0.1)
    assert here == pytest.approx(guo, rel=0.25)


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


def test_pressure_drop_of_a_coil() -> None:
    # E38: 2.5 g/s, 60 degC, 10 bar, d 4 mm, L 1.5 m, D 50 mm, White by fluids: Re 1706.8, 768.01 Pa
    assert friction.friction_helical(1706.8, 0.08) == pytest.approx(0.101794, rel=1e-4)
    here = friction.tube_pressure_drop(0.0025, 0.004, 1.5, 0.08, 60.0)
    assert here == pytest.approx(768.01, rel=1e-3)  # density and viscosity of the saturated liquid


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
