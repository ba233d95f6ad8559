"""Water and steam against IAPWS-IF97 and the printed verification values of the releases."""

import math
from collections.abc import Callable
from pathlib import Path
from runpy import run_path

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st
from iapws._iapws import _Tension, _ThCond, _Viscosity
from iapws.iapws97 import _PSat_T, _Region1, _Region2, _TSat_P

from boilerfront.model.props import water, water_fits
from tests.model.scan import assert_continuous, assert_rising, largest_step

GRID_C = np.linspace(0.01, 200.0, 401)
HIGHEST_PRESSURE_MPA = 1.2

temperatures = st.floats(0.0, 200.0)

OF_TEMPERATURE: dict[str, Callable[[float], float]] = {
    "density": water.density,
    "enthalpy": water.enthalpy,
    "heat_capacity": water.heat_capacity,
    "viscosity": water.viscosity,
    "conductivity": water.conductivity,
    "prandtl": water.prandtl,
    "expansion": water.expansion,
    "surface_tension": water.surface_tension,
    "saturation_pressure": water.saturation_pressure,
    "steam_density": water.steam_density,
    "evaporation_enthalpy": water.evaporation_enthalpy,
    "steam_enthalpy": water.steam_enthalpy,
    "steam_energy": water.steam_energy,
    "liquid_energy": water.liquid_energy,
}


def liquid_if97(T_C: float, p_MPa: float | None = None) -> dict[str, float]:
    """Region 1 at the pressure, or at saturation, SI."""
    T_K = T_C + 273.15
    saturation = _PSat_T(T_K)
    state = _Region1(T_K, max(saturation, p_MPa or 0.0))
    density = 1.0 / state["v"]
    return {
        "density": density,
        "heat_capacity": 1e3 * state["cp"],
        "enthalpy": 1e3 * state["h"],
        "liquid_energy": 1e3 * state["h"] - 1e6 * saturation * state["v"],
        "viscosity": _Viscosity(density, T_K),
        "conductivity": _ThCond(density, T_K),
        "expansion": state["alfav"],
        "prandtl": 1e3 * state["cp"] * _Viscosity(density, T_K) / _ThCond(density, T_K),
    }


def steam_if97(T_C: float) -> dict[str, float]:
    """Region 2 at saturation, SI."""
    T_K = T_C + 273.15
    p_MPa = _PSat_T(T_K)
    state = _Region2(T_K, p_MPa)
    return {
        "saturation_pressure": 1e6 * p_MPa,
        "steam_density": 1.0 / state["v"],
        "steam_enthalpy": 1e3 * state["h"],
        "steam_energy": 1e3 * state["h"] - 1e6 * p_MPa * state["v"],
        "evaporation_enthalpy": 1e3 * state["h"] - liquid_if97(T_C)["enthalpy"],
    }


def test_reference_prints_the_verification_values_of_the_releases() -> None:
    # IAPWS R7-97(2012) tables 5, 15, 35 and 36: W01, W03, W04, W07, W10
    assert _Region1(300.0, 3.0)["v"] == pytest.approx(0.100215168e-2, rel=1e-8)
    assert _Region1(300.0, 3.0)["cp"] == pytest.approx(4.17301218, rel=1e-8)
    assert _Region1(500.0, 3.0)["h"] == pytest.approx(975.542239, rel=1e-8)
    assert _Region2(300.0, 0.0035)["v"] == pytest.approx(39.4913866, rel=1e-8)
    assert _Region2(300.0, 0.0035)["h"] == pytest.approx(2549.91145, rel=1e-8)
    assert _PSat_T(300.0) == pytest.approx(0.353658941e-2, rel=1e-8)
    assert _TSat_P(0.1) == pytest.approx(372.755919, rel=1e-8)
    # IAPWS R12-08 table 4: W13, W15, W17; IAPWS R15-11 table 4: W22
    assert _Viscosity(998.0, 298.15) == pytest.approx(889.735100e-6, rel=1e-7)
    assert _Viscosity(1000.0, 373.15) == pytest.approx(307.883622e-6, rel=1e-7)
    assert _Viscosity(1000.0, 433.15) == pytest.approx(217.685358e-6, rel=1e-7)
    assert _ThCond(998.0, 298.15) == pytest.approx(607.712868e-3, rel=1e-7)


def test_coefficients_are_what_the_script_makes() -> None:
    script = run_path(str(Path(__file__).parents[1] / "references" / "make_water_fits.py"))
    for name, (_, coefficients) in script["fits"]().items():
        here = np.array(getattr(water_fits, name))
        assert here == pytest.approx(coefficients, rel=1e-6, abs=1e-7 * np.max(np.abs(here))), name


