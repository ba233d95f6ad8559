"""Vessels: strength, insulation, expansion; tubes and elements by their sizes."""

from __future__ import annotations

from collections.abc import Iterator
from math import log, pi

from scipy.optimize import minimize_scalar

from boilerfront.model import ARCHITECTURES
from boilerfront.model.design import read_design
from boilerfront.model.figures import brew_expansion_mL
from boilerfront.model.laws import strength
from boilerfront.model.machine import Elements, Stainless, Vessels
from boilerfront.model.parts.element import make_element
from boilerfront.model.parts.helix import make_helix
from boilerfront.model.parts.vessel import Vessel, make_vessel
from tests.model.random_designs import NOMINAL
from tests.validate.checks import Allowed, Band, Group, Kind, Value

EXACT = Allowed(relative=1e-5, why="printed digits")


def vessel_groups() -> Iterator[Group]:
    """Make the groups of this file."""
    yield walls()
    yield insulation()
    yield sizes()


def walls() -> Group:
    """Walls of shells and ends."""
    group = Group("strength of vessels")
    hoop = strength.hoop_stress(1.2e6, mean_diameter_m=0.080, wall_m=0.0015)
    group.add(
        [Value("hoop stress, 12 bar, 80 mm, 1.5 mm", 32.0e6, hoop, "Pa", "E39")],
        source="p D / (2 t)",
        allowed=EXACT,
        kind=Kind.CLOSED,
    )
    group.add(
        [Value("hoop stress at the inner face", 32.0112e6, hoop, "Pa", "E40")],
        source="G. Lame, thick wall",
        allowed=Allowed(relative=0.02, why="thin wall: t/D"),
        kind=Kind.CLOSED,
    )
    shells = [
        Value(
            "shell, 100 psi, R 48 in",
            0.283353,
            strength.shell_wall(100.0, inner_radius_m=48.0, stress_Pa=20000.0, joint=0.85),
            "in",
            "E41",
        ),
        Value(
            "shell, 16 bar, R 40 mm",
            0.80463,
            1e3 * strength.shell_wall(1.6e6, inner_radius_m=0.040, stress_Pa=115e6, joint=0.70),
            "mm",
            "E42",
        ),
    ]
    group.add(shells, source="ASME VIII-1 UG-27", allowed=EXACT, kind=Kind.RECALLED)
    end = Value(
        "flat end, 12 bar, R 40 mm, 90 MPa",
        4.0,
        1e3 * strength.flat_end_wall(1.2e6, inner_radius_m=0.040, stress_Pa=90e6),
        "mm",
        "E43",
    )
    group.add([end], source="clamped plate", allowed=EXACT, kind=Kind.CLOSED)
    volumes = [float(NOMINAL.limits.volume_category_L)]
    group.bands(Band("volume of the lowest pressure category", 1.9, 2.0, volumes[0], "L", "Q01"))
    return group


def shaped(diameter_m: float, height_m: float, insulation_m: float, data: Vessels) -> Vessel:
    """Return a vessel of an inner diameter and height."""
    return make_vessel(
        pi / 4.0 * diameter_m**2 * height_m,
        height_to_diameter=height_m / diameter_m,
        valve_bar=0.5,
        insulation_m=insulation_m,
        material="stainless",
        data=data,
    )


def shell_loss_W_mK(diameter_m: float, insulation_m: float, data: Vessels) -> float:
    """Return what a metre of insulated shell loses: ends and fittings drop out between two heights."""
    low, high = (shaped(diameter_m, height, insulation_m, data).loss_W_K for height in (0.1, 0.2))
    return (high - low) / 0.1


