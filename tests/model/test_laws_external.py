"""Free convection and radiation against ht over the range, and for steps.

Published values stand in the table of `make validate`, tests/validate/published.
"""

import math
from collections.abc import Callable

import ht
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.model.laws import external
from boilerfront.model.props import air, water
from tests.model.scan import assert_continuous

DIMENSIONAL: dict[str, Callable[[float, float, float], float]] = {
    "horizontal_cylinder_in_water": external.horizontal_cylinder_in_water,
    "horizontal_cylinder_in_air": external.horizontal_cylinder_in_air,
    "vertical_plate_in_water": external.vertical_plate_in_water,
    "vertical_plate_in_air": external.vertical_plate_in_air,
}

# ht and the rows made with it take sigma of CODATA 2014, 5.670367e-8
OLDER_SIGMA = 5.670367e-8 / external.STEFAN_BOLTZMANN_W_M2K4

rayleighs = st.floats(-3.0, 12.0).map(lambda exponent: 10.0**exponent)
prandtls = st.floats(0.69, 13.5)
temperatures = st.floats(0.0, 150.0)
lengths = st.floats(0.003, 0.5)


@given(rayleighs, prandtls)
def test_laws_are_the_library_s(Ra: float, Pr: float) -> None:
    cylinder = ht.Nu_horizontal_cylinder_Churchill_Chu(Pr=Pr, Gr=Ra / Pr)
    plate = ht.Nu_vertical_plate_Churchill(Pr=Pr, Gr=Ra / Pr)
    assert external.nusselt_horizontal_cylinder(Ra, Pr) == pytest.approx(cylinder, rel=1e-9)
    assert external.nusselt_vertical_plate(Ra, Pr) == pytest.approx(plate, rel=1e-9)


@pytest.mark.parametrize("p_Pa", [101325.0, 84560.0, 61640.0])
@pytest.mark.parametrize("T_surface_C", [40.0, 93.0])
def test_cylinder_in_thin_air(T_surface_C: float, p_Pa: float) -> None:
    """Sea level, 1500 m and 4000 m; properties by CoolProp, the law by ht."""
    film_K = (T_surface_C + 22.0) / 2.0 + 273.15
    rho, cp, mu, k = (PropsSI(letter, "T", film_K, "P", p_Pa, "Air") for letter in ("D", "C", "V", "L"))
    Gr = 9.80665 / film_K * (T_surface_C - 22.0) * 0.06**3 * (rho / mu) ** 2
    there = ht.Nu_horizontal_cylinder_Churchill_Chu(Pr=cp * mu / k, Gr=Gr) * k / 0.06
    here = external.horizontal_cylinder_in_air(T_surface_C, 22.0, 0.06, p_Pa)
    assert here == pytest.approx(there, rel=5e-3)
    if p_Pa < 1e5:
        assert here < external.horizontal_cylinder_in_air(T_surface_C, 22.0, 0.06)


@pytest.mark.parametrize("T_surface_C", [30.0, 60.0, 95.0, 140.0])
@pytest.mark.parametrize("T_fluid_C", [15.0, 60.0, 92.0, 130.0])
@pytest.mark.parametrize("length_m", [0.0065, 0.06, 0.15])
def test_water_over_the_working_range(T_surface_C: float, T_fluid_C: float, length_m: float) -> None:
    film_K = (T_surface_C + T_fluid_C) / 2.0 + 273.15
    rho, cp, mu, k, beta = (
        PropsSI(letter, "T", film_K, "Q", 0, "Water")
        for letter in ("D", "C", "V", "L", "isobaric_expansion_coefficient")
    )
    Gr = 9.80665 * beta * abs(T_surface_C - T_fluid_C) * length_m**3 * (rho / mu) ** 2
    Pr = cp * mu / k
    cylinder = ht.Nu_horizontal_cylinder_Churchill_Chu(Pr=Pr, Gr=Gr) * k / length_m
    plate = ht.Nu_vertical_plate_Churchill(Pr=Pr, Gr=Gr) * k / length_m
    here = external.horizontal_cylinder_in_water(T_surface_C, T_fluid_C, length_m)
    assert here == pytest.approx(cylinder, rel=5e-3)
    assert external.vertical_plate_in_water(T_surface_C, T_fluid_C, length_m) == pytest.approx(
        plate, rel=5e-3
    )


