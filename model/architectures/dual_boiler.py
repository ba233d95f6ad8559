"""Dual boilers: a brew boiler and a steam boiler, the refill cold or preheated by a coil through the latter."""

from __future__ import annotations

from math import pi

import numpy as np

from boilerfront.model.architectures.plant import Plant
from boilerfront.model.brief import Brief
from boilerfront.model.design import Design
from boilerfront.model.kernel.steam import capacity
from boilerfront.model.machine import Machine
from boilerfront.model.network.graph import FLOW, INLET, ROOM, Carry, Network, Store, Topology, topology
from boilerfront.model.parts import films, group
from boilerfront.model.parts.element import BREW_HEIGHT_SHARE, Element, firing_window_s, make_element
from boilerfront.model.parts.helix import SEGMENTS, Helix, make_helix
from boilerfront.model.parts.refill import expected_refill_C
from boilerfront.model.parts.tuning import Loop, tune
from boilerfront.model.parts.vessel import Vessel, make_vessel
from boilerfront.model.props.air import pressure_at_altitude
from boilerfront.model.props.water import (
    density,
    heat_capacity,
    saturation_pressure,
    saturation_temperature,
    steam_density,
)
from boilerfront.shared.shapes import Floats

LAYERS = 4
ELEMENT_J_KGK = 800.0
"""Heat capacity of steel sheath and filling [J/kgK] (our judgement): turns an element's capacity into mass."""
SHEATH_AT_K = 10.0
"""Superheat of the sheath at which its lag is rated [K] (our judgement)."""


def build(design: Design, brief: Brief) -> Plant:
    """Build a dual boiler, with a preheat coil where the design has one."""
    machine = brief.machine
    vessels = machine.vessels
    brew = make_vessel(
        design.brew_m3,
        height_to_diameter=vessels.brew_height_to_diameter,
        valve_bar=vessels.brew_valve_bar,
        insulation_m=design.insulation_m,
        material=design.material,
        data=vessels,
    )
    steam = make_vessel(
        design.steam_m3,
        height_to_diameter=vessels.steam_height_to_diameter,
        valve_bar=vessels.steam_valve_bar,
        insulation_m=design.insulation_m,
        material=design.material,
        data=vessels,
    )
    helix = make_helix(design, steam, machine.coil) if design.coil_m > 0.0 else None
    water_m3 = design.steam_m3 - (helix.outside_m3 if helix else 0.0)
    elements = machine.elements
    brew_element = make_element(design.brew_W, brew, BREW_HEIGHT_SHARE, elements)
    steam_element = make_element(design.steam_W, steam, elements.steam_top_share, elements)
    ambient_Pa = pressure_at_altitude(brief.site.altitude_m)
    laws = _laws(helix, machine, ambient_Pa)
    vessel = machine.steam_vessel
    return Plant(
        design=design,
        network=_network(design, machine, brew, steam, brew_element, steam_element, helix, ambient_Pa),
        laws=np.array(list(laws.values())),
        refill_C=expected_refill_C(
            helix,
            inlet_C=brief.site.inlet_C,
            steam_C=design.steam_set_C,
            level=0.5 * (vessel.level_low + vessel.level_high),
            height_m=steam.height_m,
        ),
        brew=brew,
        steam=steam,
        steam_water_m3=water_m3,
        steam_start_kg=_steam_mass_kg(design.steam_set_C, water_m3, machine),
        brew_element=brew_element,
        steam_element=steam_element,
        helix=helix,
        brew_loop=_brew_loop(brief, brew, brew_element),
        group_loop=_group_loop(design, machine),
        steam_loop=_steam_loop(brief, design, steam, steam_element, water_m3),
        parts=_parts(design, machine, brew, steam, helix),
        assembly_minutes=38.0 + (6.0 if helix else 0.0) + (3.0 if design.heated else 0.0),
        mass_kg=_mass(machine, brew, steam, helix)
        + (brew_element.heat_capacity_J_K + steam_element.heat_capacity_J_K) / ELEMENT_J_KGK,
    )