@pytest.mark.parametrize(
    ("name", "tolerance"),
    [
        ("density", 1e-3),
        ("heat_capacity", 1e-3),
        ("viscosity", 5e-3),
        ("conductivity", 5e-3),
        ("prandtl", 1e-2),
    ],
)
def test_saturated_liquid_follows_if97(name: str, tolerance: float) -> None:
    for T_C in GRID_C:
        assert OF_TEMPERATURE[name](T_C) == pytest.approx(liquid_if97(T_C)[name], rel=tolerance), T_C


@pytest.mark.parametrize("name", ["enthalpy", "liquid_energy"])
def test_liquid_enthalpy_and_energy_follow_if97(name: str) -> None:
    # Their zero lies at the triple point, where only a difference means anything: 4 J/kg is 0.001 K.
    for T_C in GRID_C:
        assert OF_TEMPERATURE[name](T_C) == pytest.approx(liquid_if97(T_C)[name], rel=1e-3, abs=4.0), T_C


@pytest.mark.parametrize(
    ("name", "tolerance"),
    [
        ("saturation_pressure", 1e-12),
        ("steam_density", 1e-3),
        ("steam_enthalpy", 1e-3),
        ("steam_energy", 1e-3),
        ("evaporation_enthalpy", 1e-3),
    ],
)
def test_saturated_steam_follows_if97(name: str, tolerance: float) -> None:
    for T_C in GRID_C:
        assert OF_TEMPERATURE[name](T_C) == pytest.approx(steam_if97(T_C)[name], rel=tolerance), T_C


def test_expansion_follows_if97_above_5_degC() -> None:
    for T_C in GRID_C[GRID_C >= 5.0]:
        assert water.expansion(T_C) == pytest.approx(liquid_if97(T_C)["expansion"], rel=5e-3, abs=1e-6), T_C


def test_expansion_has_a_positive_floor_where_water_contracts() -> None:
    assert liquid_if97(2.0)["expansion"] < 0.0
    assert water.expansion(2.0) == water.EXPANSION_FLOOR_1_K > 0.0


def test_compressed_water_stays_as_near_as_the_module_says() -> None:
    for T_C in np.linspace(0.01, 187.0, 200):
        there = liquid_if97(T_C, HIGHEST_PRESSURE_MPA)
        assert water.density(T_C) == pytest.approx(there["density"], rel=7e-4), T_C
        assert water.heat_capacity(T_C) == pytest.approx(there["heat_capacity"], rel=1.5e-3), T_C
        assert water.viscosity(T_C) == pytest.approx(there["viscosity"], rel=2e-3), T_C
        assert water.conductivity(T_C) == pytest.approx(there["conductivity"], rel=2e-3), T_C


@pytest.mark.parametrize(
    ("name", "letter", "quality", "tolerance"),
    [
        ("density", "D", 0, 1e-3),
        ("heat_capacity", "C", 0, 1e-3),
        ("viscosity", "V", 0, 5e-3),
        ("conductivity", "L", 0, 5e-3),
        ("saturation_pressure", "P", 0, 5e-4),
        ("steam_density", "D", 1, 1e-3),
        ("steam_enthalpy", "H", 1, 1e-3),
    ],
)
def test_second_implementation_of_if97_agrees(name: str, letter: str, quality: int, tolerance: float) -> None:
    for T_C in np.linspace(0.5, 200.0, 100):
        there = PropsSI(letter, "T", T_C + 273.15, "Q", quality, "IF97::Water")
        assert OF_TEMPERATURE[name](T_C) == pytest.approx(there, rel=tolerance), T_C


@pytest.mark.parametrize(("T_K", "p_MPa"), [(300.0, 0.353658941e-2)])  # W07, IAPWS R7-97 table 35
def test_saturation_pressure_at_the_verification_point(T_K: float, p_MPa: float) -> None:
    assert water.saturation_pressure(T_K - 273.15) == pytest.approx(1e6 * p_MPa, rel=1e-8)


@pytest.mark.parametrize(("p_MPa", "T_K"), [(0.1, 372.755919), (1.0, 453.035632)])  # W10, W11, table 36
def test_saturation_temperature_at_the_verification_points(p_MPa: float, T_K: float) -> None:
    assert water.saturation_temperature(1e6 * p_MPa) + 273.15 == pytest.approx(T_K, rel=1e-8)


