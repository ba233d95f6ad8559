"""From a run's results to figures and margins, to the formula."""

from __future__ import annotations

from math import sqrt

import numpy as np

from boilerfront.model.assemblies.plant import Plant
from boilerfront.model.brief import Brief
from boilerfront.model.cost import assembly_line, part_lines
from boilerfront.model.duty import Event
from boilerfront.model.kernel import layout as at
from boilerfront.model.parts.element import surface_load_W_cm2
from boilerfront.model.parts.helix import helix_pressure_drop_Pa
from boilerfront.model.props.water import density, saturation_temperature
from boilerfront.model.runs import TRIM_LOW_K, boiling_C, default_user_C, trim_high_K
from boilerfront.shared.shapes import Floats

Figures = dict[str, float | None]

HOLDING_PART_MIDDLE = 0.5
"""Part of full power at which ripple is largest."""


def objectives(out: Floats, shots: Floats, plant: Plant, brief: Brief) -> dict[str, float]:
    """Return the four objectives of one run: `out` [NO], `shots` [MAX_SHOTS, NH]."""
    count = shot_count(brief)
    squares = shots[:count, at.H_SQUARE]
    return {
        "shot_deviation_K": sqrt(float(np.mean(squares)) + quantisation_K2(brief)),
        "warm_up_s": float(out[at.O_READY_S]),
        "energy_kWh_day": day_energy_kWh(out, brief),
        "part_cost": sum(line.cost for line in part_lines(plant, brief.prices)),
    }


def shot_count(brief: Brief) -> int:
    """Return how many shots the duty has."""
    return sum(event.kind == "shot" for event in brief.duty.events)


def has_steam_event(brief: Brief) -> bool:
    """Return whether the duty steams milk."""
    return any(event.kind == "steam" for event in brief.duty.events)


def quantisation_K2(brief: Brief) -> float:
    """Return the mean square of the sensor's rounding, uniform over its step [K2]."""
    return brief.machine.control.resolution_K**2 / 12.0


def day_energy_kWh(out: Floats, brief: Brief) -> float:
    """Return the day's electrical energy: one session, holding until auto-off, switched off for the rest."""
    control = brief.machine.control
    on_s = out[at.O_END_S] + control.hold_s
    session = out[at.O_ENERGY_J] + out[at.O_HOLD_W] * control.hold_s
    return float(session + control.off_W * (24 * 3600 - on_s)) / 3.6e6


def shot_figures(shots: Floats, brief: Brief) -> Figures:
    """Return what the shots' means tell."""
    queue = [event for event in brief.duty.events if event.kind == "shot"]
    means = shots[: len(queue), at.H_MEAN]
    squares = shots[: len(queue), at.H_SQUARE]
    after_idle = [i for i, event in enumerate(queue) if event.after_s is not None]
    row = _back_to_back(brief)
    return {
        "worst_shot_K": float(np.max(np.abs(means))),
        "within_shot_K": sqrt(max(float(np.mean(squares - means**2)), 0.0)),
        "shot_to_shot_K": float(np.std(means)),
        "first_shot_K": float(means[0]),
        "idle_shot_K": float(means[after_idle[0]]) if after_idle else None,
        "fast_shot_K": _isolated(queue, means, "fast"),
        "slow_shot_K": _isolated(queue, means, "slow"),
        "climb_K": float(means[row[-1]] - means[row[0]]) if len(row) > 1 else None,
        "dip_K": next(
            (float(shots[i, at.H_DIP]) for i, event in enumerate(queue) if event.flow == "nominal"), None
        ),
    }


def _isolated(queue: list[Event], means: Floats, flow: str) -> float | None:
    return next((float(means[i]) for i, event in enumerate(queue) if event.flow == flow), None)


def _back_to_back(brief: Brief) -> list[int]:
    """Return the numbers of the longest row of shots planned within 90 s of each other."""
    queue = [event for event in brief.duty.events if event.kind == "shot"]
    rows: list[list[int]] = [[0]]
    for i in range(1, len(queue)):
        now, before = queue[i].at_s, queue[i - 1].at_s
        if now is not None and before is not None and now - before <= 90:
            rows[-1].append(i)
        else:
            rows.append([i])
    return max(rows, key=len)


def run_figures(out: Floats, plant: Plant, brief: Brief) -> Figures:
    """Return the further figures of one run."""
    has_coil = plant.helix is not None
    pst = (out[at.O_PST_TIME_S] / 600.0) ** (1.0 / 3.2)
    expansion = brew_expansion_mL(plant, brief)
    return {
        "brew_ready_s": finite(out[at.O_BREW_READY_S]),
        "brew_in_band_s": finite(out[at.O_BREW_IN_S]),
        "steam_in_band_s": finite(out[at.O_STEAM_IN_S]),
        "steam_time_s": float(out[at.O_STEAM_TIME_S]) if has_steam_event(brief) else None,
        "wait_s": float(out[at.O_WAIT_S]),
        "recovery_s": float(out[at.O_RECOVERY_S]),
        "overshoot_K": float(out[at.O_OVERSHOOT_K]),
        "slug_mL": 1e6 * float(out[at.O_SLUG_M3]) if has_coil else None,
        "peak_current_A": float(out[at.O_PEAK_A]),
        "holding_power_W": float(out[at.O_HOLD_W]),
        "flicker_Pst": float(pst) if brief.site.flicker_counts else None,
        "expansion_mL": expansion,
        "steam_dryness": brief.machine.steam_vessel.dryness,
    }