def make_topology(network: Network, *, coil: bool) -> Topology:
    """Return what all dual boilers, with or without coil, have in common."""
    roles = {
        "brew_sensor": f"brew_{LAYERS - 1}",
        "brew_outlet": f"brew_{LAYERS}",
        "brew_inlet": "brew_1",
        "brew_element": "brew_sheath",
        "steam": "steam",
        "steam_element": "steam_sheath",
        "group": "group",
        "portafilter": "portafilter",
        "screen": f"passage_{group.CELLS}",
        "refill": "coil_header_out" if coil else INLET,
    }
    return topology(
        network,
        roles,
        layers=[f"brew_{layer}" for layer in range(1, LAYERS + 1)],
        coil=[name for name in network.nodes if name.startswith("coil_")],
    )


def _laws(helix: Helix | None, machine: Machine, ambient_Pa: float) -> dict[str, Floats]:
    """Return the film laws by name, in the order in which `_network` adds them."""
    sheath = 1e-3 * machine.elements.sheath_mm
    data = machine.group
    laws = {
        "passage": films.passage_table(1e-3 * data.bore_mm, data.length_m),
        "brew_sheath": films.sheath_table(sheath),
        "brew_boiling": films.boiling_table(1e5 * machine.brew_water.idle_line_bar),
        "steam_sheath": films.sheath_table(sheath),
        "steam_boiling": films.boiling_table(ambient_Pa),
        "air": films.air_table(1e-3 * data.diameter_mm),
    }
    if helix:
        laws |= {
            "helix": films.helix_table(helix.bore_m, helix.curvature),
            "header": films.straight_table(helix.bore_m, helix.header_m),
            "bath": films.bath_table(helix.outer_m),
            "condensation": films.condensation_table(helix.outer_m),
        }
    return laws


def _network(
    design: Design,
    machine: Machine,
    brew: Vessel,
    steam: Vessel,
    brew_element: Element,
    steam_element: Element,
    helix: Helix | None,
    ambient_Pa: float,
) -> Network:
    net = Network()
    net.law("passage", FLOW)
    net.law("brew_sheath", "brew_2")
    net.law("brew_boiling", "brew_2")
    net.law("steam_sheath", "steam")
    net.law("steam_boiling", "steam")
    net.law("air", ROOM)
    net.path.append(INLET)
    _add_brew(net, machine, brew, brew_element)
    _add_steam(net, machine, steam, steam_element, ambient_Pa)
    if helix:
        _add_helix(net, helix)
    net.path.extend(f"brew_{layer}" for layer in range(1, LAYERS + 1))
    _add_group(net, design, machine)
    net.node("casing", Store.SOLID, machine.casing.heat_capacity_J_K)
    for layer in range(1, LAYERS + 1):
        net.link(Carry.FIXED, f"brew_wall_{layer}", "casing", (brew.loss_W_K / LAYERS,))
    net.link(Carry.FIXED, "steam_wall", "casing", (steam.loss_W_K,))
    net.link(Carry.FIXED, "casing", ROOM, (machine.casing.to_room_W_K,))
    return net


def _add_brew(net: Network, machine: Machine, vessel: Vessel, element: Element) -> None:
    data = machine.brew_water
    for layer in range(1, LAYERS + 1):
        net.node(f"brew_{layer}", Store.WATER, vessel.volume_m3 / LAYERS)
    conduction = data.conductivity_W_mK * vessel.section_m2 / (vessel.height_m / LAYERS)
    overturning = data.overturning_W_m2K2 * vessel.section_m2
    for layer, jet in enumerate(data.jet, start=1):
        net.link(Carry.LAYERS, f"brew_{layer}", f"brew_{layer + 1}", (conduction, jet, overturning))
    _add_brew_wall(net, machine, vessel)
    net.node("brew_sheath", Store.SOLID, element.heat_capacity_J_K)
    law = list(net.laws).index("brew_sheath")
    for layer in (1, 2):
        numbers = (element.area_m2 / 2.0, saturation_temperature(1e5 * data.idle_line_bar))
        net.link(Carry.SHEATH, "brew_sheath", f"brew_{layer}", numbers, law=law)


