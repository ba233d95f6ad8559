"""Outside of tubes, elements and casings: free convection, radiation, condensation, boiling."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import pi, sqrt

import ht
from CoolProp.CoolProp import PropsSI

from boilerfront.model.laws import external, phase
from boilerfront.model.props import air, water
from tests.validate.checks import Allowed, Band, Group, Kind, Value
from tests.validate.published.read_table import read_table

Nusselt = Callable[[float, float], float]
Film = Callable[[float, float, float], float]
PROPERTIES = Allowed(relative=5e-3, why="fits of the properties")
PLATE_TO_TUBE = 0.729 / (2.0 * sqrt(2.0) / 3.0)
"""ht's film law is that of the plate, 0.9428."""
COOPER = Allowed(relative=1e-3, why="4 digits printed, ht rounds a constant")


def surface_groups() -> Iterator[Group]:
    """Make the groups of this file."""
    yield convection()
    yield radiation()
    yield condensation()
    yield boiling()


def convection() -> Group:
    """Free convection from cylinders and walls to air and water."""
    group = Group("free convection")
    cylinder, plate = external.nusselt_horizontal_cylinder, external.nusselt_vertical_plate
    bodies: dict[float, tuple[str, Nusselt, Callable[[float], float], Film]] = {
        1.0: ("cylinder in air", cylinder, air.prandtl, external.horizontal_cylinder_in_air),
        2.0: ("wall in air", plate, air.prandtl, external.vertical_plate_in_air),
        3.0: ("cylinder in water", cylinder, water.prandtl, external.horizontal_cylinder_in_water),
    }
    rounded = Allowed(relative=1e-3, why="Ra printed to 5 digits, Pr fitted")
    for line in read_table("free_convection"):
        name, nusselt, prandtl, coefficient = bodies[line["body"]]
        hot, cold, size = line["surface_C"], line["fluid_C"], 1e-3 * line["size_mm"]
        at = f"{name}, {line['size_mm']:g} mm, {hot:g}/{cold:g} °C"
        Nu = nusselt(line["Ra"], prandtl(0.5 * (hot + cold)))
        group.add(
            [Value(f"Nu, {at}", line["Nu"], Nu, "", line.row)], source="Churchill, Chu by ht", allowed=rounded
        )
        h = Value(f"h, {at}", line["h_W_m2K"], coefficient(hot, cold, size), "W/m2K", line.row)
        group.add([h], source="Churchill, Chu by ht, CoolProp", allowed=PROPERTIES)
    same = Allowed(relative=1e-9, why="the same formula")
    for Ra, Pr in ((3.0e4, 0.71), (2.0e6, 0.70), (8.0e5, 2.0), (3.0e7, 6.0)):
        now = [
            Value(
                f"Nu, cylinder, Ra {Ra:g}, Pr {Pr:g}",
                ht.Nu_horizontal_cylinder_Churchill_Chu(Pr=Pr, Gr=Ra / Pr),
                cylinder(Ra, Pr),
            ),
            Value(
                f"Nu, wall, Ra {Ra:g}, Pr {Pr:g}",
                ht.Nu_vertical_plate_Churchill(Pr=Pr, Gr=Ra / Pr),
                plate(Ra, Pr),
            ),
        ]
        group.add(now, source="Churchill, Chu by ht", allowed=same, kind=Kind.LIBRARY)
    book = Allowed(relative=0.015, why="the example's rounded properties")
    example = "Incropera, DeWitt, example, recomputed"
    pipe = external.horizontal_cylinder_in_air(165.0, 23.0, 0.1)
    group.add(
        [Value("h, steam pipe 0.1 m, 165/23 °C", 7.284, pipe, "W/m2K", "X01")], source=example, allowed=book
    )
    screen = external.vertical_plate_in_air(232.0, 23.0, 0.71)
    group.add(
        [Value("h, fire screen 0.71 m, 232/23 °C", 7.003, screen, "W/m2K", "X02")],
        source=example,
        allowed=book,
    )
    return group


def radiation() -> Group:
    """Radiation to the room."""
    group = Group("radiation")
    digits = Allowed(absolute=6e-5, why="printed digits")
    for line in read_table("radiation"):
        hot, emissivity = line["surface_C"], line["emissivity"]
        h = external.radiation_coefficient(emissivity, hot, 25.0)
        value = Value(f"h, emissivity {emissivity:g}, {hot:g}/25 °C", line["h_W_m2K"], h, "W/m2K", line.row)
        group.add([value], source="ht, q_rad", allowed=digits)
    constant = Allowed(relative=2e-6, why="constants of CODATA 2014 and 2018")
    for row, emissivity, hot, cold, q in (
        ("N24", 1.0, 93.0, 25.0, 571.0969),
        ("N25", 0.9, 125.0, 25.0, 879.1831),
        ("N26", 0.1, 93.0, 25.0, 57.1097),
        ("N27", 0.85, 165.0, 23.0, 1405.5741),
    ):
        flux = external.radiation_coefficient(emissivity, hot, cold) * (hot - cold)
        value = Value(f"flux, emissivity {emissivity:g}, {hot:g}/{cold:g} °C", q, flux, "W/m2", row)
        group.add([value], source="ht, q_rad", allowed=constant)
    pipe = pi * 0.1 * external.radiation_coefficient(0.85, 165.0, 23.0) * 142.0
    book = Allowed(relative=0.015, why="the example's whole kelvins")
    value = Value("steam pipe 0.1 m, a metre", 441.0, pipe, "W/m", "X01")
    group.add([value], source="Incropera, DeWitt, example, recomputed", allowed=book)
    return group


