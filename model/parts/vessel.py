"""A boiler's vessel: size, walls, mass, loss, outer dimensions."""

from __future__ import annotations

from dataclasses import dataclass
from math import log, pi

from boilerfront.model.laws.strength import dished_end_wall, flat_end_wall, shell_wall
from boilerfront.model.machine import Vessels
from boilerfront.model.props.solids import BRASS_LEAD_FREE, COPPER_DHP, STAINLESS_304L, Solid

MATERIALS: dict[str, Solid] = {
    "stainless": STAINLESS_304L,
    "copper": COPPER_DHP,
    "lead_free_brass": BRASS_LEAD_FREE,
}
"""What the names of materials stand for."""

OVER_VALVE = 1.1
"""The wall is sized for the safety valve's pressure and ten percent (our judgement)."""
END_TO_SHELL = 2.0
"""Ends count this many times the shell's thickness in mass, for flanges and ports; flat ones are no thinner."""


@dataclass(frozen=True)
class Vessel:
    """An upright cylinder with ends; lengths in m, inside unless named outer.

    `height_m` is that of the flat-ended cylinder of the same volume: levels and layers count in it.
    """

    volume_m3: float
    diameter_m: float
    height_m: float
    wall_m: float
    required_wall_m: float
    end_wall_m: float
    required_end_wall_m: float
    mass_kg: float
    heat_capacity_J_K: float
    inner_area_m2: float
    section_m2: float
    insulated_area_m2: float
    loss_W_K: float
    along_wall_Wm_K: float
    """Conductance along a metre of the shell [W m/K]."""
    outer_diameter_m: float
    outer_height_m: float
    valve_Pa: float

    @property
    def wall_slack_m(self) -> float:
        """Return how much thicker shell and ends are than the pressure needs, the lesser of both [m]."""
        return min(self.wall_m - self.required_wall_m, self.end_wall_m - self.required_end_wall_m)


@dataclass(frozen=True)
class _Walls:
    """Thickness of shell and ends, chosen and required by the pressure [m]."""

    shell_m: float
    required_shell_m: float
    end_m: float
    required_end_m: float


def make_vessel(
    volume_m3: float,
    *,
    height_to_diameter: float,
    valve_bar: float,
    insulation_m: float,
    material: str,
    data: Vessels,
) -> Vessel:
    """Size a vessel for a safety valve's pressure [bar gauge]."""
    solid = MATERIALS[material]
    diameter = (4.0 * volume_m3 / (pi * height_to_diameter)) ** (1.0 / 3.0)
    height = height_to_diameter * diameter
    walls = _walls(OVER_VALVE * valve_bar * 1e5, diameter, material, data)
    section = pi / 4.0 * diameter**2
    shell = pi * diameter * height
    end_mass_m = max(walls.end_m, END_TO_SHELL * walls.shell_m)
    mass = solid.density_kg_m3 * (walls.shell_m * shell + end_mass_m * 2.0 * section)
    outer = diameter + 2.0 * (walls.shell_m + insulation_m)
    # 2:1 ends are D/4 deep each and hold D/6 of the cylinder's height: of the same volume, D/6 taller in all.
    bulge = diameter / 6.0 if data.ends == "dished" else 0.0
    return Vessel(
        volume_m3=volume_m3,
        diameter_m=diameter,
        height_m=height,
        wall_m=walls.shell_m,
        required_wall_m=walls.required_shell_m,
        end_wall_m=walls.end_m,
        required_end_wall_m=walls.required_end_m,
        mass_kg=mass,
        heat_capacity_J_K=mass * solid.heat_capacity_J_kgK,
        inner_area_m2=shell + 2.0 * section,
        section_m2=section,
        insulated_area_m2=pi * outer * height + 2.0 * section,
        along_wall_Wm_K=solid.conductivity_W_mK * pi * diameter * walls.shell_m,
        loss_W_K=_loss(diameter / 2.0 + walls.shell_m, height, insulation_m, data) + data.fittings_W_K,
        outer_diameter_m=outer,
        outer_height_m=height + bulge + 2.0 * (walls.end_m + insulation_m),
        valve_Pa=valve_bar * 1e5,
    )


def _walls(pressure_Pa: float, diameter_m: float, material: str, data: Vessels) -> _Walls:
    """Return the walls; dished ends are of the shell's sheet, so that both need what the weaker one needs."""
    metal = data.metal(material)
    stress = 1e6 * metal.stress_MPa
    shell = shell_wall(pressure_Pa, inner_radius_m=diameter_m / 2, stress_Pa=stress, joint=metal.joint)
    dished = dished_end_wall(pressure_Pa, inner_diameter_m=diameter_m, stress_Pa=stress, joint=metal.joint)
    flat = flat_end_wall(pressure_Pa, inner_radius_m=diameter_m / 2, stress_Pa=stress)
    needed = max(shell, dished) if data.ends == "dished" else shell
    wall = max(needed if data.wall_mm is None else 1e-3 * data.wall_mm, 1e-3 * metal.minimum_wall_mm)
    if data.ends == "dished":
        return _Walls(wall, shell, wall, dished)
    return _Walls(wall, shell, max(flat, END_TO_SHELL * wall), flat)


def _loss(radius_m: float, height_m: float, insulation_m: float, data: Vessels) -> float:
    """Return UA of an insulated cylinder with flat ends [W/K]: series resistances, closed form."""
    k = data.insulation_conductivity_W_mK
    h = data.outside_W_m2K
    outer = radius_m + insulation_m
    shell = log(outer / radius_m) / (2.0 * pi * k * height_m) + 1.0 / (h * 2.0 * pi * outer * height_m)
    end = (insulation_m / k + 1.0 / h) / (pi * radius_m**2)
    return 1.0 / shell + 2.0 / end
