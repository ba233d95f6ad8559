"""Film laws as the kernel takes them: polynomials, fitted to the correlations once for each design.

A table has a row for each x of the grid (root of the flow, or a bulk temperature), which holds the coefficients
over y: a temperature, or the fourth root of a difference (see `kernel.films`). All films in W/m2K.
"""

from __future__ import annotations

from math import sqrt

import numpy as np

from boilerfront.model.kernel.layout import (
    COEFFICIENTS,
    DIFFERENCE_TOP_K,
    FLOW_TOP_KG_S,
    LEAST_ROOT,
    NX,
    PER_SUPERHEAT,
    PER_T,
    SUPERHEAT_TOP_K,
    T_TOP_C,
)
from boilerfront.model.laws.external import horizontal_cylinder_in_air, horizontal_cylinder_in_water
from boilerfront.model.laws.internal import nusselt_hausen, nusselt_helical, nusselt_straight, reynolds
from boilerfront.model.laws.phase import film_condensation, pool_boiling
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
COLDEST_BATH_C = 10.0
COSINES = np.cos(np.pi * (np.arange(FIT_POINTS) + 0.5) / FIT_POINTS)
"""Chebyshev points: where correlations are asked."""


def _fit(points: Floats, *, first: int = 0) -> Floats:
    """Return how coefficients follow from values at `points` [rows, FIT_POINTS]: [rows, COEFFICIENTS, FIT_POINTS].

    Powers below `first` stay out.
    """
    fit = np.zeros((len(points), COEFFICIENTS, FIT_POINTS))
    for row, at in zip(fit, points, strict=True):
        row[first:] = np.linalg.pinv(np.vander(at, COEFFICIENTS, increasing=True)[:, first:])
    return fit


def _between(low: float, tops: Floats) -> Floats:
    """Return Chebyshev points from `low` to each of `tops` [rows, FIT_POINTS]."""
    return 0.5 * (low + tops)[:, None] + 0.5 * (tops - low)[:, None] * COSINES


_BATHS_C = np.maximum(T_TOP_C * np.arange(NX) / (NX - 1), COLDEST_BATH_C)
# roots of the difference of a colder tube, down to 0 °C; of a hotter surface; temperatures of water; superheats
TUBE_ROOTS = _between(LEAST_ROOT, _BATHS_C**0.25)
SURFACE_ROOTS = _between(LEAST_ROOT, np.full(NX, DIFFERENCE_TOP_K**0.25))
WATER_PLACES = _between(0.0, np.full(NX, T_TOP_C * PER_T))
SUPERHEAT_PLACES = _between(0.0, np.full(NX, SUPERHEAT_TOP_K * PER_SUPERHEAT))
TUBE_FIT, SURFACE_FIT, WATER_FIT = _fit(TUBE_ROOTS), _fit(SURFACE_ROOTS), _fit(WATER_PLACES)
SUPERHEAT_FIT = _fit(SUPERHEAT_PLACES, first=1)
"""Without superheat there is no boiling."""


@compiled
def flow_of(i: int) -> float:
    """Return the flow at a row of the grid [kg/s]."""
    return FLOW_TOP_KG_S * (i / (NX - 1.0)) ** 2


@compiled
def temperature_of(i: int) -> float:
    """Return the bulk temperature at a row of the grid [°C]."""
    return T_TOP_C * i / (NX - 1.0)


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
    """Inside a tube, over the water's temperature; `ratio` is the bore over what the law asks for."""
    values = np.empty((NX, FIT_POINTS))
    for j in range(FIT_POINTS):
        t = WATER_PLACES[0, j] / PER_T
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
            values[i, j] = nusselt * k
    return _fitted(values, WATER_FIT)


@compiled_making_arrays
def bath_table(outer_m: float) -> Floats:
    """Free convection from water to a colder tube in it, by bath temperature, over the root."""
    values = np.empty((NX, FIT_POINTS))
    for i in range(NX):
        bath = temperature_of(i)
        for j in range(FIT_POINTS):
            values[i, j] = horizontal_cylinder_in_water(bath - TUBE_ROOTS[i, j] ** 4, bath, outer_m)
    return _fitted(values, TUBE_FIT)


@compiled_making_arrays
def condensation_table(outer_m: float) -> Floats:
    """Film condensation on a tube times the root, by steam temperature, over the root."""
    values = np.empty((NX, FIT_POINTS))
    for i in range(NX):
        steam = temperature_of(i)
        for j in range(FIT_POINTS):
            root = TUBE_ROOTS[i, j]
            values[i, j] = film_condensation(steam, steam - root**4, outer_m) * root
    return _fitted(values, TUBE_FIT)


@compiled_making_arrays
def _fitted(values: Floats, fit: Floats) -> Floats:
    """Return the coefficients [NX, COEFFICIENTS] that fit `values` [NX, FIT_POINTS] best."""
    table = np.zeros((NX, COEFFICIENTS))
    for i in range(NX):
        for k in range(COEFFICIENTS):
            for j in range(FIT_POINTS):
                table[i, k] += fit[i, k, j] * values[i, j]
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
    """Free convection from a sheath to colder water, by water temperature, over the root."""
    values = np.empty((NX, FIT_POINTS))
    for i in range(NX):
        water = temperature_of(i)
        for j in range(FIT_POINTS):
            values[i, j] = horizontal_cylinder_in_water(water + SURFACE_ROOTS[i, j] ** 4, water, sheath_m)
    return _fitted(values, SURFACE_FIT)


@compiled_making_arrays
def boiling_table(least_Pa: float) -> Floats:
    """Root of the film of pool boiling, by water temperature, over the superheat of the sheath.

    The pressure on the water is `least_Pa` or its own saturation pressure, whichever is higher.
    """
    values = np.empty((NX, FIT_POINTS))
    for i in range(NX):
        pressure = max(least_Pa, saturation_pressure(temperature_of(i)))
        for j in range(FIT_POINTS):
            values[i, j] = sqrt(pool_boiling(pressure, SUPERHEAT_PLACES[i, j] / PER_SUPERHEAT))
    return _fitted(values, SUPERHEAT_FIT)


@compiled_making_arrays
def air_table(diameter_m: float, air_Pa: float) -> Floats:
    """Free convection to air of a pressure, by air temperature, over the root."""
    values = np.empty((NX, FIT_POINTS))
    for i in range(NX):
        air = temperature_of(i)
        for j in range(FIT_POINTS):
            surface = air + SURFACE_ROOTS[i, j] ** 4
            values[i, j] = horizontal_cylinder_in_air(surface, air, diameter_m, air_Pa)
    return _fitted(values, SURFACE_FIT)
