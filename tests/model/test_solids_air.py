"""Air against CoolProp, the standard atmosphere, and the metals against handbook bands.

Published values stand in the table of `make validate`, tests/validate/published.
"""

import math
from collections.abc import Callable

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from fluids import ATMOSPHERE_1976
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.model.props import air, solids
from tests.model.scan import assert_continuous, assert_rising

OF_TEMPERATURE: dict[str, Callable[[float], float]] = {
    "density": air.density,
    "heat_capacity": air.heat_capacity,
    "viscosity": air.viscosity,
    "conductivity": air.conductivity,
    "kinematic_viscosity": air.kinematic_viscosity,
    "diffusivity": air.diffusivity,
    "prandtl": air.prandtl,
    "expansion": air.expansion,
}


@pytest.mark.parametrize(
    ("name", "letter"), [("density", "D"), ("heat_capacity", "C"), ("viscosity", "V"), ("conductivity", "L")]
)
def test_air_follows_coolprop_over_the_range(name: str, letter: str) -> None:
    for T_C in np.linspace(0.0, 150.0, 151):
        there = PropsSI(letter, "T", T_C + 273.15, "P", 101325.0, "Air")
        assert OF_TEMPERATURE[name](T_C) == pytest.approx(there, rel=1e-3), T_C


@pytest.mark.parametrize("p_Pa", [70e3, 85e3])
def test_air_at_altitude_follows_coolprop(p_Pa: float) -> None:
    for T_C in (0.0, 25.0, 80.0, 150.0):
        there = PropsSI("D", "T", T_C + 273.15, "P", p_Pa, "Air")
        assert air.density(T_C, p_Pa) == pytest.approx(there, rel=1e-3)
        by_pressure = 101325.0 / p_Pa
        assert air.diffusivity(T_C, p_Pa) == pytest.approx(air.diffusivity(T_C) * by_pressure, rel=1e-12)


@pytest.mark.parametrize("altitude_m", [0.0, 500.0, 1500.0, 3000.0, 8000.0])
def test_pressure_is_the_standard_atmosphere(altitude_m: float) -> None:
    # U.S. Standard Atmosphere 1976, which ISO 2533 equals here, by the package fluids. It takes the height as
    # geometric: 0.15 % in pressure at 8 km.
    there = ATMOSPHERE_1976(altitude_m).P
    assert air.pressure_at_altitude(altitude_m) == pytest.approx(there, rel=2e-3)


def test_pressure_at_sea_level_and_at_1500_m() -> None:
    assert air.pressure_at_altitude(0.0) == 101325.0
    # Trap 5 of the reference sheet: about 0.845 bar at 1500 m
    assert air.pressure_at_altitude(1500.0) == pytest.approx(0.845e5, rel=1e-3)


@pytest.mark.parametrize("name", OF_TEMPERATURE)
def test_air_has_no_step(name: str) -> None:
    assert_continuous(OF_TEMPERATURE[name], low=-30.0, high=180.0)


@pytest.mark.parametrize(
    "name", ["heat_capacity", "viscosity", "conductivity", "kinematic_viscosity", "diffusivity"]
)
def test_rising_properties_never_fall(name: str) -> None:
    assert_rising(OF_TEMPERATURE[name], low=-30.0, high=180.0)


@given(st.floats(-1e6, 1e6))
def test_air_is_finite_and_positive_everywhere(T_C: float) -> None:
    for law in OF_TEMPERATURE.values():
        assert 0.0 < law(T_C) < math.inf
    assert 0.0 < air.pressure_at_altitude(T_C) < math.inf


@pytest.mark.parametrize(
    ("solid", "rho", "cp", "k"),
    [  # M01, M04, M05, M07, M08, M09: middles of the handbook bands, tolerances of that table
        (solids.STAINLESS_304L, (7900.0, 8000.0), (477.0, 500.0), (14.9, 16.6)),
        (solids.COPPER_DHP, (8930.0, 8940.0), (385.0, 385.0), (305.0, 340.0)),
        (solids.BRASS, (8400.0, 8530.0), (377.0, 380.0), (110.0, 120.0)),
        (solids.BRASS_LEAD_FREE, (8250.0, 8300.0), (380.0, 390.0), (30.0, 38.0)),
        (solids.ALUMINIUM_6061, (2700.0, 2700.0), (896.0, 896.0), (167.0, 167.0)),
        (solids.ALUMINIUM_CAST, (2650.0, 2680.0), (900.0, 960.0), (130.0, 160.0)),
    ],
)
def test_metals_lie_in_their_handbook_bands(
    solid: solids.Solid, rho: tuple[float, float], cp: tuple[float, float], k: tuple[float, float]
) -> None:
    assert rho[0] <= solid.density_kg_m3 <= rho[1]
    assert cp[0] <= solid.heat_capacity_J_kgK <= cp[1]
    assert k[0] <= solid.conductivity_W_mK <= k[1]
    assert solid.source
    assert solid.volumetric_heat_J_m3K == solid.density_kg_m3 * solid.heat_capacity_J_kgK


def test_metals_are_found_by_name() -> None:
    assert all(name == solid.name for name, solid in solids.SOLIDS.items())
    assert len(solids.SOLIDS) == 6
