"""From a run's results to figures and margins, to the formula."""

from __future__ import annotations

from math import sqrt

import numpy as np

from boilerfront.model.assemblies.plant import Plant
from boilerfront.model.brief import Brief
from boilerfront.model.cost import part_lines
from boilerfront.model.duty import DAY_S, Event
from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.bands import STAY_S
from boilerfront.model.parts.element import surface_load_W_cm2
from boilerfront.model.props.water import density, saturation_temperature
from boilerfront.model.runs import BREW_BOILING_K, TRIM_LOW_K, boiling_C, default_user_C, trim_high_K
from boilerfront.shared.shapes import Floats

Figures = dict[str, float | None]

DAYS = 365.0


def objectives(out: Floats, shots: Floats, plant: Plant, brief: Brief) -> dict[str, float]:
    """Return the four objectives of one run: `out` [NO], `shots` [MAX_SHOTS, NH]."""
    return run_objectives(out, shots, brief) | {"part_cost": part_cost(plant, brief)}


def run_objectives(out: Floats, shots: Floats, brief: Brief) -> dict[str, float]:
    """Return the objectives that differ from machine to machine of a design: `out` [NO], `shots` [MAX_SHOTS, NH]."""
    count = shot_count(brief)
    squares = shots[:count, at.H_SQUARE]
    return {
        "shot_deviation_K": sqrt(float(np.mean(squares)) + quantisation_K2(brief)),
        "warm_up_s": float(out[at.O_READY_S]),
        "energy_kWh_day": day_energy_kWh(out, brief),
    }


def part_cost(plant: Plant, brief: Brief) -> float:
    """Return what a design's parts cost."""
    return sum(line.cost for line in part_lines(plant, brief.prices))


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
    """Return the day's electrical energy: its sessions, holding until auto-off, switched off for the rest."""
    later_J = (brief.duty.sessions - 1) * out[at.O_LATER_J]
    return float(out[at.O_ENERGY_J] + later_J) / 3.6e6 + standby_kWh(out, brief)


def standby_kWh(out: Floats, brief: Brief) -> float:
    """Return the day's energy for holding until auto-off and for being switched off: no water is drawn in it."""
    control = brief.machine.control
    sessions = brief.duty.sessions
    on_s = out[at.O_END_S] + (sessions - 1) * out[at.O_LATER_S] + sessions * control.hold_s
    held_J = sessions * out[at.O_HOLD_W] * control.hold_s
    return float(held_J + control.off_W * max(DAY_S - on_s, 0.0)) / 3.6e6


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
    preheats = plant.helix is not None and plant.setting.circuit == "brew"
    swings = at.P_SWINGS in plant.parameters and has_steam_event(brief)
    pst = (out[at.O_PST_TIME_S] / 600.0) ** (1.0 / 3.2)
    expansion = brew_expansion_mL(plant, brief)
    return {
        "brew_ready_s": finite(out[at.O_BREW_READY_S]),
        "all_ready_s": all_ready_s(out, plant, brief),
        "brew_in_band_s": finite(out[at.O_BREW_IN_S]),
        "steam_in_band_s": finite(out[at.O_STEAM_IN_S]),
        "steam_time_s": float(out[at.O_STEAM_TIME_S]) if has_steam_event(brief) else None,
        "wait_s": float(out[at.O_WAIT_S]),
        "recovery_s": float(out[at.O_RECOVERY_S]),
        "overshoot_K": float(out[at.O_OVERSHOOT_K]) if plant.setting.circuit == "brew" else None,
        "slug_mL": 1e6 * float(out[at.O_SLUG_M3]) if preheats else None,
        "peak_current_A": float(out[at.O_PEAK_A]),
        "holding_power_W": float(out[at.O_HOLD_W]),
        "standby_kWh_day": standby_kWh(out, brief),
        "energy_kWh_year": DAYS * day_energy_kWh(out, brief),
        "flicker_Pst": float(pst) if brief.site.flicker_counts else None,
        "expansion_mL": expansion,
        "steam_dryness": float(out[at.O_DRYNESS]) or brief.machine.steam_vessel.dryness,
        "flush_mL": 1e6 * float(out[at.O_FLUSH_M3]),
        "swing_up_s": float(out[at.O_SWING_UP_S]) if swings else None,
        "swing_down_s": float(out[at.O_SWING_DOWN_S]) if swings else None,
    }


def all_ready_s(out: Floats, plant: Plant, brief: Brief) -> float | None:
    """Return the time until all that is kept hot is ready [s]; None where steam never came into its band.

    Where the machine counts as ready without steam, it is steam's first time in its band and the stay.
    """
    if brief.warm_up.counts == "all" or not plant.keeps_steam:
        return float(out[at.O_READY_S])
    return finite(max(out[at.O_BREW_READY_S], out[at.O_STEAM_IN_S] + STAY_S))


def brew_expansion_mL(plant: Plant, brief: Brief) -> float:
    """Return the water that leaves the brew boiler between ambient and the user's set-point [mL]."""
    cold, hot = density(brief.site.ambient_C), density(default_user_C(brief))
    return 1e6 * plant.design.brew_m3 * (cold / hot - 1.0)


def run_margins(out: Floats, plant: Plant, brief: Brief) -> Figures:
    """Return the margins of one run."""
    limits = brief.limits
    water = brief.machine.brew_water
    idle_C = saturation_temperature(1e5 * water.idle_line_bar)
    return {
        "margin_served": limits.served - float(out[at.O_STARVED_S] / out[at.O_READY_S]),
        "margin_level_mm": level_mm(out, plant, brief),
        "margin_outlet_boiling_K": boiling_C(brief)
        - float(out[at.O_OUTLET_HIGH_C])
        - limits.outlet_boiling_K,
        "margin_brew_boiling_K": idle_C - float(out[at.O_BREW_HIGH_C]) - BREW_BOILING_K
        if plant.setting.circuit == "brew"
        else None,
        "margin_coil_boiling_K": idle_C - float(out[at.O_COIL_HIGH_C]) if plant.helix else None,
        "margin_steam_s": limits.steam_s - float(out[at.O_STEAM_TIME_S]) if has_steam_event(brief) else None,
        "margin_overshoot_K": limits.overshoot_K - float(out[at.O_OVERSHOOT_K])
        if plant.setting.circuit == "brew"
        else None,
        "margin_wait_s": limits.wait_s - float(out[at.O_WAIT_S]),
    }


def level_mm(out: Floats, plant: Plant, brief: Brief) -> float | None:
    """Return how far the lowest level stands above the element of the vessel that steams [mm].

    None where the element's surface load is so low that it may stand in steam.
    """
    line = plant.waterline
    over = 1.0 + brief.site.mains_tolerance
    loads = [surface_load_W_cm2(plant.elements[name], over) for name in plant.steaming]
    if line is None or max(loads) <= brief.limits.watt_density_steam_W_cm2:
        return None
    return 1e3 * line.height_m * (float(out[at.O_LEVEL_LOW]) - line.element_top)


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
        "margin_steam_valve_bar",
        "margin_pump_bar",
    }
)
"""Margins that every machine of the batch must keep, not only most of them."""


def settled_error(shots: Floats, count: int) -> float:
    """Return the mean error of a settled run's shots [K]."""
    return float(np.mean(shots[:count, at.H_MEAN]))
