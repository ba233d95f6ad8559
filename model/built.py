"""From a built plant to the figures and margins that need no run: sizes, pressures, loads, cost."""

from __future__ import annotations

from boilerfront.model.assemblies.plant import Plant
from boilerfront.model.brief import Brief
from boilerfront.model.cost import assembly_line
from boilerfront.model.kernel import layout as at
from boilerfront.model.laws.friction import tube_pressure_drop
from boilerfront.model.parts.element import surface_load_W_cm2
from boilerfront.model.parts.envelope import packing_slack_mm
from boilerfront.model.parts.group import passage_pressure_drop_Pa
from boilerfront.model.parts.helix import helix_pressure_drop_Pa
from boilerfront.model.parts.pump import pump_pressure_bar
from boilerfront.model.props.air import pressure_at_altitude
from boilerfront.model.props.water import density, saturation_pressure
from boilerfront.model.runs import default_user_C, set_point_range_C

Figures = dict[str, float | None]

HOLDING_PART_MIDDLE = 0.5
"""Part of full power at which ripple is largest."""


def plant_figures(plant: Plant, brief: Brief, offset_K: float) -> Figures:
    """Return the figures that need no run, of a plant trimmed by an offset."""
    vessels = plant.vessels.values()
    low_C, top_C = set_point_range_C(brief, plant.setting.narrow_K)
    return {
        "assembly_cost": assembly_line(plant, brief.prices).cost,
        "packed_volume_L": 1e3 * sum(p.volume_m3 for p in plant.packed),
        "mass_kg": plant.mass_kg,
        "pressure_drop_bar": line_drop_bar(brief.duty.fill_mL_s, plant, brief),
        "puck_pressure_bar": min(puck_pressures_bar(plant, brief)),
        "steam_gauge_bar": steam_gauge_bar(plant, brief, offset_K),
        "pressure_volume_bar_L": max((v.valve_Pa * 1e-5 * v.volume_m3 * 1e3 for v in vessels), default=0.0),
        "ripple_K": ripple_K(plant),
        "set_point_bottom_C": low_C,
        "set_point_top_C": top_C,
        "set_point_cut_K": brief.duty.set_point_high_C - set_point_range_C(brief)[1],
    }


def ripple_K(plant: Plant) -> float:
    """Return the largest ripple that firing windows leave in what makes the shot [K]."""
    circuit = plant.circuits[plant.setting.circuit]
    moved = circuit.loop.gain_W_K * 2.0 * circuit.loop.dead_time_s
    return circuit.power_W * HOLDING_PART_MIDDLE**2 * circuit.window_s / moved


def plant_margins(plant: Plant, brief: Brief, offset_K: float) -> Figures:
    """Return the margins that need no run, of a plant trimmed by an offset."""
    site, limits, control = brief.site, brief.limits, brief.machine.control
    largest = max(circuit.power_W for circuit in plant.circuits.values())
    over = 1.0 + site.mains_tolerance
    loads = [surface_load_W_cm2(element, over) for element in plant.elements.values()]
    walls = [vessel.wall_slack_m for vessel in plant.vessels.values()]
    steaming = [v for name, v in plant.vessels.items() if name in plant.steaming]
    category = [limits.volume_category_L - 1e3 * v.volume_m3 for v in steaming if site.pressure_category]
    gauge_bar = steam_gauge_bar(plant, brief, offset_K)
    valves = [] if gauge_bar is None else [1e-5 * v.valve_Pa - gauge_bar for v in steaming]
    return {
        "margin_mains_A": site.current_limit_A
        - (largest + control.pump_W + control.electronics_W) / site.voltage_V,
        "margin_watt_density_W_cm2": limits.watt_density_W_cm2 - max(loads) if loads else None,
        "margin_coil_fit_mm": None if plant.fit_m is None else 1e3 * plant.fit_m,
        "margin_envelope_mm": packing_slack_mm(plant.packed, brief.machine.casing),
        "margin_wall_mm": 1e3 * min(walls) if walls else None,
        "margin_volume_category_L": min(category, default=None),
        "margin_steam_valve_bar": min(valves) - limits.steam_valve_bar if valves else None,
        "margin_pump_bar": pump_margin_bar(plant, brief),
    }


def line_drop_bar(flow_mL_s: float, plant: Plant, brief: Brief) -> float:
    """Return the pressure drop from the pump to the screen at a flow [bar]: coil or channel, group passage."""
    flow_kg_s = 1e-6 * flow_mL_s * density(brief.site.inlet_C)
    drop = passage_pressure_drop_Pa(flow_kg_s, default_user_C(brief), brief.machine.group)
    if plant.helix:
        steam_C = plant.parameters[at.P_STEAM_SET_C] if plant.keeps_steam else brief.site.ambient_C
        mean_C = 0.5 * (brief.site.inlet_C + steam_C)
        drop += helix_pressure_drop_Pa(plant.helix, flow_kg_s, mean_C)
    if plant.design.channel_m > 0.0:
        data = brief.machine.block
        bore_m, curvature = 1e-3 * data.bore_mm, data.bore_mm / data.bend_mm
        mean_C = 0.5 * (brief.site.inlet_C + default_user_C(brief))
        drop += tube_pressure_drop(flow_kg_s, bore_m, plant.design.channel_m, curvature, mean_C)
    return 1e-5 * drop


def puck_pressures_bar(plant: Plant, brief: Brief) -> list[float]:
    """Return what the pump can hold on the puck at each steady flow of the duty [bar gauge].

    The brew line's valve opens at its pressure and lets nothing above it through.
    """
    pump, valve_bar = brief.machine.pump, brief.machine.vessels.brew_valve_bar
    named = {event.flow for event in brief.duty.events if event.kind == "shot"}
    flows = [brief.duty.flows[name].steady_mL_s for name in sorted(named)]
    return [min(pump_pressure_bar(q, pump), valve_bar) - line_drop_bar(q, plant, brief) for q in flows]


def pump_margin_bar(plant: Plant, brief: Brief) -> float:
    """Return what the pump has left at the duty's flows [bar]: over the puck's pressure, over none while filling."""
    pump, fill = brief.machine.pump, brief.duty.fill_mL_s
    filling = pump_pressure_bar(fill, pump) - line_drop_bar(fill, plant, brief)
    return min(filling, min(puck_pressures_bar(plant, brief)) - pump.brew_bar)


def steam_gauge_bar(plant: Plant, brief: Brief, offset_K: float) -> float | None:
    """Return the gauge pressure of the vessel that steams at its set-point [bar]; altitude raises it.

    Where the factory trims the steam set-point, its offset counts. None where no vessel steams.
    """
    if not plant.steaming:
        return None
    if plant.setting.circuit == "steam":
        steam_C = default_user_C(brief) + offset_K
    else:
        steam_C = plant.parameters[at.P_STEAM_SET_C]
    return 1e-5 * (saturation_pressure(steam_C) - pressure_at_altitude(brief.site.altitude_m))