def condensation() -> Group:
    """Film condensation on a horizontal tube."""
    group = Group("condensation")
    fits = Allowed(relative=1e-2, why="fits of five properties")
    cases = (
        ("F01", 120.210, 93.0, 6.0, 14303.0),
        ("F02", 120.210, 110.0, 6.0, 18529.0),
        ("F03", 124.686, 60.0, 8.0, 10421.0),
        ("F04", 104.784, 95.0, 8.0, 16885.0),
    )
    films = [
        Value(
            f"h, {steam:g}/{wall:g} °C, {D:g} mm",
            h,
            phase.film_condensation(steam, wall, 1e-3 * D),
            "W/m2K",
            row,
        )
        for row, steam, wall, D, h in cases
    ]
    group.add(films, source="Nusselt by ht, rescaled to the tube", allowed=fits)
    now = [
        Value(
            f"h, {steam:g}/{wall:g} °C, {D:g} mm",
            film_by_library(steam, wall, 1e-3 * D),
            phase.film_condensation(steam, wall, 1e-3 * D),
            "W/m2K",
        )
        for steam, wall, D in ((124.0, 15.0, 5.0), (118.0, 116.0, 5.0), (132.0, 70.0, 9.0))
    ]
    group.add(now, source="Nusselt by ht, CoolProp", allowed=fits, kind=Kind.LIBRARY)
    h = phase.film_condensation(40.0, 30.0, 0.03)
    steam_g_s = (
        1e3 * h * pi * 0.03 * 10.0 / (water.evaporation_enthalpy(40.0) + 6.8 * water.heat_capacity(35.0))
    )
    book = Allowed(relative=0.01, why="the example's rounded properties")
    example = [
        Value("h, condenser tube at 7.38 kPa", 9292.2, h, "W/m2K", "X08"),
        Value("heat of a metre of it", 8757.7, h * pi * 0.03 * 10.0, "W", "X08"),
        Value("condensate of a metre of it", 3.5960, steam_g_s, "g/s", "X08"),
    ]
    group.add(example, source="Cengel, example, recomputed", allowed=book)
    return group


def film_by_library(steam_C: float, wall_C: float, D_m: float) -> float:
    """Return Nusselt's film with all properties by CoolProp; ht takes plain enthalpy of evaporation."""
    film_K = 0.5 * (steam_C + wall_C) + 273.15
    rho, cp, mu, k = (PropsSI(letter, "T", film_K, "Q", 0, "Water") for letter in ("D", "C", "V", "L"))
    rho_g, h_g = (PropsSI(letter, "T", steam_C + 273.15, "Q", 1, "Water") for letter in ("D", "H"))
    heat = h_g - PropsSI("H", "T", steam_C + 273.15, "Q", 0, "Water") + 0.68 * cp * (steam_C - wall_C)
    plate = ht.Nusselt_laminar(Tsat=steam_C, Tw=wall_C, rhog=rho_g, rhol=rho, kl=k, mul=mu, Hvap=heat, L=D_m)
    return float(plate) * PLATE_TO_TUBE


def boiling() -> Group:
    """Nucleate boiling on an element, and where it burns out."""
    group = Group("boiling")
    factors = []
    inverted = []
    for line in read_table("boiling"):
        p, q, h = 1e5 * line["p_bar"], 1e3 * line["q_kW_m2"], line["h_W_m2K"]
        at = f"{line['p_bar']:g} bar, {line['q_kW_m2']:g} kW/m2"
        factors.append(Value(f"h at flux, {at}", h, phase.cooper_factor(p) * q**0.67, "W/m2K", line.row))
        inverted.append(Value(f"h at superheat, {at}", h, phase.pool_boiling(p, q / h), "W/m2K", line.row))
    group.add(factors, source="Cooper by ht", allowed=COOPER)
    cubed = Allowed(relative=3e-3, why="as above, tripled: q goes with the cube")
    group.add(inverted, source="Cooper by ht", allowed=cubed)
    for p_bar, superheat in ((1.2, 6.0), (2.6, 5.0), (3.4, 9.0)):
        here = phase.pool_boiling(1e5 * p_bar, superheat)
        there = ht.Cooper(P=1e5 * p_bar, Pc=22.064e6, MW=18.015268, q=here * superheat, Rp=1e-6)
        now = Value(f"h, {p_bar:g} bar, {superheat:g} K", there, here, "W/m2K")
        group.add([now], source="Cooper by ht", allowed=cubed, kind=Kind.LIBRARY)
    zuber = [
        Value(
            f"critical heat flux at {p_bar:g} bar",
            1e6 * q,
            phase.critical_heat_flux(water.saturation_temperature(1e5 * p_bar)),
            "W/m2",
            row,
        )
        for row, p_bar, q in (
            ("F07", 1.01325, 1.1084),
            ("F12", 2.0, 1.4544),
            ("F17", 2.3, 1.5358),
            ("F20", 3.0, 1.7011),
        )
    ]
    group.add(
        zuber, source="Zuber, 0.131, by ht", allowed=Allowed(relative=2e-3, why="fits of the properties")
    )
    pan = 0.149 / 0.131 * phase.critical_heat_flux(100.0)
    book = Allowed(relative=0.01, why="the example's rounded properties")
    value = Value("critical heat flux in a pan, 0.149", 1.258e6, pan, "W/m2", "X03")
    group.add([value], source="Incropera, DeWitt, example, recomputed", allowed=book)
    burn_out = 1e-4 * phase.critical_heat_flux(124.0)
    group.bands(Band("critical heat flux over 20 W/cm2 at 124 °C", 5.0, 10.0, burn_out / 20.0, "", "R17"))
    return group
