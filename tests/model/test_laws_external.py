"""Free convection and radiation against ht and worked examples of textbooks."""

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


@pytest.mark.parametrize(
    ("D_mm", "T_surface_C", "Ra", "Nu", "h"),
    [  # N01-N10, in air at 25 degC: ht with CoolProp's air
        (50.0, 93.0, 4.9593e5, 11.9461, 6.8648),
        (50.0, 125.0, 5.8827e5, 12.5195, 7.4798),
        (60.0, 93.0, 8.5697e5, 13.9049, 6.6587),
        (60.0, 125.0, 1.0165e6, 14.5828, 7.2604),
        (80.0, 60.0, 1.3209e6, 15.7096, 5.4075),
        (80.0, 93.0, 2.0313e6, 17.7492, 6.3747),
        (80.0, 125.0, 2.4095e6, 18.6337, 6.9580),
        (80.0, 135.0, 2.4838e6, 18.7954, 7.1012),
        (100.0, 93.0, 3.9675e6, 21.5243, 6.1844),
        (100.0, 125.0, 4.7061e6, 22.6136, 6.7553),
    ],
)
def test_cylinder_in_air(D_mm: float, T_surface_C: float, Ra: float, Nu: float, h: float) -> None:
    D, film_C = D_mm / 1e3, (T_surface_C + 25.0) / 2.0
    assert external.rayleigh_in_air(T_surface_C, 25.0, D) == pytest.approx(Ra, rel=5e-3)
    assert external.nusselt_horizontal_cylinder(Ra, air.prandtl(film_C)) == pytest.approx(Nu, rel=1e-3)
    assert external.horizontal_cylinder_in_air(T_surface_C, 25.0, D) == pytest.approx(h, rel=5e-3)


@pytest.mark.parametrize(
    ("height_mm", "T_surface_C", "Ra", "Nu", "h"),
    [  # N11-N19, in air at 25 degC: ht with CoolProp's air
        (100.0, 93.0, 3.9675e6, 24.0498, 6.9101),
        (100.0, 125.0, 4.7061e6, 25.2121, 7.5315),
        (150.0, 60.0, 8.7071e6, 29.9850, 5.5047),
        (150.0, 93.0, 1.3390e7, 33.8818, 6.4900),
        (150.0, 125.0, 1.5883e7, 35.5721, 7.0842),
        (200.0, 93.0, 3.1740e7, 43.4763, 6.2459),
        (200.0, 125.0, 3.7649e7, 45.6878, 6.8241),
        (300.0, 93.0, 1.0712e8, 62.2542, 5.9624),
        (300.0, 125.0, 1.2707e8, 65.4962, 6.5218),
    ],
)
def test_plate_in_air(height_mm: float, T_surface_C: float, Ra: float, Nu: float, h: float) -> None:
    height, film_C = height_mm / 1e3, (T_surface_C + 25.0) / 2.0
    assert external.rayleigh_in_air(T_surface_C, 25.0, height) == pytest.approx(Ra, rel=5e-3)
    assert external.nusselt_vertical_plate(Ra, air.prandtl(film_C)) == pytest.approx(Nu, rel=1e-3)
    assert external.vertical_plate_in_air(T_surface_C, 25.0, height) == pytest.approx(h, rel=5e-3)


@pytest.mark.parametrize(
    ("D_mm", "T_surface_C", "T_fluid_C", "Ra", "Nu", "h"),
    [  # N20-N23, in water at 10 bar: ht with CoolProp's water
        (6.5, 100.0, 93.0, 2.7071e5, 11.2382, 1169.33),
        (6.5, 98.0, 60.0, 1.0778e6, 16.8567, 1729.29),
        (8.5, 130.0, 125.0, 6.7862e5, 14.0755, 1131.58),
        (60.0, 95.0, 93.0, 5.8379e7, 54.0336, 608.08),
    ],
)
def test_cylinder_in_water(
    D_mm: float, T_surface_C: float, T_fluid_C: float, Ra: float, Nu: float, h: float
) -> None:
    D, film_C = D_mm / 1e3, (T_surface_C + T_fluid_C) / 2.0
    # Ra has beta, c_p, mu and k of the saturated liquid, each within 0.2 % of 10 bar
    assert external.rayleigh_in_water(T_surface_C, T_fluid_C, D) == pytest.approx(Ra, rel=1e-2)
    assert external.nusselt_horizontal_cylinder(Ra, water.prandtl(film_C)) == pytest.approx(Nu, rel=1e-3)
    assert external.horizontal_cylinder_in_water(T_surface_C, T_fluid_C, D) == pytest.approx(h, rel=5e-3)


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


def test_steam_pipe_in_a_room() -> None:
    # X01: F. P. Incropera and D. P. DeWitt, horizontal uninsulated steam pipe, D 0.1 m, 165 and 23 degC,
    # emissivity 0.85. Printed: Nu 23.3, 325 + 441 = 766 W/m
    Ra = 9.8 * 2.725e-3 * 142.0 * 0.1**3 / (22.8e-6 * 32.8e-6)
    Nu = external.nusselt_horizontal_cylinder(Ra, 0.697)
    assert pytest.approx(23.088, rel=1e-3) == Nu
    convection = Nu * 0.0313 / 0.1 * math.pi * 0.1 * 142.0
    radiation = external.radiation_coefficient(0.85, 165.0, 23.0) * math.pi * 0.1 * 142.0
    assert radiation == pytest.approx(441.0, rel=2e-3)
    assert convection + radiation == pytest.approx(766.0, rel=1.5e-2)


def test_glass_fire_screen() -> None:
    # X02: Incropera and DeWitt, L 0.71 m, width 1.02 m, 232 and 23 degC. Printed: Ra 1.813e9, Nu 147, 1060 W
    Ra = 9.8 * 0.0025 * 209.0 * 0.71**3 / (38.3e-6 * 26.4e-6)
    Nu = external.nusselt_vertical_plate(Ra, 0.69)
    assert pytest.approx(147.0, rel=1e-2) == Nu
    assert Nu * 0.0338 / 0.71 * 1.02 * 0.71 * 209.0 == pytest.approx(1060.0, rel=1e-2)


@pytest.mark.parametrize(
    ("emissivity", "T_C", "T_around_C", "flux"),
    [  # N24-N27: ht.q_rad
        (1.0, 93.0, 25.0, 571.0969),
        (0.9, 125.0, 25.0, 879.1831),
        (0.1, 93.0, 25.0, 57.1097),
        (0.85, 165.0, 23.0, 1405.5741),
    ],
)
def test_radiation(emissivity: float, T_C: float, T_around_C: float, flux: float) -> None:
    here = external.radiation_coefficient(emissivity, T_C, T_around_C) * (T_C - T_around_C)
    assert here * OLDER_SIGMA == pytest.approx(flux, rel=1e-6)


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