def _add_brew_wall(net: Network, machine: Machine, vessel: Vessel) -> None:
    """Add the wall, a ring to each layer: one node for all would carry heat from hot layers to cold ones."""
    film = machine.vessels.brew_wall_W_m2K * vessel.inner_area_m2 / LAYERS
    for layer in range(1, LAYERS + 1):
        net.node(f"brew_wall_{layer}", Store.SOLID, vessel.heat_capacity_J_K / LAYERS)
        net.link(Carry.FIXED, f"brew_{layer}", f"brew_wall_{layer}", (film,))
    along = vessel.along_wall_Wm_K / (vessel.height_m / LAYERS)
    for layer in range(1, LAYERS):
        net.link(Carry.FIXED, f"brew_wall_{layer}", f"brew_wall_{layer + 1}", (along,))


def _add_steam(net: Network, machine: Machine, vessel: Vessel, element: Element, ambient_Pa: float) -> None:
    net.node("steam", Store.STEAM, 1.0)
    net.node("steam_wall", Store.SOLID, vessel.heat_capacity_J_K)
    net.node("steam_sheath", Store.SOLID, element.heat_capacity_J_K)
    film = machine.vessels.steam_wall_W_m2K * vessel.inner_area_m2
    net.link(Carry.FIXED, "steam", "steam_wall", (film,))
    law = list(net.laws).index("steam_sheath")
    numbers = (element.area_m2, saturation_temperature(ambient_Pa))
    net.link(Carry.SHEATH, "steam_sheath", "steam", numbers, law=law)


def _add_helix(net: Network, helix: Helix) -> None:
    inside = net.law("helix", FLOW)
    straight = net.law("header", FLOW)
    bath = net.law("bath", "steam")
    net.law("condensation", "steam")
    segment = helix.length_m / SEGMENTS
    cells = [
        ("header_in", helix.header_m, straight, Carry.HEADER),
        *((str(k), segment, inside, Carry.BATH) for k in range(1, SEGMENTS + 1)),
        ("header_out", helix.header_m, straight, Carry.HEADER),
    ]
    for name, length, _, _ in cells:
        net.node(f"coil_{name}", Store.WATER, pi / 4.0 * helix.bore_m**2 * length)
        net.path.append(f"coil_{name}")
    for name, length, law, carry in cells:
        net.node(f"tube_{name}", Store.SOLID, helix.heat_capacity_J_mK * length)
        net.link(Carry.FORCED, f"coil_{name}", f"tube_{name}", (pi * helix.bore_m * length,), law=law)
        outside = (pi * helix.outer_m * length, helix.wall_mK_W / length)
        net.link(carry, f"tube_{name}", "steam", outside, law=bath)


def _add_group(net: Network, design: Design, machine: Machine) -> None:
    data = machine.group
    net.node("group", Store.SOLID, data.mass_kg * data.heat_capacity_J_kgK)
    net.node("portafilter", Store.SOLID, data.portafilter_kg * data.heat_capacity_J_kgK)
    passage = list(net.laws).index("passage")
    for cell in range(1, group.CELLS + 1):
        net.node(f"passage_{cell}", Store.WATER, group.passage_m3(data) / group.CELLS)
        net.path.append(f"passage_{cell}")
        area = group.passage_area_m2(data) / group.CELLS
        net.link(Carry.FORCED, f"passage_{cell}", "group", (area,), law=passage)
    air = list(net.laws).index("air")
    net.link(Carry.FIXED, f"brew_{LAYERS}", "group", (group.link_W_K(design, data),))
    net.link(Carry.JOINT, "group", "portafilter", (data.portafilter_W_K,))
    net.link(Carry.AIR, "group", ROOM, (data.area_m2, data.emissivity), law=air)
    net.link(Carry.AIR, "portafilter", ROOM, (data.portafilter_area_m2, data.emissivity), law=air)


