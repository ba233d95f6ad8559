"""Tables of the film laws over the kernel's grid, taken from the correlations once for each design.

Rows follow x (root of the flow, or a bulk temperature), columns y (a temperature, or the fourth root of a
difference): see `kernel.films`. All coefficients in W/m2K.
"""

from __future__ import annotations

from math import sqrt

import numpy as np

from boilerfront.model.kernel.layout import (
    DEGREE,
    DIFFERENCE_TOP_K,
    FLOW_TOP_KG_S,
    LEAST_DIFFERENCE_K,
    NX,
    NY,
    SUPERHEAT_TOP_K,
    T_TOP_C,
)
from boilerfront.model.laws.external import horizontal_cylinder_in_air, horizontal_cylinder_in_water
from boilerfront.model.laws.internal import nusselt_hausen, nusselt_helical, nusselt_straight, reynolds
from boilerfront.model.laws.phase import film_condensation, pool_boiling
from boilerfront.model.props.air import STANDARD_PRESSURE_PA
from boilerfront.model.props.compiled import compiled, compiled_making_arrays
from boilerfront.model.props.water import (
    conductivity,
    prandtl,
    saturation_pressure,
    saturation_temperature,
)
from boilerfront.shared.shapes import Floats

FLOWS_KG_S: Floats = FLOW_TOP_KG_S * (np.arange(NX) / (NX - 1)) ** 2
"""The flows of the grid [kg/s]."""
FIT_POINTS = 14


def _fit_points() -> tuple[Floats, Floats]:
    """Return where polynomials are fitted [NX, FIT_POINTS] and how coefficients follow [NX, DEGREE + 1, FIT_POINTS].

    Chebyshev points of the fourth root of the difference, from the least one to a surface at 0 °C.
    """
    cosines = np.cos(np.pi * (np.arange(FIT_POINTS) + 0.5) / FIT_POINTS)
    low = LEAST_DIFFERENCE_K**0.25
    tops = np.maximum(T_TOP_C * np.arange(NX) / (NX - 1), COLDEST_BATH_C) ** 0.25
    roots = 0.5 * (low + tops)[:, None] + 0.5 * (tops - low)[:, None] * cosines
    fits = [np.linalg.pinv(np.vander(row, DEGREE + 1, increasing=True)) for row in roots]
    return roots, np.array(fits)


COLDEST_BATH_C = 10.0
FIT_ROOTS, FIT = _fit_points()


@compiled
def flow_of(i: int) -> float:
    """Return the flow at a row of the grid [kg/s]."""
    return FLOW_TOP_KG_S * (i / (NX - 1.0)) ** 2


@compiled
def temperature_of(i: int) -> float:
    """Return the bulk temperature at a row of the grid [°C]."""
    return T_TOP_C * i / (NX - 1.0)


@compiled
def difference_of(j: int) -> float:
    """Return the temperature difference at a column of the grid [K]."""
    return DIFFERENCE_TOP_K * (j / (NY - 1.0)) ** 4


HELIX, STRAIGHT, LAMINAR = 0, 1, 2


def helix_table(bore_m: float, curvature: float) -> Floats:
    """Inside a helix of bore over mean diameter `curvature`, by flow and water temperature."""
    return _tube_table(HELIX, bore_m, curvature)


def straight_table(bore_m: float, length_m: float) -> Floats:
    """Inside a straight tube with developing flow, by flow and water temperature."""
    return _tube_table(STRAIGHT, bore_m, bore_m / length_m)


def passage_table(bore_m: float, length_m: float) -> Floats:
    """Inside the group's passage (Hausen's laminar law), by flow and water temperature."""
    return _tube_table(LAMINAR, bore_m, bore_m / length_m)


@compiled_making_arrays
def _tube_table(law: int, bore_m: float, ratio: float) -> Floats:
    """Inside a tube; `ratio` is the bore over what the law asks for."""
    table = np.empty((NX, NY))
    for j in range(NY):
        t = T_TOP_C * j / (NY - 1.0)
        pr = prandtl(t)
        k = conductivity(t) / bore_m
        for i in range(NX):
            re = reynolds(flow_of(i), bore_m, t)
            if law == HELIX:
                nusselt = nusselt_helical(re, pr, ratio)
            elif law == STRAIGHT:
                nusselt = nusselt_straight(re, pr, ratio)
            else:
                nusselt = nusselt_hausen(re, pr, ratio)
            table[i, j] = nusselt * k
    return table


@compiled_making_arrays
def bath_table(outer_m: float) -> Floats:
    """Free convection from water to a colder tube in it, by bath temperature: polynomials in the root."""
    values = np.empty((NX, FIT_POINTS))
    for i in range(NX):
        bath = temperature_of(i)
        for j in range(FIT_POINTS):
            values[i, j] = horizontal_cylinder_in_water(bath - FIT_ROOTS[i, j] ** 4, bath, outer_m)
    return _fitted(values)


@compiled_making_arrays
def condensation_table(outer_m: float) -> Floats:
    """Film condensation on a tube times the root, by steam temperature: polynomials in the root."""
    values = np.empty((NX, FIT_POINTS))
    for i in range(NX):
        steam = temperature_of(i)
        for j in range(FIT_POINTS):
            root = FIT_ROOTS[i, j]
            values[i, j] = film_condensation(steam, steam - root**4, outer_m) * root
    return _fitted(values)


@compiled_making_arrays
def _fitted(values: Floats) -> Floats:
    """Return rows whose first entries are the coefficients that fit `values` [NX, FIT_POINTS] best."""
    table = np.zeros((NX, NY))
    for i in range(NX):
        for k in range(DEGREE + 1):
            for j in range(FIT_POINTS):
                table[i, k] += FIT[i, k, j] * values[i, j]
    return table


@compiled
def sheath_film(water_C: float, difference_K: float, sheath_m: float, boils_at_Pa: float) -> float:
    """Return the coefficient of a hot sheath in water: free convection and nucleate boiling added.

    The sum is the superposition of W. M. Rohsenow (1952). `boils_at_Pa` is the pressure on the water.
    """
    sheath = water_C + difference_K
    free = horizontal_cylinder_in_water(sheath, water_C, sheath_m)
    return free + pool_boiling(boils_at_Pa, sheath - saturation_temperature(boils_at_Pa))


@compiled_making_arrays
def sheath_table(sheath_m: float) -> Floats:
    """Free convection from a sheath to colder water, by water temperature and difference."""
    table = np.empty((NX, NY))
    for i in range(NX):
        water = temperature_of(i)
        for j in range(NY):
            table[i, j] = horizontal_cylinder_in_water(water + difference_of(j), water, sheath_m)
    return table


@compiled_making_arrays
def boiling_table(least_Pa: float) -> Floats:
    """Root of the film of pool boiling, by water temperature and superheat of the sheath.

    The pressure on the water is `least_Pa` or its own saturation pressure, whichever is higher.
    """
    table = np.empty((NX, NY))
    for i in range(NX):
        pressure = max(least_Pa, saturation_pressure(temperature_of(i)))
        for j in range(NY):
            table[i, j] = sqrt(pool_boiling(pressure, SUPERHEAT_TOP_K * j / (NY - 1.0)))
    return table


@compiled_making_arrays
def air_table(diameter_m: float, air_Pa: float = STANDARD_PRESSURE_PA) -> Floats:
    """Free convection to air of a pressure, by air temperature and difference."""
    table = np.empty((NX, NY))
    for i in range(NX):
        air = temperature_of(i)
        for j in range(NY):
            table[i, j] = horizontal_cylinder_in_air(air + difference_of(j), air, diameter_m, air_Pa)
    return table
