"""A steam boiler: saturated water and vapour, level control, an element, its loop."""

from __future__ import annotations

from boilerfront.model.assemblies.assembly import CASING, Assembly
from boilerfront.model.assemblies.brew_vessel import buy_vessel
from boilerfront.model.assemblies.heater import add_circuit, add_element
from boilerfront.model.assemblies.plant import Waterline
from boilerfront.model.brief import Brief
from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.steam import capacity
from boilerfront.model.machine import SteamVessel
from boilerfront.model.network.graph import Carry, Store
from boilerfront.model.parts.element import make_element
from boilerfront.model.parts.helix import Helix
from boilerfront.model.parts.vessel import Vessel, make_vessel
from boilerfront.model.props.air import pressure_at_altitude
from boilerfront.model.props.water import density, saturation_pressure, steam_density


def size_steam_vessel(a: Assembly) -> Vessel:
    """Return the vessel that the design asks for; a coil has to know it before it is added."""
    shape = a.machine.vessels
    return make_vessel(
        a.design.steam_m3,
        height_to_diameter=shape.steam_height_to_diameter,
        valve_bar=shape.steam_valve_bar,
        insulation_m=a.design.insulation_m,
        material=a.design.material,
        data=shape,
    )


def is_held_off(brief: Brief) -> bool:
    """Return whether the user keeps a steam boiler off that the machine can brew without."""
    return brief.duty.steam_boiler == "off"


def add_steam_vessel(
    a: Assembly, vessel: Vessel, *, helix: Helix | None, set_C: float, held_off: bool = False
) -> None:
    """Add the vessel, with a coil in it or without. Nodes steam, steam_wall, steam_sheath.

    One that is held off has all its parts, gets no power, is not waited for, and is filled to the middle of its
    level band cold.
    """
    data = a.machine.steam_vessel
    a.node("steam", Store.STEAM, 1.0)
    a.node("steam_wall", Store.SOLID, vessel.heat_capacity_J_K)
    a.link(Carry.FIXED, "steam", "steam_wall", a.machine.vessels.steam_wall_W_m2K * vessel.inner_area_m2)
    a.link(Carry.FIXED, "steam_wall", CASING, vessel.loss_W_K)
    a.net.roles |= {"steam": "steam", "steam_element": "steam_sheath"}
    element = make_element(a.design.steam_W, vessel, a.machine.elements.steam_top_share, a.machine.elements)
    add_element(
        a, "steam", element, nodes=["steam"], boils_at_Pa=pressure_at_altitude(a.brief.site.altitude_m)
    )
    water_m3 = vessel.volume_m3 - (helix.outside_m3 if helix else 0.0)
    hot_kg = _held_kg(set_C, water_m3, data)
    held_kg = _held_kg(a.brief.site.ambient_C, water_m3, data) if held_off else hot_kg
    add_circuit(
        a,
        "steam",
        element,
        moved_J_K=capacity(set_C, hot_kg, water_m3) + vessel.heat_capacity_J_K,
        loss_W_K=vessel.loss_W_K,
        lag_s=a.machine.control.steam_lag_s,
        water_C=set_C,
        boils_at_Pa=saturation_pressure(set_C),
    )
    a.parameters |= {
        at.P_STEAM_SET_C: set_C,
        at.P_STEAM_M3: water_m3,
        at.P_STEAM_START_KG: held_kg,
        at.P_LEVEL_LOW: data.level_low,
        at.P_LEVEL_HIGH: data.level_high,
        at.P_STEAM_HEIGHT_M: vessel.height_m,
        at.P_HELIX_HEIGHT_M: helix.height_m if helix else vessel.height_m,
    }
    if held_off:
        a.parameters |= {at.P_STEAM_W: 0.0, at.P_STEAM_KEPT: 0.0}
    a.buy("level_probe", 1.0, of="steam")
    a.buy("valve", 1.0, of="steam")
    a.steaming.add("steam")
    a.waterline = Waterline(vessel.height_m, a.machine.elements.steam_top_share)
    buy_vessel(a, "steam", vessel)


def _held_kg(T_C: float, volume_m3: float, data: SteamVessel) -> float:
    """Return the mass that stands at the middle of the level band at a temperature [kg]."""
    level = 0.5 * (data.level_low + data.level_high)
    return volume_m3 * (level * density(T_C) + (1.0 - level) * steam_density(T_C))
