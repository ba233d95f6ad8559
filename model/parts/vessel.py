"""A boiler's vessel: size, wall, mass, loss, outer dimensions."""

from __future__ import annotations

from dataclasses import dataclass
from math import log, pi

from boilerfront.model.laws.strength import dished_end_wall, shell_wall
from boilerfront.model.machine import Vessels
from boilerfront.model.props.solids import COPPER_DHP, STAINLESS_304L, Solid

MATERIALS: dict[str, tuple[Solid, float]] = {
    "stainless": (STAINLESS_304L, 115e6),
    "copper": (COPPER_DHP, 46e6),
}
"""Solid and allowable stress [Pa] near 150 °C, both stresses from memory."""

OVER_VALVE = 1.1
"""The wall is sized for the safety valve's pressure and ten percent (our judgement)."""


@dataclass(frozen=True)
class Vessel:
    """An upright cylinder with ends; lengths in m, inside unless named outer."""

    volume_m3: float
    diameter_m: float
    height_m: float
    wall_m: float
    required_wall_m: float
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


def make_vessel(
    volume_m3: float,
    *,
    height_to_diameter: float,
    valve_bar: float,
    insulation_m: float,
    material: str,
    data: Vessels,
) -> Vessel:
    """Size a vessel; the wall is what the pressure needs, never under the workshop's minimum."""
    solid, stress_Pa = MATERIALS[material]
    diameter = (4.0 * volume_m3 / (pi * height_to_diameter)) ** (1.0 / 3.0)
    height = height_to_diameter * diameter
    pressure = OVER_VALVE * valve_bar * 1e5
    required = max(
        shell_wall(pressure, inner_radius_m=diameter / 2, stress_Pa=stress_Pa, joint=data.weld_efficiency),
        dished_end_wall(pressure, inner_diameter_m=diameter, stress_Pa=stress_Pa, joint=data.weld_efficiency),
    )
    wall = max(required, 1e-3 * data.minimum_wall_mm)
    section = pi / 4.0 * diameter**2
    shell = pi * diameter * height
    # The ends count twice the shell's thickness in mass.
    mass = solid.density_kg_m3 * wall * (shell + 2.0 * section * 2.0)
    outer = diameter + 2.0 * (wall + insulation_m)
    return Vessel(
        volume_m3=volume_m3,
        diameter_m=diameter,
        height_m=height,
        wall_m=wall,
        required_wall_m=required,
        mass_kg=mass,
        heat_capacity_J_K=mass * solid.heat_capacity_J_kgK,
        inner_area_m2=shell + 2.0 * section,
        section_m2=section,
        insulated_area_m2=pi * outer * height + 2.0 * section,
        along_wall_Wm_K=solid.conductivity_W_mK * pi * diameter * wall,
        loss_W_K=_loss(diameter / 2.0 + wall, height, insulation_m, data) + data.fittings_W_K,
        outer_diameter_m=outer,
        outer_height_m=height + 2.0 * (2.0 * wall + insulation_m),
        valve_Pa=valve_bar * 1e5,
    )


def _loss(radius_m: float, height_m: float, insulation_m: float, data: Vessels) -> float:
    """Return UA of an insulated cylinder with flat ends [W/K]: series resistances, closed form."""
    k = data.insulation_conductivity_W_mK
    h = data.outside_W_m2K
    outer = radius_m + insulation_m
    shell = log(outer / radius_m) / (2.0 * pi * k * height_m) + 1.0 / (h * 2.0 * pi * outer * height_m)
    end = (insulation_m / k + 1.0 / h) / (pi * radius_m**2)
    return 1.0 / shell + 2.0 / end
