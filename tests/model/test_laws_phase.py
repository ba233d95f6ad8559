"""Condensation, boiling and blowing steam against ht, CoolProp and worked examples."""

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


@pytest.mark.parametrize(
    ("T_saturation_C", "T_wall_C", "D_mm", "h"),
    [  # F01-F04: ht.Nusselt_laminar x 0.729/0.9428, h*_fg
        (120.210, 93.0, 6.0, 14303.0),
        (120.210, 110.0, 6.0, 18529.0),
        (124.686, 60.0, 8.0, 10421.0),
        (104.784, 95.0, 8.0, 16885.0),
    ],
)
def test_film_condensation(T_saturation_C: float, T_wall_C: float, D_mm: float, h: float) -> None:
    here = phase.film_condensation(T_saturation_C, T_wall_C, D_mm / 1e3)
    assert here == pytest.approx(h, rel=1e-3)  # asked: 1 %


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


def test_condenser_tube_of_the_textbook() -> None:
    # X08: Y. A. Cengel, 7.38 kPa (40 degC), wall 30 degC, D 30 mm, L 1 m. Printed: h 9292, 8.76 kW
    here = phase.film_condensation(40.0, 30.0, 0.03)
    assert here == pytest.approx(9292.0, rel=1e-2)
    assert here * math.pi * 0.03 * 10.0 == pytest.approx(8760.0, rel=1e-2)


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


@pytest.mark.parametrize(
    ("p_bar", "q_kW_m2", "h"),
    [  # F05, F06, F08-F11, F13-F16, F18, F19: ht.Cooper, Rp 1 um
        (1.01325, 50.0, 5990.0),
        (1.01325, 100.0, 9531.0),
        (2.0, 20.0, 3789.0),
        (2.0, 50.0, 7000.0),
        (2.0, 100.0, 11138.0),
        (2.0, 200.0, 17722.0),
        (2.3, 20.0, 3917.0),
        (2.3, 50.0, 7238.0),
        (2.3, 100.0, 11516.0),
        (2.3, 200.0, 18323.0),
        (3.0, 50.0, 7723.0),
        (3.0, 100.0, 12288.0),
    ],
)
def test_pool_boiling(p_bar: float, q_kW_m2: float, h: float) -> None:
    q = 1e3 * q_kW_m2
    assert phase.cooper_factor(1e5 * p_bar) * q**0.67 == pytest.approx(h, rel=1e-3)
    # The superheat that carries q at the printed h gives h back; h ~ dT^2.03 doubles the printed rounding.
    assert phase.pool_boiling(1e5 * p_bar, q / h) == pytest.approx(h, rel=3e-3)


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


@pytest.mark.parametrize(
    ("p_bar", "q_MW_m2"),
    [(1.01325, 1.1084), (2.0, 1.4544), (2.3, 1.5358), (3.0, 1.7011)],  # F07, F12, F17, F20: ht.Zuber, K 0.131
)
def test_critical_heat_flux(p_bar: float, q_MW_m2: float) -> None:
    T_C = water.saturation_temperature(1e5 * p_bar)
    assert phase.critical_heat_flux(T_C) == pytest.approx(1e6 * q_MW_m2, rel=2e-3)  # asked: 2 %


def test_boiling_water_in_a_pan() -> None:
    # X03: Incropera and DeWitt, 1 atm. Printed: 1.26 MW/m2 with the constant 0.149
    assert phase.critical_heat_flux(100.0) * 0.149 / 0.131 == pytest.approx(1.26e6, rel=1e-2)


def test_critical_heat_flux_has_no_step_and_rises() -> None:
    assert_continuous(phase.critical_heat_flux, low=0.0, high=200.0)
    assert_rising(phase.critical_heat_flux, low=0.0, high=200.0)


@pytest.mark.parametrize(
    ("p_bar", "T_C", "ideal", "equilibrium", "napier"),
    [  # E32-E34: ideal gas k 1.135; homogeneous equilibrium by CoolProp's isentrope; R. D. Napier
        (2.0, 120.210, 298.345, 302.307, 291.347),
        (2.2, 123.250, 326.919, 331.585, 320.482),
        (2.5, 127.411, 369.563, 375.358, 364.184),
    ],
)
def test_choked_steam(p_bar: float, T_C: float, ideal: float, equilibrium: float, napier: float) -> None:
    here = phase.steam_hole_mass_flux(1e5 * p_bar, 101325.0, T_C)
    assert here == pytest.approx(ideal, rel=1e-4)
    assert here == pytest.approx(equilibrium, rel=0.05)
    assert here == pytest.approx(napier, rel=0.05)


def test_choke_ratio() -> None:
    ratio = phase.CHOKE_RATIO
    assert ratio == pytest.approx(0.57743, abs=1e-5)  # E35
    assert 101325.0 / ratio == pytest.approx(1.755e5, rel=1e-3)


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
