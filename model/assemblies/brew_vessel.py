"""A brew boiler: layered water, a wall in rings, an element low down, its loop."""

from __future__ import annotations

from math import pi

from boilerfront.model.assemblies.assembly import CASING, Assembly
from boilerfront.model.assemblies.heater import add_circuit, add_element
from boilerfront.model.kernel import layout as at
from boilerfront.model.network.graph import Carry, Store
from boilerfront.model.parts.element import BREW_HEIGHT_SHARE, make_element
from boilerfront.model.parts.envelope import Packed
from boilerfront.model.parts.vessel import Vessel, make_vessel
from boilerfront.model.props.water import density, heat_capacity

LAYERS = at.VESSEL_LAYERS
HEATED = 2
"""Layers, from below, that the element heats."""


def add_brew_vessel(a: Assembly) -> Vessel:
    """Add the vessel; water passes its layers upwards. Nodes brew_1 (bottom) to brew_4, brew_wall_1 ..."""
    data = a.machine.brew_water
    shape = a.machine.vessels
    vessel = make_vessel(
        a.design.brew_m3,
        height_to_diameter=shape.brew_height_to_diameter,
        valve_bar=shape.brew_valve_bar,
        insulation_m=a.design.insulation_m,
        material=a.design.material,
        data=shape,
    )
    layers = [f"brew_{layer}" for layer in range(1, LAYERS + 1)]
    for layer in layers:
        a.node(layer, Store.WATER, vessel.volume_m3 / LAYERS)
    conduction = data.conductivity_W_mK * vessel.section_m2 / (vessel.height_m / LAYERS)
    overturning = data.overturning_W_m2K2 * vessel.section_m2
    for lower, jet in enumerate(data.jet, start=1):
        a.link(Carry.LAYERS, f"brew_{lower}", f"brew_{lower + 1}", conduction, jet, overturning)
    _add_wall(a, vessel)
    a.net.path.extend(layers)
    a.net.layers = layers
    a.net.roles |= {
        "brew_sensor": layers[-2],
        "brew_outlet": layers[-1],
        "brew_inlet": layers[0],
        "brew_element": "brew_sheath",
    }
    a.net.held = layers[:-1]
    element = make_element(a.design.brew_W, vessel, BREW_HEIGHT_SHARE, a.machine.elements)
    idle_Pa = 1e5 * data.idle_line_bar
    add_element(a, "brew", element, nodes=layers[:HEATED], boils_at_Pa=idle_Pa)
    water_C = a.brief.duty.default_set_point_C
    water_J_K = vessel.volume_m3 * density(water_C) * heat_capacity(water_C)
    add_circuit(
        a,
        "brew",
        element,
        moved_J_K=water_J_K + vessel.heat_capacity_J_K,
        loss_W_K=vessel.loss_W_K,
        lag_s=a.machine.control.brew_lag_s,
        water_C=water_C,
        boils_at_Pa=idle_Pa,
    )
    a.parameters[at.P_FEED_FORWARD] = float(a.design.feed_forward)
    a.buy("flow_meter", 1.0 if a.design.feed_forward else 0.0, of="brew")
    buy_vessel(a, "brew", vessel)
    return vessel


def _add_wall(a: Assembly, vessel: Vessel) -> None:
    """Add the wall, a ring to each layer: one node for all would carry heat from hot layers to cold ones."""
    film = a.machine.vessels.brew_wall_W_m2K * vessel.inner_area_m2 / LAYERS
    for layer in range(1, LAYERS + 1):
        a.node(f"brew_wall_{layer}", Store.SOLID, vessel.heat_capacity_J_K / LAYERS)
        a.link(Carry.FIXED, f"brew_{layer}", f"brew_wall_{layer}", film)
        a.link(Carry.FIXED, f"brew_wall_{layer}", CASING, vessel.loss_W_K / LAYERS)
    along = vessel.along_wall_Wm_K / (vessel.height_m / LAYERS)
    for layer in range(1, LAYERS):
        a.link(Carry.FIXED, f"brew_wall_{layer}", f"brew_wall_{layer + 1}", along)


VESSEL_MINUTES = 12.0
"""Assembly of a boiler with its fittings and insulation (our judgement)."""


def buy_vessel(a: Assembly, name: str, vessel: Vessel) -> None:
    """Put a vessel, its insulation and its safety valve on the bill."""
    area = vessel.insulated_area_m2 if a.design.insulation_m > 0.0 else 0.0
    a.vessels[name] = vessel
    outer = vessel.outer_diameter_m
    a.packed.append(Packed(outer, outer, vessel.outer_height_m, pi / 4.0 * outer**2 * vessel.outer_height_m))
    a.mass_kg += vessel.mass_kg
    a.minutes += VESSEL_MINUTES
    a.buy(f"vessel_{a.design.material}", 1e3 * vessel.volume_m3, of=name)
    a.buy("vessel_piece", 1.0, of=name)
    a.buy(f"end_{a.machine.vessels.ends}", 2.0, of=name)
    a.buy("insulation", area, of=name)
    a.buy("insulation_thickness", 1e3 * a.design.insulation_m * area, of=name)
    a.buy("safety_valve", 1.0, of=name)