@pytest.mark.parametrize(
    ("p_bar", "T_C", "h_f", "h_fg", "h_g", "rho_f", "rho_g"),
    [  # S01-S10: saturation table, IF97 by the package iapws; kJ/kg and kg/m3
        (1.01325, 99.974, 418.99, 2256.54, 2675.53, 958.373, 0.59762),
        (1.2, 104.784, 439.30, 2243.76, 2683.06, 954.868, 0.70006),
        (1.5, 111.350, 467.08, 2226.03, 2693.11, 949.916, 0.86255),
        (2.0, 120.212, 504.68, 2201.56, 2706.24, 942.935, 1.12901),
        (2.2, 123.251, 517.62, 2193.00, 2710.62, 940.462, 1.23439),
        (2.5, 127.414, 535.35, 2181.15, 2716.50, 937.013, 1.39141),
        (3.0, 133.525, 561.46, 2163.44, 2724.89, 931.813, 1.65075),
        (7.0, 164.953, 697.14, 2065.61, 2762.75, 902.556, 3.66617),
        (10.0, 179.886, 762.68, 2014.44, 2777.12, 887.127, 5.14539),
        (13.0, 191.613, 814.76, 1971.73, 2786.49, 874.277, 6.61486),
    ],
)
def test_saturation_table(
    p_bar: float, T_C: float, h_f: float, h_fg: float, h_g: float, rho_f: float, rho_g: float
) -> None:
    T = water.saturation_temperature(1e5 * p_bar)
    assert pytest.approx(T_C, abs=6e-4) == T
    assert water.enthalpy(T) == pytest.approx(1e3 * h_f, rel=1e-3)
    assert water.evaporation_enthalpy(T) == pytest.approx(1e3 * h_fg, rel=1e-3)
    assert water.steam_enthalpy(T) == pytest.approx(1e3 * h_g, rel=1e-3)
    assert water.density(T) == pytest.approx(rho_f, rel=1e-3)
    assert water.steam_density(T) == pytest.approx(rho_g, rel=1e-3)


@pytest.mark.parametrize(
    ("T_C", "rho", "cp", "mu", "k", "Pr", "sigma"),
    [  # L01-L22 at low pressure: IAPWS-95, R12-08 and R15-11 by CoolProp; IF97's c_p differs by up to 0.08 %
        (5.0, 999.967, 4205.04, 1.51817e-3, 0.56779, 11.2435, 0.074942),
        (10.0, 999.702, 4195.16, 1.30590e-3, 0.57878, 9.4656, 0.074221),
        (15.0, 999.103, 4188.46, 1.13757e-3, 0.58880, 8.0921, 0.073486),
        (20.0, 998.207, 4184.05, 1.00160e-3, 0.59801, 7.0078, 0.072736),
        (25.0, 997.048, 4181.31, 8.90022e-4, 0.60652, 6.1358, 0.071972),
        (40.0, 992.216, 4179.41, 6.52729e-4, 0.62849, 4.3406, 0.069596),
        (60.0, 983.196, 4184.95, 4.66035e-4, 0.65100, 2.9959, 0.066238),
        (80.0, 971.790, 4196.75, 3.54051e-4, 0.66699, 2.2277, 0.062673),
        (90.0, 965.310, 4205.21, 3.14175e-4, 0.67279, 1.9637, 0.060816),
        (93.0, 963.271, 4208.12, 3.03719e-4, 0.67426, 1.8956, 0.060250),
        (95.0, 961.888, 4210.17, 2.97085e-4, 0.67517, 1.8525, 0.059870),
        (100.0, 958.349, 4215.67, 2.81582e-4, 0.67721, 1.7529, 0.058912),
        (110.0, 950.948, 4228.33, 2.54611e-4, 0.68035, 1.5824, 0.056962),
        (120.0, 943.107, 4243.51, 2.32034e-4, 0.68224, 1.4432, 0.054968),
        (125.0, 939.024, 4252.14, 2.22099e-4, 0.68274, 1.3832, 0.053955),
        (130.0, 934.834, 4261.50, 2.12941e-4, 0.68295, 1.3287, 0.052932),
        (140.0, 926.135, 4282.58, 1.96643e-4, 0.68253, 1.2339, 0.050856),
    ],
)
def test_liquid_table(
    T_C: float, rho: float, cp: float, mu: float, k: float, Pr: float, sigma: float
) -> None:
    assert water.density(T_C) == pytest.approx(rho, rel=5e-4)
    assert water.heat_capacity(T_C) == pytest.approx(cp, rel=1.1e-3)  # 0.03 % of the fit, 0.08 % of IF97
    assert water.viscosity(T_C) == pytest.approx(mu, rel=5e-3)
    assert water.conductivity(T_C) == pytest.approx(k, rel=5e-3)
    assert water.prandtl(T_C) == pytest.approx(Pr, rel=1e-2)
    assert water.surface_tension(T_C) == pytest.approx(sigma, rel=1e-5)


