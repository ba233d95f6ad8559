"""The group: metal with a water passage, the portafilter, a heater where the design has one."""

from __future__ import annotations

from boilerfront.model.assemblies.assembly import Assembly
from boilerfront.model.assemblies.plant import Circuit
from boilerfront.model.brief import Brief
from boilerfront.model.network.graph import FLOW, ROOM, Carry, Store
from boilerfront.model.parts import films, group
from boilerfront.model.parts.element import firing_window_s
from boilerfront.model.parts.tuning import tune
from boilerfront.model.props.air import pressure_at_altitude
from boilerfront.model.props.water import density

HEATER_MINUTES = 3.0


def add_group(a: Assembly, *, hangs_on: str, link_W_K: float) -> None:
    """Add the group, joined by `link_W_K` to the node `hangs_on`. Water leaves through passage_1 ... 3."""
    data = a.machine.group
    a.node("group", Store.SOLID, data.mass_kg * data.heat_capacity_J_kgK)
    a.node("portafilter", Store.SOLID, data.portafilter_kg * data.heat_capacity_J_kgK)
    law = a.law("passage", FLOW, films.passage_table(1e-3 * data.bore_mm, data.length_m))
    for cell in range(1, group.CELLS + 1):
        a.node(f"passage_{cell}", Store.WATER, group.passage_m3(data) / group.CELLS)
        a.net.path.append(f"passage_{cell}")
        a.link(Carry.FORCED, f"passage_{cell}", "group", group.passage_area_m2(data) / group.CELLS, law=law)
    air = a.law(
        "air", ROOM, films.air_table(1e-3 * data.diameter_mm, pressure_at_altitude(a.brief.site.altitude_m))
    )
    a.link(Carry.FIXED, hangs_on, "group", link_W_K)
    a.link(Carry.JOINT, "group", "portafilter", data.portafilter_W_K)
    a.link(Carry.AIR, "group", ROOM, data.area_m2, data.emissivity, law=air)
    a.link(Carry.AIR, "portafilter", ROOM, data.portafilter_area_m2, data.emissivity, law=air)
    a.net.roles |= {
        "group": "group",
        "portafilter": "portafilter",
        "screen": f"passage_{group.CELLS}",
    }
    a.mass_kg += data.mass_kg + data.portafilter_kg
    if a.design.heated:
        moved = data.mass_kg * data.heat_capacity_J_kgK + 4.2e6 * group.passage_m3(data)
        window = firing_window_s(a.design.group_W, a.machine.elements)
        lag = a.machine.control.group_lag_s
        a.heat("group", Circuit(a.design.group_W, tune(moved, link_W_K, lag, window), lag, window))
        a.minutes += HEATER_MINUTES
        a.buy("group_heater_piece", 1.0, of="group")


def hang_on_vessel(a: Assembly, *, outlet: str) -> None:
    """Add the group bolted on, or saturated, at the outlet of a vessel or block."""
    add_group(a, hangs_on=outlet, link_W_K=group.link_W_K(a.design, a.machine.group))
    a.buy("group_saturated" if a.design.saturated else "group_bolted", 1.0, of="group")


def offset_for_group_K(a: Assembly, user_C: float) -> float:
    """Return the offset of the set-point that the steady balance at nominal flow asks for.

    Passage and group even out the water by the passage's effectiveness; the group stands where it settles.
    """
    design, data, site = a.design, a.machine.group, a.brief.site
    set_C = user_C + data.offset_K
    link = group.link_W_K(design, data)
    reach = group.reach_C(link, design.group_W, user_C, set_C, site.ambient_C, group_surface(a.brief))
    if design.heated and reach >= set_C - 0.01:
        return -data.offset_K * 0.5
    ratio = (reach - site.ambient_C) / (user_C - site.ambient_C)
    flow = 1e-6 * a.brief.duty.flows["nominal"].steady_mL_s * density(site.inlet_C)
    effect = group.passage_effectiveness(flow, user_C, data)
    return (user_C - site.ambient_C) * (1.0 / (1.0 - effect * (1.0 - ratio)) - 1.0)


def group_surface(brief: Brief) -> group.Surface:
    """Return what decides the loss of the group at a brief's site, with its portafilter as the duty has it."""
    locked = brief.duty.portafilter == "locked"
    return group.surface(
        brief.machine.group, locked=locked, air_Pa=pressure_at_altitude(brief.site.altitude_m)
    )
