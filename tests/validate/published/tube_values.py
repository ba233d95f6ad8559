"""Heat transfer and friction inside straight and coiled tubes."""

from __future__ import annotations

from collections.abc import Iterator
from math import cbrt

import fluids
import ht

from boilerfront.model.laws import friction, internal
from tests.validate.checks import Allowed, Band, Group, Kind, Value
from tests.validate.published.read_table import read_table

OWN = Allowed(relative=1e-4, why="the same formula, 5 digits printed")
NOW = Allowed(relative=1e-9, why="the same formula")
FACTOR = Allowed(absolute=6e-7, why="printed digits")
AUTHORS = Allowed(relative=0.10, why="between authors")
CURVATURE = 0.08
"""Bore over coil diameter, 4 mm in 50 mm."""
ENTRY_AUTHORS = Allowed(relative=0.15, why="between authors")
RE_COIL_LAMINAR = 6000.0
"""Laminar friction is tabulated below this, turbulent above."""
PRANDTLS = ("7.0078", "2.9959", "1.8956")


def tube_groups() -> Iterator[Group]:
    """Make the groups of this file."""
    yield straight()
    yield coils()
    yield pressure()


def straight() -> Group:
    """Straight tubes, from rest to turbulent flow."""
    group = Group("convection in tubes")
    at_rest = internal.nusselt_straight(0.0, 7.0, 0.01)
    group.bands(Band("Nu of developed laminar flow, exact 3.6568", 3.65, 3.66, at_rest, "", "C01"))
    for column, source, allowed, kind in (
        ("Nu_hausen", "Hausen by ht", OWN, Kind.PUBLISHED),
        ("Nu_baehr_stephan", "Baehr, Stephan by ht", ENTRY_AUTHORS, Kind.PUBLISHED),
        ("Nu_vdi", "VDI Heat Atlas G1", ENTRY_AUTHORS, Kind.RECALLED),
    ):
        entry = [
            Value(
                f"Nu, Re {line['Re']:g}, Pr {line['Pr']:g}, d/L {line['bore_m'] / line['length_m']:.2g}",
                line[column],
                internal.nusselt_straight(line["Re"], line["Pr"], line["bore_m"] / line["length_m"]),
                "",
                line.row,
            )
            for line in read_table("straight_laminar")
        ]
        group.add(entry, source=source, allowed=allowed, kind=kind)
    for line in read_table("straight_turbulent"):
        Re = line["Re"]
        turbulent = [
            Value(f"Nu, Re {Re:g}, Pr {Pr}", line[f"Nu_{Pr}"], turbulent_nusselt(Re, float(Pr)), "", line.row)
            for Pr in PRANDTLS
        ]
        group.add(turbulent, source="Gnielinski by ht", allowed=OWN)
    _blend(group)
    for Re, Pr in ((4500.0, 9.0), (7000.0, 4.2), (30000.0, 1.4)):
        there = ht.turbulent_Gnielinski(Re=Re, Pr=Pr, fd=internal.friction_konakov(Re))
        now = Value(f"Nu, Re {Re:g}, Pr {Pr:g}", there, internal.nusselt_straight(Re, Pr, 0.01))
        group.add([now], source="Gnielinski by ht", allowed=NOW, kind=Kind.LIBRARY)
    for Re, Pr, d_over_L in ((150.0, 12.0, 0.002), (900.0, 2.2, 0.01), (2200.0, 1.8, 0.05)):
        # not through Nu_conv_internal, which mixes up the names of its entry laws
        there = ht.laminar_entry_thermal_Hausen(Re=Re, Pr=Pr, L=1.0 / d_over_L, Di=1.0)
        now = Value(f"Nu, Re {Re:g}, Pr {Pr:g}", there, internal.nusselt_straight(Re, Pr, d_over_L))
        group.add([now], source="Hausen by ht", allowed=NOW, kind=Kind.LIBRARY)
    return group


def turbulent_nusselt(Re: float, Pr: float) -> float:
    """Return our tube's law where it is turbulent, and Gnielinski's alone where it is still in transition."""
    if Re < internal.RE_TURBULENT:
        return internal.nusselt_gnielinski(Re, Pr)
    return internal.nusselt_straight(Re, Pr, 0.004)


