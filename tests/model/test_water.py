"""Water and steam against IAPWS-IF97 over the whole range, and for steps.

Published values stand in the table of `make validate`, tests/validate/published.
"""

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