def insulation() -> Group:
    """The loss of insulated shells and ends."""
    group = Group("insulation")
    data = Vessels(wall_mm=1.5, insulation_conductivity_W_mK=0.05, outside_W_m2K=12.0, fittings_W_K=0.0)
    # The rows have an inner film of 1000 W/m2K and a steel wall besides, which are nodes and links of their own here.
    inside = 1.0 / (1000.0 * 2.0 * pi * 0.035) + log(36.5 / 35.0) / (2.0 * pi * 15.0)
    shell = Value(
        "shell, 10 mm foam, a metre",
        1.060972 - inside,
        1.0 / shell_loss_W_mK(0.070, 0.010, data),
        "mK/W",
        "E22",
    )
    vessel = shaped(0.070, 0.1, 0.010, data)
    ends = vessel.loss_W_K - 0.1 * shell_loss_W_mK(0.070, 0.010, data)
    end_m2 = 2.0 * pi * (0.035 + vessel.wall_m) ** 2
    plane = Value("end, 10 mm foam", 0.284433 - 1e-3 - 1e-4, end_m2 / ends, "m2K/W", "E21")
    digits = Allowed(relative=1e-5, why="printed digits")
    group.add([shell, plane], source="series of resistances", allowed=digits, kind=Kind.CLOSED)
    for row, k, h, critical_mm in (("E20", 0.05, 10.0, 5.0), ("X07", 0.055, 5.0, 11.0)):
        most = critical_radius_mm(k, h)
        value = Value(f"radius of the largest loss, k {k:g}, h {h:g}", critical_mm, most, "mm", row)
        found = Allowed(relative=1e-4, why="maximum found numerically")
        group.add([value], source="k / h", allowed=found, kind=Kind.CLOSED)
    bare = shaped(0.0784, 0.120, 0.0, Vessels(fittings_W_K=0.0))
    foam = shell_loss_W_mK(0.0784, 0.010, Vessels(insulation_conductivity_W_mK=0.05, fittings_W_K=0.0))
    fair = Allowed(relative=0.10, why="one constant for film and radiation, between authors")
    values = [
        Value("bare boiler 80 x 120 mm", 0.36583, bare.loss_W_K, "W/K", "I07"),
        Value("its shell under 10 mm foam", 8.05669 / 68.0, 0.120 * foam, "W/K", "I08"),
    ]
    group.add(values, source="Churchill, Chu and radiation by ht", allowed=fair)
    return group


def critical_radius_mm(k: float, h: float) -> float:
    """Return the outer radius at which a thin tube under insulation loses most [mm]."""
    data = Vessels(
        wall_mm=0.5,
        stainless=Stainless(minimum_wall_mm=0.5),
        insulation_conductivity_W_mK=k,
        outside_W_m2K=h,
        fittings_W_K=0.0,
    )
    inner = 2e-3

    def gain(thickness: float) -> float:
        return -shell_loss_W_mK(inner, thickness, data)

    best = minimize_scalar(gain, bounds=(1e-4, 0.03), method="bounded", options={"xatol": 1e-9})
    return 1e3 * (inner / 2.0 + 0.5e-3 + float(best.x))


def sizes() -> Group:
    """Coil tubes, elements and what expands."""
    group = Group("sizes")
    vessel = shaped(0.12, 0.2, 0.0, Vessels())
    for bore, mass in ((4.0, 0.1403), (6.0, 0.1964)):
        values: dict[str, float | str] = {
            "architecture": "dual_boiler_coil",
            "coil_bore_mm": bore,
            "coil_outer_mm": bore + 2.0,
            "coil_material": "copper",
        }
        helix = make_helix(read_design(values, NOMINAL.machine), vessel, NOMINAL.machine.coil)
        per_m = helix.mass_kg / (helix.length_m + 2.0 * helix.header_m)
        value = Value(f"copper tube {bore + 2.0:g} x 1", mass, per_m, "kg/m", "R15")
        digits = Allowed(absolute=6e-5, why="printed digits")
        group.add([value], source="sizes, 8930 kg/m3", allowed=digits, kind=Kind.CLOSED)
    elements = Elements(sheath_mm=6.5, load_W_cm2=1200.0 / 122.52)
    element = make_element(1200.0, shaped(0.2, 0.3, 0.0, Vessels()), 0.9, elements)
    area = Value("surface of 0.6 m of 6.5 mm sheath", 122.52, 1e4 * element.area_m2, "cm2", "R16")
    length = Value("its length", 0.6, element.length_m, "m", "R16")
    digits = Allowed(relative=1e-4, why="printed digits")
    group.add([area, length], source="sizes", allowed=digits, kind=Kind.CLOSED)
    site = NOMINAL.site.model_copy(update={"ambient_C": 20.0})
    brief = NOMINAL.model_copy(update={"site": site})
    design = read_design({"architecture": "dual_boiler", "brew_volume_mL": 1000.0}, brief.machine)
    expanded = brew_expansion_mL(ARCHITECTURES["dual_boiler"].build(design, brief), brief)
    value = Value("expansion of 1 L, 20 to 93 °C", 36.250, expanded, "mL", "E18")
    five = Allowed(relative=5e-3, why="small difference of two densities; 10 bar")
    group.add([value], source="IAPWS-95 by CoolProp, 10 bar", allowed=five)
    return group