def _blend(group: Group) -> None:
    """V. Gnielinski's line between Re 2300 and 4000; his laminar end is another author's than ours."""
    printed = {
        ("B01", 7.0078, 0.004): (6.232, 10.627, 16.486, 22.345, 31.134),
        ("B02", 2.9959, 0.004): (4.964, 8.137, 12.368, 16.598, 22.944),
        ("B03", 1.8956, 0.008): (5.256, 7.744, 11.060, 14.376, 19.351),
    }
    for (row, Pr, d_over_L), values in printed.items():
        Gz = 2300.0 * Pr * d_over_L
        laminar = cbrt(3.66**3 + 0.7**3 + (1.615 * cbrt(Gz) - 0.7) ** 3)
        for Re, Nu in zip((2300.0, 2600.0, 3000.0, 3400.0, 4000.0), values, strict=True):
            fades = 0.15 * laminar * (4000.0 - Re) / 1700.0
            allowed = Allowed(relative=1e-4, absolute=fades, why="laminar end 15 %, fading")
            here = internal.nusselt_straight(Re, Pr, d_over_L)
            value = Value(f"Nu, Re {Re:g}, Pr {Pr:g}", Nu, here, "", row)
            group.add([value], source="Gnielinski 2013", allowed=allowed, kind=Kind.RECALLED)


def coils() -> Group:
    """Helical coils."""
    group = Group("helical coils")
    whole = Allowed(absolute=0.6, why="printed digits")
    critical = [
        Value(f"critical Re, d/D {ratio:.4f}", Re, internal.critical_reynolds_helical(ratio), "", row)
        for row, ratio, Re in (
            ("H02", 0.08, 8648.0),
            ("H03", 4.0 / 30.0, 10288.0),
            ("H04", 0.1, 9318.0),
            ("H05", 0.04, 6947.0),
        )
    ]
    group.add(critical, source="Schmidt by fluids", allowed=whole)
    now = [
        Value(
            f"critical Re, d/D {ratio:g}",
            fluids.helical_Re_crit(Di=ratio, Dc=1.0, Method="Schmidt"),
            internal.critical_reynolds_helical(ratio),
        )
        for ratio in (0.02, 0.06, 0.18)
    ]
    group.add(now, source="Schmidt by fluids", allowed=NOW, kind=Kind.LIBRARY)
    for line in read_table("coil_laminar"):
        here = internal.nusselt_helical(line["Re"], line["Pr"], CURVATURE)
        what = f"laminar Nu, Re {line['Re']:g}, Pr {line['Pr']:g}"
        schmidt = Value(what, line["Nu_schmidt"], here, "", line.row)
        group.add([schmidt], source="Schmidt 1967", allowed=OWN, kind=Kind.RECALLED)
        other = Value(what, line["Nu_manlapaz_churchill"], here, "", line.row)
        authors = Allowed(relative=0.25 if line["Pr"] < 5.0 else 0.45, why="authors, exponents of Pr differ")
        group.add([other], source="Manlapaz, Churchill", allowed=authors, kind=Kind.RECALLED)
    Pr = 2.9959
    turbulent = [
        Value(f"turbulent Nu, Re {Re:g}", Nu, internal.nusselt_helical_turbulent(Re, Pr, CURVATURE), "", row)
        for row, Re, Nu in (
            ("H24", 8000.0, 63.095),
            ("H25", 12000.0, 89.104),
            ("H26", 22000.0, 149.543),
            ("H27", 30000.0, 195.088),
        )
    ]
    between = [
        Value(f"transition Nu, Re {Re:g}", Nu, internal.nusselt_helical(Re, Pr, CURVATURE), "", "H32")
        for Re, Nu in ((8648.0, 61.861), (10000.0, 70.742), (22000.0, 149.543))
    ]
    group.add([*turbulent, *between], source="Gnielinski 1986", allowed=OWN, kind=Kind.RECALLED)
    for name, law in (
        ("Schmidt", ht.helical_turbulent_Nu_Schmidt),
        ("Mori, Nakayama", ht.helical_turbulent_Nu_Mori_Nakayama),
    ):
        others = [
            Value(
                f"turbulent Nu, Re {Re:g}",
                law(Re=Re, Pr=Pr, Di=0.004, Dc=0.05),
                internal.nusselt_helical(Re, Pr, CURVATURE),
            )
            for Re in (22000.0, 30000.0, 60000.0, 100000.0)
        ]
        authors = Allowed(relative=0.30, why="between authors")
        group.add(others, source=f"{name} by ht", allowed=authors, kind=Kind.LIBRARY)
    fits = Allowed(relative=2e-3, why="viscosity: 10 bar 0.1 %, fit 0.1 %")
    flows = [
        Value(f"Re, {m:g} g/s, {T:g} °C", Re, internal.reynolds(1e-3 * m, 0.004, T), "", row)
        for row, m, T, Re in (
            ("H35", 2.0, 60.0, 1365.4),
            ("H36", 4.0, 60.0, 2730.8),
            ("H37", 2.0, 93.0, 2094.4),
            ("H38", 10.0, 93.0, 10472.0),
            ("H39", 2.0, 20.0, 635.8),
        )
    ]
    group.add(flows, source="IAPWS R12-08, 10 bar", allowed=fits)
    return group