@pytest.mark.parametrize("T_surface_C", [25.0, 45.0, 93.0, 135.0])
@pytest.mark.parametrize("T_fluid_C", [5.0, 22.0, 45.0])
@pytest.mark.parametrize("length_m", [0.05, 0.15, 0.4])
def test_air_over_the_working_range(T_surface_C: float, T_fluid_C: float, length_m: float) -> None:
    film_K = (T_surface_C + T_fluid_C) / 2.0 + 273.15
    rho, cp, mu, k = (PropsSI(letter, "T", film_K, "P", 101325.0, "Air") for letter in ("D", "C", "V", "L"))
    Gr = 9.80665 / film_K * abs(T_surface_C - T_fluid_C) * length_m**3 * (rho / mu) ** 2
    Pr = cp * mu / k
    cylinder = ht.Nu_horizontal_cylinder_Churchill_Chu(Pr=Pr, Gr=Gr) * k / length_m
    plate = ht.Nu_vertical_plate_Churchill(Pr=Pr, Gr=Gr) * k / length_m
    here = external.horizontal_cylinder_in_air(T_surface_C, T_fluid_C, length_m)
    assert here == pytest.approx(cylinder, rel=5e-3)
    assert external.vertical_plate_in_air(T_surface_C, T_fluid_C, length_m) == pytest.approx(plate, rel=5e-3)


@given(st.floats(0.0, 1.0), temperatures, temperatures)
def test_radiation_is_exact_for_the_flux(emissivity: float, T_C: float, T_around_C: float) -> None:
    here = external.radiation_coefficient(emissivity, T_C, T_around_C) * (T_C - T_around_C)
    there = ht.q_rad(emissivity, T_C + 273.15, T_around_C + 273.15)  # type: ignore[arg-type]
    assert here * OLDER_SIGMA == pytest.approx(there, rel=1e-7, abs=1e-9)
    assert external.radiation_coefficient(emissivity, T_around_C, T_C) == pytest.approx(
        external.radiation_coefficient(emissivity, T_C, T_around_C), rel=1e-12
    )


@given(temperatures, lengths)
def test_conduction_limit_without_a_difference(T_C: float, length_m: float) -> None:
    for name, law in DIMENSIONAL.items():
        fluid = water if name.endswith("water") else air
        Nu = 0.60**2 if "cylinder" in name else 0.825**2
        assert law(T_C, T_C, length_m) == pytest.approx(Nu * fluid.conductivity(T_C) / length_m, rel=1e-12)


@pytest.mark.parametrize("name", DIMENSIONAL)
@given(temperatures, temperatures, lengths)
def test_coefficients_are_finite_positive_and_even(
    name: str, T_surface_C: float, T_fluid_C: float, length_m: float
) -> None:
    law = DIMENSIONAL[name]
    h = law(T_surface_C, T_fluid_C, length_m)
    assert 0.0 < h < math.inf
    assert law(T_fluid_C, T_surface_C, length_m) == h


@pytest.mark.parametrize("name", DIMENSIONAL)
@pytest.mark.parametrize("T_fluid_C", [2.0, 22.0, 93.0, 124.0])
def test_no_step_in_the_surface_temperature(name: str, T_fluid_C: float) -> None:
    law = DIMENSIONAL[name]

    # Near equal temperatures the coefficient goes as the sixth root of the difference, which floats near 93
    # cannot resolve; there the flux is looked at, and the coefficient where the fluid has 0 degC.
    def flux(T_surface_C: float) -> float:
        return law(T_surface_C, T_fluid_C, 0.008) * (T_surface_C - T_fluid_C)

    assert_continuous(flux, low=0.0, high=250.0)
    assert_continuous(lambda T_surface_C: law(T_surface_C, T_fluid_C, 0.008), low=0.0, high=T_fluid_C - 0.01)
    assert_continuous(lambda T_surface_C: law(T_surface_C, T_fluid_C, 0.15), low=T_fluid_C + 0.01, high=250.0)


@pytest.mark.parametrize("name", DIMENSIONAL)
def test_coefficient_has_no_step_at_equal_temperatures(name: str) -> None:
    assert_continuous(lambda T_surface_C: DIMENSIONAL[name](T_surface_C, 0.0, 0.008), low=0.0, high=1.0)


@pytest.mark.parametrize("name", DIMENSIONAL)
@given(st.floats(10.0, 120.0), st.floats(0.0, 30.0), st.floats(0.0, 30.0))
def test_a_larger_difference_carries_more_heat(name: str, T_fluid_C: float, one: float, other: float) -> None:
    law = DIMENSIONAL[name]
    small, large = sorted((one, other))
    assert law(T_fluid_C + small, T_fluid_C, 0.05) * small <= law(T_fluid_C + large, T_fluid_C, 0.05) * large
