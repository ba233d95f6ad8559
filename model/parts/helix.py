"""The preheat coil: a helix in the steam boiler with two straight headers."""

from __future__ import annotations

from dataclasses import dataclass
from math import log, pi

from boilerfront.model.design import Design
from boilerfront.model.laws.friction import tube_pressure_drop
from boilerfront.model.machine import Coil
from boilerfront.model.parts.vessel import Vessel
from boilerfront.model.props.solids import COPPER_DHP, STAINLESS_304L

SEGMENTS = 12
CLEARANCE_M = 0.010
TUBES = {"stainless": STAINLESS_304L, "copper": COPPER_DHP}


@dataclass(frozen=True)
class Helix:
    """Sizes [m] of the coil; `fit_m` is the least room that is left to it."""

    length_m: float
    header_m: float
    bore_m: float
    outer_m: float
    mean_diameter_m: float
    turns: float
    height_m: float
    fit_m: float
    outside_m3: float
    mass_kg: float
    heat_capacity_J_mK: float
    wall_mK_W: float
    """Resistance of a metre of wall [m K/W]."""

    @property
    def curvature(self) -> float:
        """Return bore over mean coil diameter."""
        return self.bore_m / self.mean_diameter_m


def make_helix(design: Design, vessel: Vessel, data: Coil) -> Helix:
    """Wind the coil as large as the vessel allows, at the pitch of the data."""
    solid = TUBES[design.coil_material]
    outer = design.coil_outer_m
    bore = design.coil_bore_m
    room = vessel.diameter_m - outer - CLEARANCE_M
    diameter = max(room, 2.0 * outer)  # a coil that cannot be wound still has a size; its fit is negative
    turns = design.coil_m / (pi * diameter)
    height = max(turns, 1.0) * data.pitch_to_outer * outer
    header = 1e-3 * max(data.header_mm, 1.0)
    tube_m3_m = pi / 4.0 * (outer**2 - bore**2)
    total = design.coil_m + 2.0 * header
    return Helix(
        length_m=design.coil_m,
        header_m=header,
        bore_m=bore,
        outer_m=outer,
        mean_diameter_m=diameter,
        turns=turns,
        height_m=height,
        fit_m=min(vessel.height_m - height - CLEARANCE_M, room - 6.0 * outer),
        outside_m3=pi / 4.0 * outer**2 * total,
        mass_kg=solid.density_kg_m3 * tube_m3_m * total,
        heat_capacity_J_mK=solid.volumetric_heat_J_m3K * tube_m3_m,
        wall_mK_W=log(outer / bore) / (2.0 * pi * solid.conductivity_W_mK),
    )


def helix_pressure_drop_Pa(helix: Helix, flow_kg_s: float, T_C: float) -> float:
    """Return the pressure drop of helix and headers [Pa] at a flow and mean temperature."""
    coil = tube_pressure_drop(flow_kg_s, helix.bore_m, helix.length_m, helix.curvature, T_C)
    return coil + tube_pressure_drop(flow_kg_s, helix.bore_m, 2.0 * helix.header_m, 0.0, T_C)
