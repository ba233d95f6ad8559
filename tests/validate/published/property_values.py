"""Water, steam, air and metals against releases, tables and libraries."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import ht
from CoolProp.CoolProp import PropsSI
from fluids import ATMOSPHERE_1976
from iapws.iapws97 import _PSat_T, _TSat_P

from boilerfront.model.props import air, solids, water
from tests.validate.checks import Allowed, Band, Group, Kind, Value
from tests.validate.published.read_table import Row, read_table

EXACT = Allowed(relative=1e-8, why="the equation itself, 9 digits printed")
SAME = Allowed(relative=1e-9, why="the same equation")
FIT = Allowed(relative=1e-3, why="promise of the fit")
TRANSPORT = Allowed(relative=5e-3, why="promise of the fit")
HEAT = Allowed(relative=1.8e-3, why="fit 0.1 %, IF97 from IAPWS-95 0.08 %")
IF97, IAPWS95 = "IF97 by iapws", "IAPWS-95 by CoolProp"
BETWEEN_C = (33.0, 72.0, 104.5, 131.0, 158.0, 187.0)
"""Temperatures between those of the tables [°C]."""
# Saturation pressures by temperature, bar: IF97 by the package iapws.
PRESSURES_BAR = {
    60: 0.19946, 80: 0.47415, 90: 0.70182, 93: 0.78568, 95: 0.84609, 100: 1.01418, 105: 1.20902, 110: 1.43376,
    120: 1.98665, 125: 2.32224, 130: 2.70260, 135: 3.13201, 140: 3.61501, 150: 4.76101, 165: 7.00820, 170: 7.92053,
}  # fmt: skip


def property_groups() -> Iterator[Group]:
    """Make the groups of this file."""
    yield saturation()
    yield liquid()
    yield transport()
    yield air_values()
    yield metals()


def by_column(line: Row, at: str, laws: dict[str, tuple[str, float, str]]) -> list[Value]:
    """Return a check for each of the columns that the line has; `laws`: name, our number, unit."""
    return [
        Value(f"{name} {at}", line[column], here, unit, line.row)
        for column, (name, here, unit) in laws.items()
        if column in line
    ]


def saturated(letter: str, T_C: float, quality: int) -> float:
    """Return a property of saturated water by CoolProp."""
    return float(PropsSI(letter, "T", T_C + 273.15, "Q", quality, "Water"))


def saturation() -> Group:
    """Saturation line and steam."""
    group = Group("saturation, steam")
    T_0 = 273.15
    points = [
        Value("psat at 300 K", 3536.58941, water.saturation_pressure(300.0 - T_0), "Pa", "W07"),
        Value("Tsat at 0.1 MPa", 372.755919, water.saturation_temperature(1e5) + T_0, "K", "W10"),
        Value("Tsat at 1 MPa", 453.035632, water.saturation_temperature(1e6) + T_0, "K", "W11"),
    ]
    group.add(points, source="IAPWS R7-97(2012), tables 35 and 36", allowed=EXACT)
    pressures = [
        Value(f"psat at {T_C} °C", p_bar, 1e-5 * water.saturation_pressure(float(T_C)), "bar", "1.3")
        for T_C, p_bar in PRESSURES_BAR.items()
    ]
    group.add(pressures, source=IF97, allowed=Allowed(absolute=6e-6, why="printed digits"))
    for line in read_table("saturation"):
        T = water.saturation_temperature(1e5 * line["p_bar"])
        at = f"at {line['p_bar']:g} bar"
        digits = Allowed(absolute=6e-4, why="printed digits")
        group.add([Value(f"Tsat {at}", line["T_C"], T, "°C", line.row)], source=IF97, allowed=digits)
        laws = {
            "h_f_kJ_kg": ("liquid enthalpy", 1e-3 * water.enthalpy(T), "kJ/kg"),
            "h_fg_kJ_kg": ("enthalpy of evaporation", 1e-3 * water.evaporation_enthalpy(T), "kJ/kg"),
            "h_g_kJ_kg": ("steam enthalpy", 1e-3 * water.steam_enthalpy(T), "kJ/kg"),
            "rho_f_kg_m3": ("liquid density", water.density(T), "kg/m3"),
            "rho_g_kg_m3": ("steam density", water.steam_density(T), "kg/m3"),
        }
        group.add(by_column(line, at, laws), source=IF97, allowed=FIT)
    for T_C in BETWEEN_C:
        p_MPa = _PSat_T(T_C + T_0)
        T = water.saturation_temperature(1e6 * p_MPa) + T_0
        equations = [
            Value(f"psat at {T_C:g} °C", 1e6 * p_MPa, water.saturation_pressure(T_C), "Pa"),
            Value(f"Tsat at {1e3 * p_MPa:.4g} kPa", _TSat_P(p_MPa), T, "K"),
        ]
        group.add(equations, source=IF97, allowed=SAME, kind=Kind.LIBRARY)
        heat = saturated("H", T_C, 1) - saturated("H", T_C, 0)
        steam = [
            Value(f"enthalpy of evaporation at {T_C:g} °C", heat, water.evaporation_enthalpy(T_C), "J/kg"),
            Value(f"steam density at {T_C:g} °C", saturated("D", T_C, 1), water.steam_density(T_C), "kg/m3"),
            Value(f"steam energy at {T_C:g} °C", saturated("U", T_C, 1), water.steam_energy(T_C), "J/kg"),
        ]
        group.add(steam, source=IAPWS95, allowed=FIT, kind=Kind.LIBRARY)
    return group


def enthalpy_at_sea_level(T_C: float) -> float:
    """Return our enthalpy, which is that of saturated liquid, taken to 1.01325 bar [J/kg]."""
    rise = max(101325.0 - water.saturation_pressure(T_C), 0.0)
    return water.enthalpy(T_C) + rise / water.density(T_C) * (1.0 - water.expansion(T_C) * (T_C + 273.15))


def liquid() -> Group:
    """Density, heat capacity, enthalpy and expansion of the liquid."""
    group = Group("liquid water")
    density = Allowed(relative=5e-4, why="half the fit's promise")
    enthalpy = Allowed(relative=1e-3, absolute=0.067, why="fit; 0.067 kJ/kg between formulations")
    expansion = Allowed(relative=6e-3, why="fit 0.5 %, formulations 0.1 %")
    # saturated liquid stands for water under pressure
    pressed_density = Allowed(relative=1.2e-3, why="fit 0.05 %, 10 bar 0.07 %")
    pressed_heat = Allowed(relative=3.3e-3, why="fit and IF97 0.18 %, 10 bar 0.15 %")
    for line in read_table("liquid"):
        T, pressed = line["T_C"], "p_bar" in line
        at = f"at {T:g} °C" + (", 10 bar" if pressed else "")
        for column, name, here, unit, allowed in (
            ("rho_kg_m3", "density", water.density(T), "kg/m3", pressed_density if pressed else density),
            ("cp_J_kgK", "heat capacity", water.heat_capacity(T), "J/kgK", pressed_heat if pressed else HEAT),
            ("h_kJ_kg", "enthalpy", 1e-3 * enthalpy_at_sea_level(T), "kJ/kg", enthalpy),
            ("beta_1_K", "thermal expansion", water.expansion(T), "1/K", expansion),
        ):
            group.add(by_column(line, at, {column: (name, here, unit)}), source=IAPWS95, allowed=allowed)
    rho = [Value(f"density at {T:g} °C", saturated("D", T, 0), water.density(T), "kg/m3") for T in BETWEEN_C]
    cp = [
        Value(f"heat capacity at {T:g} °C", saturated("C", T, 0), water.heat_capacity(T), "J/kgK")
        for T in BETWEEN_C
    ]
    group.add(rho, source=IAPWS95, allowed=FIT, kind=Kind.LIBRARY)
    group.add(cp, source=IAPWS95, allowed=HEAT, kind=Kind.LIBRARY)
    return group


def transport() -> Group:
    """Viscosity, conductivity, Prandtl number and surface tension."""
    group = Group("transport properties")
    pressed = Allowed(relative=7e-3, why="fit 0.5 %, pressure 0.2 %")
    viscosity = Value("viscosity, 298.15 K", 889.7351e-6, water.viscosity(25.0), "Pa s", "W13")
    group.add([viscosity], source="IAPWS R12-08, table 4, 998 kg/m3", allowed=pressed)
    conductivity = Value("conductivity, 298.15 K", 607.712868e-3, water.conductivity(25.0), "W/mK", "W22")
    group.add([conductivity], source="IAPWS R15-11, table 4, 998 kg/m3", allowed=pressed)
    for line in read_table("liquid"):
        T, is_pressed = line["T_C"], "p_bar" in line
        at = f"at {T:g} °C" + (", 10 bar" if is_pressed else "")
        films = {
            "mu_Pa_s": ("viscosity", water.viscosity(T), "Pa s"),
            "k_W_mK": ("conductivity", water.conductivity(T), "W/mK"),
        }
        group.add(by_column(line, at, films), source=IAPWS95, allowed=pressed if is_pressed else TRANSPORT)
        prandtl = by_column(line, at, {"Pr": ("Prandtl number", water.prandtl(T), "")})
        group.add(
            prandtl, source=IAPWS95, allowed=Allowed(relative=1.2e-2, why="fits of c_p, mu, k together")
        )
        tension = by_column(line, at, {"sigma_N_m": ("surface tension", water.surface_tension(T), "N/m")})
        digits = Allowed(relative=1e-5, why="printed digits")
        group.add(tension, source="IAPWS R1-76(2014) by iapws", allowed=digits)
    for T in BETWEEN_C:
        now = [
            Value(f"viscosity at {T:g} °C", saturated("V", T, 0), water.viscosity(T), "Pa s"),
            Value(f"conductivity at {T:g} °C", saturated("L", T, 0), water.conductivity(T), "W/mK"),
        ]
        group.add(now, source=IAPWS95, allowed=TRANSPORT, kind=Kind.LIBRARY)
    return group


def air_values() -> Group:
    """Dry air and the standard atmosphere."""
    group = Group("air, atmosphere")
    for line in read_table("air"):
        T = line["T_C"]
        laws = {
            "rho_kg_m3": ("density", air.density(T), "kg/m3"),
            "cp_J_kgK": ("heat capacity", air.heat_capacity(T), "J/kgK"),
            "mu_Pa_s": ("viscosity", air.viscosity(T), "Pa s"),
            "k_W_mK": ("conductivity", air.conductivity(T), "W/mK"),
            "Pr": ("Prandtl number", air.prandtl(T), ""),
            "nu_m2_s": ("kinematic viscosity", air.kinematic_viscosity(T), "m2/s"),
            "alpha_m2_s": ("diffusivity", air.diffusivity(T), "m2/s"),
        }
        allowed = Allowed(relative=5e-3, why="promise of the fit")
        group.add(by_column(line, f"at {T:g} °C", laws), source="Lemmon et al. by CoolProp", allowed=allowed)
    heights = [
        Value(f"pressure at {h:g} m", ATMOSPHERE_1976(h).P, air.pressure_at_altitude(h), "Pa")
        for h in (0.0, 500.0, 1000.0, 1500.0, 2500.0, 4000.0)
    ]
    group.add(
        heights,
        source="standard atmosphere 1976 by fluids",
        allowed=Allowed(relative=1e-3, why="fluids takes geometric heights"),
        kind=Kind.LIBRARY,
    )
    high, low = (p + 1.2e5 for p in (air.pressure_at_altitude(1500.0), air.STANDARD_PRESSURE_PA))
    shift = water.saturation_temperature(high) - water.saturation_temperature(low)
    group.bands(
        Band("shift of a boiler at 1.2 bar gauge by 1500 m", -2.75, -2.25, shift, "K", "trap 5"),
        Band("pressure at 1500 m", 84_000.0, 85_000.0, air.pressure_at_altitude(1500.0), "Pa", "trap 5"),
    )
    return group


def metals() -> Group:
    """Metals against a library of building materials, where its entry is of the same kind.

    Its aluminium alloys are denser than 6061 and its stainless steel is cold: those two go by handbooks, and so
    does the conductivity of tube copper, which phosphorus lowers.
    """
    group = Group("metals")
    library: Any = ht.insulation
    steel, brass = solids.STAINLESS_304L, solids.BRASS
    copper, aluminium = solids.COPPER_DHP, solids.ALUMINIUM_6061
    names = {"stainless steel": steel, "brass": brass, "copper": copper, "aluminium alloys": aluminium}
    for name, solid in names.items():
        entry = f"Metals, {name}"
        density = Value(f"density, {solid.name}", library.rho_material(entry), solid.density_kg_m3, "kg/m3")
        heat = Value(
            f"heat capacity, {solid.name}",
            library.Cp_material(entry),
            solid.heat_capacity_J_kgK,
            "J/kgK",
        )
        conductivity = Value(
            f"conductivity, {solid.name}", library.k_material(entry), solid.conductivity_W_mK, "W/mK"
        )
        for value, part, without in (
            (density, 0.03, aluminium),
            (heat, 0.06, steel),
            (conductivity, 0.15, copper),
        ):
            if solid is not without:
                allowed = Allowed(relative=part, why="handbook values")
                group.add([value], source=f"ht, {entry}", allowed=allowed, kind=Kind.LIBRARY)
    silicon, cast = solids.BRASS_LEAD_FREE, solids.ALUMINIUM_CAST
    group.bands(
        Band("heat capacity, stainless 304L", 477.0, 500.0, steel.heat_capacity_J_kgK, "J/kgK", "M01"),
        Band("conductivity, tube copper", 305.0, 340.0, copper.conductivity_W_mK, "W/mK", "M04"),
        Band("conductivity, silicon brass", 30.0, 38.0, silicon.conductivity_W_mK, "W/mK", "M07"),
        Band("density, aluminium 6061", 2690.0, 2710.0, aluminium.density_kg_m3, "kg/m3", "M08"),
        Band("conductivity, cast aluminium", 130.0, 160.0, cast.conductivity_W_mK, "W/mK", "M09"),
    )
    return group