@pytest.mark.parametrize(
    ("T_C", "beta"),
    [  # L02-L22, beta by CoolProp
        (10.0, 8.79337e-5),
        (20.0, 2.06806e-4),
        (60.0, 5.23253e-4),
        (93.0, 7.12907e-4),
        (125.0, 8.84886e-4),
        (140.0, 9.68357e-4),
    ],
)
def test_expansion_table(T_C: float, beta: float) -> None:
    assert water.expansion(T_C) == pytest.approx(beta, rel=6e-3)


def test_surface_tension_is_the_release() -> None:
    for T_C in GRID_C:
        assert water.surface_tension(T_C) == pytest.approx(_Tension(T_C + 273.15), rel=1e-9)


@given(temperatures)
def test_heat_capacity_is_the_slope_of_enthalpy(T_C: float) -> None:
    low, high = max(T_C - 0.05, 0.0), min(T_C + 0.05, 200.0)
    slope = (water.enthalpy(high) - water.enthalpy(low)) / (high - low)
    assert water.heat_capacity(0.5 * (low + high)) == pytest.approx(slope, rel=1e-6)


@given(temperatures)
def test_saturation_temperature_inverts_saturation_pressure(T_C: float) -> None:
    assert water.saturation_temperature(water.saturation_pressure(T_C)) == pytest.approx(T_C, abs=1e-6)


@given(temperatures)
def test_energies_are_enthalpies_less_flow_work(T_C: float) -> None:
    p = water.saturation_pressure(T_C)
    assert water.liquid_energy(T_C) == pytest.approx(water.enthalpy(T_C) - p / water.density(T_C), rel=1e-12)
    steam = water.steam_enthalpy(T_C) - p / water.steam_density(T_C)
    assert water.steam_energy(T_C) == pytest.approx(steam, rel=1e-12)


@given(st.floats(-1e6, 1e6))
def test_every_property_is_finite_and_positive_everywhere(T_C: float) -> None:
    for name, law in OF_TEMPERATURE.items():
        value = law(T_C)
        assert math.isfinite(value)
        assert value > (-50.0 if name in ("enthalpy", "liquid_energy") else 0.0), name
        assert value == law(min(max(T_C, 0.0), 200.0))


@pytest.mark.parametrize("name", OF_TEMPERATURE)
def test_no_property_has_a_step(name: str) -> None:
    assert_continuous(OF_TEMPERATURE[name], low=-20.0, high=220.0)


@pytest.mark.parametrize(
    "name", ["saturation_pressure", "steam_density", "steam_enthalpy", "steam_energy", "expansion"]
)
def test_rising_properties_never_fall(name: str) -> None:
    assert_rising(OF_TEMPERATURE[name], low=-20.0, high=220.0)


@pytest.mark.parametrize("name", ["viscosity", "prandtl", "evaporation_enthalpy", "surface_tension"])
def test_falling_properties_never_rise(name: str) -> None:
    assert_rising(lambda T_C: OF_TEMPERATURE[name](-T_C), low=-220.0, high=20.0)


def test_saturation_temperature_is_clamped_and_rises() -> None:
    assert water.saturation_temperature(0.0) == pytest.approx(0.0, abs=1e-6)
    assert water.saturation_temperature(1e9) == pytest.approx(200.0, abs=1e-6)
    assert_continuous(water.saturation_temperature, low=0.0, high=2e6)
    values = [water.saturation_temperature(float(p)) for p in np.linspace(0.0, 2e6, 400)]
    assert np.all(np.diff(values) >= 0.0)


@pytest.mark.parametrize("name", OF_TEMPERATURE)
def test_not_a_number_is_not_hidden(name: str) -> None:
    assert math.isnan(OF_TEMPERATURE[name](math.nan))


def test_scan_finds_a_small_step_in_a_steep_law() -> None:
    step = 1e-6
    law = water.saturation_pressure
    broken = largest_step(lambda T_C: law(T_C) * (1.0 + step * (T_C > 123.4)), low=0.0, high=200.0)
    assert broken == pytest.approx(step * law(123.4) / law(200.0), rel=1e-2)