def brew_expansion_mL(plant: Plant, brief: Brief) -> float:
    """Return the water that leaves the brew boiler between ambient and the user's set-point [mL]."""
    cold, hot = density(brief.site.ambient_C), density(default_user_C(brief))
    return 1e6 * plant.design.brew_m3 * (cold / hot - 1.0)


def plant_figures(plant: Plant, brief: Brief) -> Figures:
    """Return the figures that need no run."""
    vessels, helix = plant.vessels.values(), plant.helix
    fill_kg_s = 1e-6 * brief.duty.fill_mL_s * density(brief.site.inlet_C)
    packed = sum(p.volume_m3 for p in plant.packed)
    mean_C = 0.5 * (brief.site.inlet_C + plant.parameters.get(at.P_STEAM_SET_C, 0.0))
    return {
        "assembly_cost": assembly_line(plant, brief.prices).cost,
        "packed_volume_L": 1e3 * packed,
        "mass_kg": plant.mass_kg,
        "pressure_drop_bar": 1e-5 * helix_pressure_drop_Pa(helix, fill_kg_s, mean_C) if helix else None,
        "pressure_volume_bar_L": max((v.valve_Pa * 1e-5 * v.volume_m3 * 1e3 for v in vessels), default=0.0),
        "ripple_K": ripple_K(plant),
    }


def ripple_K(plant: Plant) -> float:
    """Return the largest ripple that firing windows leave in what makes the shot [K]."""
    circuit = plant.circuits[plant.setting.circuit]
    moved = circuit.loop.gain_W_K * 2.0 * circuit.loop.dead_time_s
    return circuit.power_W * HOLDING_PART_MIDDLE**2 * circuit.window_s / moved


def plant_margins(plant: Plant, brief: Brief) -> Figures:
    """Return the margins that need no run."""
    site, limits, control = brief.site, brief.limits, brief.machine.control
    largest = max(circuit.power_W for circuit in plant.circuits.values())
    over = 1.0 + site.mains_tolerance
    loads = [surface_load_W_cm2(element, over) for element in plant.elements.values()]
    walls = [v.wall_m - v.required_wall_m for v in plant.vessels.values()]
    steaming = [v.volume_m3 for name, v in plant.vessels.items() if name in plant.steaming]
    return {
        "margin_mains_A": site.current_limit_A
        - (largest + control.pump_W + control.electronics_W) / site.voltage_V,
        "margin_watt_density_W_cm2": limits.watt_density_W_cm2 - max(loads) if loads else None,
        "margin_coil_fit_mm": 1e3 * plant.helix.fit_m if plant.helix else None,
        "margin_envelope_mm": envelope_mm(plant, brief),
        "margin_wall_mm": 1e3 * min(walls) if walls else None,
        "margin_volume_category_L": limits.volume_category_L - 1e3 * max(steaming)
        if steaming and site.pressure_category
        else None,
    }


def envelope_mm(plant: Plant, brief: Brief) -> float:
    """Return the least slack of the upright vessels and blocks side by side in the casing [mm]."""
    casing = brief.machine.casing
    return min(
        casing.width_mm - 1e3 * sum(p.width_m for p in plant.packed),
        casing.depth_mm - 1e3 * max(p.depth_m for p in plant.packed),
        casing.height_mm - 1e3 * max(p.height_m for p in plant.packed),
    )


def run_margins(out: Floats, plant: Plant, brief: Brief) -> Figures:
    """Return the margins of one run."""
    limits = brief.limits
    water = brief.machine.brew_water
    idle_C = saturation_temperature(1e5 * water.idle_line_bar)
    return {
        "margin_served": limits.served - float(out[at.O_STARVED_S] / out[at.O_READY_S]),
        "margin_level_mm": level_mm(out, plant),
        "margin_outlet_boiling_K": boiling_C(brief)
        - float(out[at.O_OUTLET_HIGH_C])
        - limits.outlet_boiling_K,
        "margin_brew_boiling_K": idle_C - float(out[at.O_BREW_HIGH_C]) - 2.0,
        "margin_coil_boiling_K": idle_C - float(out[at.O_COIL_HIGH_C]) if plant.helix else None,
        "margin_steam_s": limits.steam_s - float(out[at.O_STEAM_TIME_S]) if has_steam_event(brief) else None,
        "margin_overshoot_K": limits.overshoot_K - float(out[at.O_OVERSHOOT_K]),
        "margin_wait_s": limits.wait_s - float(out[at.O_WAIT_S]),
    }


def level_mm(out: Floats, plant: Plant) -> float | None:
    """Return how far the lowest level stands above the element of the vessel that steams [mm]."""
    line = plant.waterline
    return 1e3 * line.height_m * (float(out[at.O_LEVEL_LOW]) - line.element_top) if line else None


def trim_margin(offset_K: float, user_C: float, brief: Brief) -> float:
    """Return the distance of the offset from its bounds [K]."""
    return min(offset_K - TRIM_LOW_K, trim_high_K(brief, user_C) - offset_K)


def finite(value: float) -> float | None:
    """Return a number, or None where it stands for 'never'."""
    return float(value) if np.isfinite(value) else None


WORST_OF_ALL = frozenset(
    {
        "margin_watt_density_W_cm2",
        "margin_level_mm",
        "margin_outlet_boiling_K",
        "margin_brew_boiling_K",
        "margin_coil_boiling_K",
        "margin_coil_fit_mm",
        "margin_envelope_mm",
        "margin_wall_mm",
    }
)
"""Margins that every machine of the batch must keep, not only most of them."""


def settled_error(shots: Floats, count: int) -> float:
    """Return the mean error of a settled run's shots [K]."""
    return float(np.mean(shots[:count, at.H_MEAN]))