def pressure() -> Group:
    """Friction factors (Darcy's) and the pressure drop of a coil."""
    group = Group("friction")
    laminar = Value("straight, Re 1000", 0.064, friction.friction_straight(1000.0), "", "C03")
    group.add([laminar], source="64/Re by fluids", allowed=Allowed(relative=1e-12, why="exact"))
    lines = read_table("straight_turbulent")
    konakov = [
        Value(f"Konakov, Re {x['Re']:g}", x["f_konakov"], internal.friction_konakov(x["Re"]), "", x.row)
        for x in lines
    ]
    group.add(konakov, source="Konakov 1946", allowed=FACTOR, kind=Kind.RECALLED)
    colebrook = [
        Value(f"straight, Re {x['Re']:g}", x["f_colebrook"], friction.friction_straight(x["Re"]), "", x.row)
        for x in lines
        if "f_colebrook" in x
    ]
    group.add(colebrook, source="Colebrook, smooth, by fluids", allowed=AUTHORS)
    lines = read_table("coil_friction")
    for column, source, allowed in (
        ("f_white", "White by fluids", FACTOR),
        ("f_mori_nakayama", "Mori, Nakayama by fluids", Allowed(relative=0.05, why="between authors")),
        ("f_schmidt", "Schmidt by fluids", Allowed(relative=0.40, why="authors: he reads 15 to 40 % higher")),
        ("f_mandal_nigam", "Mandal, Nigam by fluids", Allowed(relative=0.25, why="between authors")),
        ("f_guo", "Guo by fluids", Allowed(relative=0.25, why="between authors")),
    ):
        coil = [
            Value(
                f"coil, Re {x['Re']:g}", x[column], friction.friction_helical(x["Re"], CURVATURE), "", x.row
            )
            for x in lines
            if column in x and (column != "f_mori_nakayama" or x["Re"] < RE_COIL_LAMINAR)
        ]
        group.add(coil, source=source, allowed=allowed)
    turbulent = [
        Value(
            f"coil, turbulent law, Re {x['Re']:g}",
            x["f_mori_nakayama"],
            friction.friction_helical_turbulent(x["Re"], CURVATURE),
            "",
            x.row,
        )
        for x in lines
        if x["Re"] >= RE_COIL_LAMINAR
    ]
    group.add(turbulent, source="Mori, Nakayama by fluids", allowed=FACTOR)
    now = [
        Value(
            f"coil, Re {Re:g}, d/D {ratio:g}",
            law(Re=Re, Di=ratio, Dc=1.0),
            friction.friction_helical(Re, ratio),
        )
        for law, Re, ratio in (
            (fluids.helical_laminar_fd_White, 300.0, 0.05),
            (fluids.helical_laminar_fd_White, 2800.0, 0.12),
            (fluids.helical_turbulent_fd_Mori_Nakayama, 25000.0, 0.05),
            (fluids.helical_turbulent_fd_Mori_Nakayama, 50000.0, 0.12),
        )
    ]
    group.add(now, source="White; Mori, Nakayama by fluids", allowed=NOW, kind=Kind.LIBRARY)
    factor = Value("coil, Re 1706.8", 0.101794, friction.friction_helical(1706.8, CURVATURE), "", "E38")
    group.add([factor], source="White by fluids", allowed=OWN)
    drop = friction.tube_pressure_drop(0.0025, 0.004, 1.5, CURVATURE, 60.0)
    saturated = Allowed(relative=2e-3, why="density, viscosity: 10 bar and fits")
    whole = Value("coil of 1.5 m, 2.5 g/s, 60 °C", 768.01, drop, "Pa", "E38")
    group.add([whole], source="White by fluids, 10 bar", allowed=saturated)
    return group
