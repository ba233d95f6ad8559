"""A thermoblock: metal in cells along its water channel, an element cast in, its loop."""

from __future__ import annotations

from itertools import pairwise
from math import log, pi

from boilerfront.model.assemblies.assembly import CASING, Assembly
from boilerfront.model.assemblies.plant import Circuit
from boilerfront.model.kernel import layout as at
from boilerfront.model.network.graph import FLOW, Carry, Store
from boilerfront.model.parts import films
from boilerfront.model.parts.element import firing_window_s
from boilerfront.model.parts.envelope import Packed
from boilerfront.model.parts.tuning import tune
from boilerfront.model.props.solids import ALUMINIUM_CAST
from boilerfront.model.props.water import density, heat_capacity

CELLS = 8
PROPORTIONS = (4.0, 2.0, 1.0)
"""Length, width and thickness of the block to each other (our judgement)."""
PITCH_TO_BORE = 2.5
"""Room that the channel takes in the casting, across, over its bore (our judgement)."""
BLOCK_MINUTES = 9.0


def add_block(a: Assembly) -> str:
    """Add the block; water passes its cells lengthwise. Returns the metal at its end, for the group to hang on.

    Nodes channel_1 ... channel_8 (water), block_1 ... block_8 (metal), block_sheath.
    """
    data, design = a.machine.block, a.design
    bore = 1e-3 * data.bore_mm
    solid = ALUMINIUM_CAST
    volume = design.block_kg / solid.density_kg_m3
    unit = (volume / (PROPORTIONS[0] * PROPORTIONS[1] * PROPORTIONS[2])) ** (1.0 / 3.0)
    length, width, thickness = (unit * part for part in PROPORTIONS)
    water = [f"channel_{k}" for k in range(1, CELLS + 1)]
    metal = [f"block_{k}" for k in range(1, CELLS + 1)]
    for name in water:
        a.node(name, Store.WATER, pi / 4.0 * bore**2 * design.channel_m / CELLS)
    for name in metal:
        a.node(name, Store.SOLID, design.block_kg * solid.heat_capacity_J_kgK / CELLS)
    law = a.law("channel", FLOW, films.helix_table(bore, data.bore_mm / data.bend_mm))
    area = pi * bore * design.channel_m / CELLS
    loss = _loss_W_K(a, length, width, thickness)
    for water_cell, metal_cell in zip(water, metal, strict=True):
        a.link(Carry.FORCED, water_cell, metal_cell, area, law=law)
        a.link(Carry.FIXED, metal_cell, CASING, loss / CELLS)
    along = solid.conductivity_W_mK * width * thickness / (length / CELLS)
    for here, there in pairwise(metal):
        a.link(Carry.FIXED, here, there, along)
    a.net.path.extend(water)
    a.net.layers, a.net.block, a.net.held = water, metal, metal[-1:]
    a.net.roles |= {
        "brew_sensor": metal[-1],
        "brew_outlet": water[-1],
        "brew_inlet": water[0],
        "brew_element": "block_sheath",
    }
    _add_heater(a, metal, loss)
    a.fit_m = volume / (PITCH_TO_BORE * bore) ** 2 - design.channel_m
    around = 2.0 * design.insulation_m
    sides = (length + around, width + around, thickness + around)
    a.packed.append(Packed(sides[2], sides[1], sides[0], sides[0] * sides[1] * sides[2], is_round=False))
    a.parameters |= {
        at.P_BLOCK_W_K: data.boiling_W_m2K * area,
        at.P_DOSE_KG_S: 1e-6 * data.steam_dose_mL_s * density(a.brief.site.inlet_C),
        at.P_DOSE_DRYNESS: data.steam_dryness,
        at.P_FEED_FORWARD: float(design.feed_forward),
    }
    a.mass_kg += design.block_kg
    a.minutes += BLOCK_MINUTES
    outside = 2.0 * (sides[0] * sides[1] + sides[1] * sides[2] + sides[0] * sides[2])
    insulated = outside if design.insulation_m > 0.0 else 0.0
    a.buy("block", design.block_kg, of="brew")
    a.buy("block_channel", design.channel_m, of="brew")
    a.buy("block_piece", 1.0, of="brew")
    a.buy("insulation", insulated, of="brew")
    a.buy("insulation_thickness", 1e3 * design.insulation_m * insulated, of="brew")
    a.buy("safety_valve", 1.0, of="brew")
    a.buy("flow_meter", 1.0 if design.feed_forward else 0.0, of="brew")
    return metal[-1]


def _add_heater(a: Assembly, metal: list[str], loss_W_K: float) -> None:
    """Cast the element into the metal and control it by the sensor at the outlet's end."""
    data, elements, design = a.machine.block, a.machine.elements, a.design
    surface = design.brew_W / (1e4 * elements.load_W_cm2)
    sheath_J_K = surface * elements.heat_capacity_J_m2K
    joint = data.element_W_m2K * surface
    a.node("block_sheath", Store.SOLID, sheath_J_K)
    for cell in metal:
        a.link(Carry.FIXED, "block_sheath", cell, joint / CELLS)
    water_C = a.brief.duty.default_set_point_C
    water_m3 = pi / 4.0 * (1e-3 * data.bore_mm) ** 2 * design.channel_m
    moved = design.block_kg * ALUMINIUM_CAST.heat_capacity_J_kgK + sheath_J_K
    moved += water_m3 * density(water_C) * heat_capacity(water_C)
    window = firing_window_s(design.brew_W, elements)
    lag = a.machine.control.brew_lag_s
    loop = tune(moved, loss_W_K, lag + sheath_J_K / joint, window)
    a.heat("brew", Circuit(design.brew_W, loop, lag, window))
    a.buy("element_piece", 1.0, of="brew")


def _loss_W_K(a: Assembly, length: float, width: float, thickness: float) -> float:
    """Return UA of the insulated block [W/K]: as a cylinder of the same girth and length, with flat ends."""
    data = a.machine.vessels
    radius = (width + thickness) / pi
    outer = radius + a.design.insulation_m
    k, h = data.insulation_conductivity_W_mK, data.outside_W_m2K
    side = log(outer / radius) / (2.0 * pi * k * length) + 1.0 / (h * 2.0 * pi * outer * length)
    end = (a.design.insulation_m / k + 1.0 / h) / (width * thickness)
    return 1.0 / side + 2.0 / end + data.fittings_W_K
