"""Condensation, boiling and blowing steam against ht and CoolProp over the range, and for steps.

Published values stand in the table of `make validate`, tests/validate/published.
"""

import math

import ht
import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.model.laws import phase
from boilerfront.model.props import water
from tests.model.scan import assert_continuous, assert_rising

PLATE_TO_TUBE = 0.729 / (2.0 * math.sqrt(2.0) / 3.0)  # ht's law is the plate's, 0.9428

saturation = st.floats(95.0, 145.0)
pressures = st.floats(0.8e5, 5e5)


@given(saturation, st.floats(0.05, 80.0), st.floats(0.003, 0.05))
def test_film_condensation_is_the_library_s(T_C: float, subcooling_K: float, D_m: float) -> None:
    film_K = T_C - subcooling_K / 2.0 + 273.15
    rho, cp, mu, k = (PropsSI(letter, "T", film_K, "Q", 0, "Water") for letter in ("D", "C", "V", "L"))
    rho_g, h_g = (PropsSI(letter, "T", T_C + 273.15, "Q", 1, "Water") for letter in ("D", "H"))
    heat = h_g - PropsSI("H", "T", T_C + 273.15, "Q", 0, "Water") + 0.68 * cp * subcooling_K
    there = ht.Nusselt_laminar(
        Tsat=T_C, Tw=T_C - subcooling_K, rhog=rho_g, rhol=rho, kl=k, mul=mu, Hvap=heat, L=D_m
    )
    here = phase.film_condensation(T_C, T_C - subcooling_K, D_m)
    assert here == pytest.approx(there * PLATE_TO_TUBE, rel=2e-3)


@given(saturation, st.floats(-20.0, 0.05))
def test_film_condensation_is_held_below_the_least_difference(T_C: float, subcooling_K: float) -> None:
    held = phase.film_condensation(T_C, T_C - phase.LEAST_SUBCOOLING_K, 0.006)
    assert phase.film_condensation(T_C, T_C - subcooling_K, 0.006) == pytest.approx(held, rel=1e-9)
    assert math.isfinite(held)


@pytest.mark.parametrize("T_C", [100.0, 124.0, 140.0])
def test_condensation_has_no_step_and_more_subcooling_carries_more(T_C: float) -> None:
    assert_continuous(lambda wall_C: phase.film_condensation(T_C, wall_C, 0.006), low=0.0, high=T_C + 10.0)
    assert_continuous(lambda sat_C: phase.film_condensation(sat_C, T_C, 0.006), low=90.0, high=160.0)
    assert_rising(lambda dT: phase.film_condensation(T_C, T_C - dT, 0.006) * dT, low=0.0, high=90.0)


@given(st.floats(0.5e5, 15e5), st.floats(0.1, 30.0))
def test_pool_boiling_solves_cooper_s_law(p_Pa: float, superheat_K: float) -> None:
    h = phase.pool_boiling(p_Pa, superheat_K)
    there = ht.Cooper(P=p_Pa, Pc=22.064e6, MW=18.015268, q=h * superheat_K, Rp=1e-6)
    assert h == pytest.approx(there, rel=2e-3)  # ht rounds 0.2 / ln 10 to 0.0868


@given(pressures, st.floats(-300.0, 0.0))
def test_no_boiling_without_superheat(p_Pa: float, superheat_K: float) -> None:
    assert phase.pool_boiling(p_Pa, superheat_K) == 0.0


@pytest.mark.parametrize("p_Pa", [1e3, 1e5, 2.3e5, 3e7])
def test_boiling_has_no_step_and_rises(p_Pa: float) -> None:
    assert_continuous(lambda dT: phase.pool_boiling(p_Pa, dT), low=-5.0, high=30.0)
    assert_rising(lambda dT: phase.pool_boiling(p_Pa, dT), low=-5.0, high=30.0)
    assert_continuous(lambda p: phase.pool_boiling(p, 8.0), low=0.0, high=p_Pa)


def test_critical_heat_flux_has_no_step_and_rises() -> None:
    assert_continuous(phase.critical_heat_flux, low=0.0, high=200.0)
    assert_rising(phase.critical_heat_flux, low=0.0, high=200.0)


def test_subcritical_steam_is_an_isentrope() -> None:
    # Homogeneous equilibrium along CoolProp's isentrope from 1.4 bar to the atmosphere, 5 % between forms
    p_up, p_down = 1.4e5, 101325.0
    h0, s0 = (PropsSI(letter, "P", p_up, "Q", 1, "Water") for letter in ("H", "S"))
    h, rho = (PropsSI(letter, "P", p_down, "S", s0, "Water") for letter in ("H", "D"))
    there = rho * math.sqrt(2.0 * (h0 - h))
    here = phase.steam_hole_mass_flux(p_up, p_down, water.saturation_temperature(p_up))
    assert here == pytest.approx(there, rel=0.05)


def test_flow_stops_with_the_pressure_difference() -> None:
    for p_up_Pa in (1e5, 0.9e5, 0.0):
        assert phase.steam_hole_mass_flux(p_up_Pa, 1e5, 99.6) == 0.0


@pytest.mark.parametrize("p_down_Pa", [70e3, 101325.0])
def test_steam_flow_has_no_step_and_rises_with_pressure(p_down_Pa: float) -> None:
    def flux(p_Pa: float) -> float:
        return phase.steam_hole_mass_flux(p_Pa, p_down_Pa, water.saturation_temperature(p_Pa))

    assert_continuous(flux, low=0.5e5, high=4e5)
    assert_rising(flux, low=0.5e5, high=4e5)
    assert_continuous(lambda p: phase.steam_hole_mass_flux(2e5, p, 120.2), low=0.0, high=3e5)


@given(pressures, st.floats(0.0, 3e5), st.floats(0.0, 200.0))
def test_steam_flow_is_finite(p_up_Pa: float, p_down_Pa: float, T_C: float) -> None:
    flux = phase.steam_hole_mass_flux(p_up_Pa, p_down_Pa, T_C)
    assert np.isfinite(flux)
    assert flux >= 0.0
