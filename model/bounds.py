"""What no machine can beat: the heat that it must have taken up when it is ready."""

from __future__ import annotations

from collections.abc import Mapping

from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.assemblies.group_head import group_surface
from boilerfront.model.balance import stored_in_water
from boilerfront.model.brief import Brief
from boilerfront.model.design import read_design
from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.bands import BREW_BELOW_K, GROUP_BELOW_K, STEAM_BELOW_K
from boilerfront.model.kernel.steam import internal_energy
from boilerfront.model.parts import group
from boilerfront.model.runs import default_user_C
from boilerfront.model.variables import Value


def heat_to_ready_J(design: Mapping[str, Value], brief: Brief) -> float:
    """Return the heat that brew water, steam, vessels and group hold at the lower edges of their bands [J].

    No loss, no portafilter, no coil; steam only where it counts. Raises `InputError` for a bad design.
    """
    read = read_design(design, brief.machine)
    plant = ARCHITECTURES[read.architecture].build(read, brief)
    room = brief.site.ambient_C
    brew_C = default_user_C(brief) - BREW_BELOW_K
    heat = read.brew_m3 * stored_in_water(room, brew_C)
    if "brew" in plant.vessels:
        heat += plant.vessels["brew"].heat_capacity_J_K * (brew_C - room)
    data = brief.machine.group
    user = default_user_C(brief)
    link = group.link_W_K(read, data)
    reach = group.reach_C(link, read.group_W, user, user, room, group_surface(brief))
    heat += data.mass_kg * data.heat_capacity_J_kgK * max(reach - GROUP_BELOW_K - room, 0.0)
    if brief.warm_up.counts == "all" and "steam" in plant.vessels and plant.keeps_steam:
        steam_C = plant.parameters[at.P_STEAM_SET_C] - STEAM_BELOW_K
        held_kg, volume_m3 = plant.parameters[at.P_STEAM_START_KG], plant.parameters[at.P_STEAM_M3]
        heat += internal_energy(steam_C, held_kg, volume_m3) - internal_energy(room, held_kg, volume_m3)
        heat += plant.vessels["steam"].heat_capacity_J_K * (steam_C - room)
    return heat


def shortest_warm_up_s(design: Mapping[str, Value], brief: Brief) -> float:
    """Return the time that this heat takes at all the current that the site allows [s]."""
    return heat_to_ready_J(design, brief) / (brief.site.voltage_V * brief.site.current_limit_A)