def _sheath_lag_s(element: Element, water_C: float, machine: Machine, pressure_Pa: float) -> float:
    film = films.sheath_film(water_C, SHEATH_AT_K, 1e-3 * machine.elements.sheath_mm, pressure_Pa)
    return element.heat_capacity_J_K / (film * element.area_m2)


def _brew_loop(brief: Brief, vessel: Vessel, element: Element) -> Loop:
    machine = brief.machine
    water_C = brief.duty.default_set_point_C
    moved = vessel.volume_m3 * density(water_C) * heat_capacity(water_C)
    moved += vessel.heat_capacity_J_K + element.heat_capacity_J_K
    lag = _sheath_lag_s(element, water_C, machine, 1e5 * machine.brew_water.idle_line_bar)
    return tune(moved, vessel.loss_W_K, machine.control.brew_lag_s + lag, element.window_s)


def _steam_loop(brief: Brief, design: Design, vessel: Vessel, element: Element, water_m3: float) -> Loop:
    machine = brief.machine
    t = design.steam_set_C
    moved = capacity(t, _steam_mass_kg(t, water_m3, machine), water_m3)
    moved += vessel.heat_capacity_J_K + element.heat_capacity_J_K
    lag = _sheath_lag_s(element, t, machine, saturation_pressure(t))
    return tune(moved, vessel.loss_W_K, machine.control.steam_lag_s + lag, element.window_s)


def _group_loop(design: Design, machine: Machine) -> Loop:
    data = machine.group
    moved = data.mass_kg * data.heat_capacity_J_kgK + 4.2e6 * group.passage_m3(data)
    loss = group.link_W_K(design, data)
    window = firing_window_s(design.group_W, machine.elements)
    return tune(moved, loss, machine.control.group_lag_s, window)


def _steam_mass_kg(T_C: float, volume_m3: float, machine: Machine) -> float:
    """Return the mass that stands at the middle of the level band at a temperature [kg]."""
    level = 0.5 * (machine.steam_vessel.level_low + machine.steam_vessel.level_high)
    return volume_m3 * (level * density(T_C) + (1.0 - level) * steam_density(T_C))


def _parts(
    design: Design, machine: Machine, brew: Vessel, steam: Vessel, helix: Helix | None
) -> tuple[tuple[str, float], ...]:
    """Return the bill of parts: item of the price book, quantity in the book's unit."""
    area = brew.insulated_area_m2 + steam.insulated_area_m2 if design.insulation_m > 0.0 else 0.0
    litres = 1e3 * (design.brew_m3 + design.steam_m3)
    lines = [
        (f"vessel_{design.material}", litres),
        ("vessel_piece", 2.0),
        ("element", design.brew_W + design.steam_W + design.group_W),
        ("element_piece", 2.0),
        ("group_heater_piece", 1.0 if design.heated else 0.0),
        ("insulation", area),
        ("insulation_thickness", 1e3 * design.insulation_m * area),
        ("sensor", 3.0 if design.heated else 2.0),
        ("valve", 2.0),
        ("safety_valve", 2.0),
        ("level_probe", 1.0),
        ("thermal_cut_out", 2.0),
        ("controller", 1.0),
        ("flow_meter", 1.0 if design.feed_forward else 0.0),
        ("pump", 1.0),
        ("group_saturated" if design.saturated else "group_bolted", 1.0),
        ("wand", 1.0),
    ]
    if helix:
        tube = helix.length_m + 2.0 * helix.header_m
        lines += [(f"coil_tube_{machine.coil.material}", tube), ("coil_piece", 1.0)]
    return tuple(lines)


def _mass(machine: Machine, brew: Vessel, steam: Vessel, helix: Helix | None) -> float:
    return (
        brew.mass_kg
        + steam.mass_kg
        + (helix.mass_kg if helix else 0.0)
        + machine.group.mass_kg
        + machine.group.portafilter_kg
    )
