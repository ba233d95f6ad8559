"""Figures from a bench log by the same code as the simulated ones: bands, shots, recovery, energy.

Readings take the place of the model's sensors; `kernel.bands` says when the machine is ready, `figures` what the
results mean. A figure that the log cannot give has a reason in place of a value.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from math import inf

import numpy as np

from boilerfront.model import figures as fig
from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.brief import Brief
from boilerfront.model.design import read_design
from boilerfront.model.fit.draws import LEAST_FLOW_G_S
from boilerfront.model.fit.inputs import SHORTEST_SHOT_S
from boilerfront.model.fit.log import Log
from boilerfront.model.fit.replay import I_INLET_C, I_JOINED, I_ROOM_C, I_SUBS, Start, replay, whole_seconds
from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.bands import count_in_band, track, track_steam
from boilerfront.model.kernel.duty import HOLD_WINDOW_S
from boilerfront.model.runs import Pool, Request, default_user_C
from boilerfront.model.tolerances import NOMINAL
from boilerfront.model.variables import Value
from boilerfront.shared.schema import Section
from boilerfront.shared.shapes import Bools, Floats

LONGEST_GAP_S = 5.0
"""Readings further apart than this are no course."""

SWINGS = "one heater brews and steams: the log does not say when it should be in its band"

Figures = dict[str, float | str]
"""Value of each figure, or in words why there is none."""


class ReadyBands(Section):
    """What a machine's readings must keep to be ready: set-points [°C], how far around them [K], what counts."""

    brew_C: float
    brew_below_K: float
    brew_above_K: float
    group_C: float
    steam_C: float
    steam_kept: bool
    counts_all: bool
    swings: bool = False
    """Whether one heater brews and steams: then a log of temperatures does not say when it should be in band."""


@dataclass(frozen=True)
class LogFigures:
    """Figures of one log, mean errors of its shots against what the user set [K], when each began [s]."""

    figures: Figures
    shot_errors_K: list[float] = field(default_factory=list)
    shots_at_s: list[float] = field(default_factory=list)
    why_no_shots: str = ""


def ready_bands(design: Mapping[str, Value], brief: Brief, *, offset_K: float) -> ReadyBands:
    """Return the bands of a design's nominal machine that is trimmed by an offset."""
    read = read_design(design, brief.machine)
    pool = Pool([ARCHITECTURES[read.architecture].build(read, brief)], brief)
    p = pool.arrays([Request(0, default_user_C(brief), offset_K, NOMINAL)]).parameters[0]
    return ReadyBands(
        brew_C=float(p[at.P_BREW_SET_C]),
        brew_below_K=float(p[at.P_BREW_BELOW_K]),
        brew_above_K=float(p[at.P_BREW_ABOVE_K]),
        group_C=_settled_group_C(pool, offset_K)
        if p[at.P_FINDS_REACH] > 0.0
        else float(p[at.P_GROUP_REACH_C]),
        steam_C=float(p[at.P_STEAM_SET_C]),
        steam_kept=bool(p[at.P_STEAM_KEPT] > 0.0),
        counts_all=bool(p[at.P_COUNTS_ALL] > 0.0),
        swings=bool(p[at.P_SWINGS] > 0.0),
    )


def _settled_group_C(pool: Pool, offset_K: float) -> float:
    """Return where the group settles on a machine that finds that out by what circulates."""
    site = pool.brief.site
    second = whole_seconds(1)
    second[0, [I_ROOM_C, I_INLET_C, I_JOINED, I_SUBS]] = site.ambient_C, site.inlet_C, 1.0, 1.0
    start = Start(True, site.ambient_C, default_user_C(pool.brief) + offset_K)
    return float(replay(pool, second, [{}], start=start, channels=["group_sensor_C"])[0, 0, 0])


def log_figures(log: Log, bands: ReadyBands, brief: Brief, *, user_C: float) -> LogFigures:
    """Return what a log of a cold start and the duty gives; `brief` has the duty and the controller's holding."""
    clock = np.arange(0.0, np.floor(log.time_s[-1]) + 1.0)
    out = np.zeros(at.NO)
    draws, why_no_draws = _draws(log)
    found: Figures = {}
    found |= _readiness(log, bands, clock, draws, out)
    shots, why = (
        _shots(log, brief, draws, user_C) if not why_no_draws else (np.zeros((0, at.NH)), why_no_draws)
    )
    found |= _shot_figures(shots, why, brief)
    found |= _brew_figures(log, bands, draws, why_no_draws, brief)
    found |= _steam_figures(log)
    if log.has("flow_g_s") and not why_no_draws:
        found["flush_mL"] = _flushed_mL(log, draws)
    found |= _power_figures(log, draws, why or why_no_draws, brief, out)
    errors = [float(error) for error in shots[:, at.H_MEAN]] if not why else []
    return LogFigures(found, errors, [begin for begin, _ in draws], why)


def _course(log: Log, channel: str, clock: Floats) -> Floats | None:
    """Return a channel by the clock, NaN within gaps; None where it is not logged."""
    if not log.has(channel):
        return None
    time_s, values = log.samples(channel)
    course = np.interp(clock, time_s, values)
    after = np.minimum(np.searchsorted(time_s, clock), time_s.size - 1)
    before = np.maximum(after - 1, 0)
    apart = np.minimum(np.abs(time_s[after] - clock), np.abs(clock - time_s[before]))
    usual = float(np.median(np.diff(time_s))) if time_s.size > 1 else 1.0
    return np.where(apart <= max(LONGEST_GAP_S, usual), course, np.nan)


def _draws(log: Log) -> tuple[list[tuple[float, float]], str]:
    """Return when shots begin and end [s], by events or else by the flow; or why that is not known."""
    begins = [when for when, text in log.events if text.lower().split()[0] == "shot"]
    stops = [when for when, text in log.events if text.lower() == "stop"]
    if begins:
        if len(stops) == len(begins) - 1 and begins[-1] > max(stops, default=-1.0):
            stops.append(float(log.time_s[-1]))  # a log may end with its last shot
        if len(stops) < len(begins):
            return [], f"{len(begins)} events 'shot' and {len(stops)} 'stop'"
        return [(b, min(stop for stop in stops if stop > b)) for b in begins if max(stops) > b], ""
    if not log.has("flow_g_s"):
        return [], "neither events 'shot' and 'stop' nor flow_g_s"
    return [(begin, end) for begin, end in _flowing(log) if end - begin >= SHORTEST_SHOT_S], ""


def _flowing(log: Log) -> list[tuple[float, float]]:
    """Return when water runs [s]."""
    time_s, flow = log.samples("flow_g_s")
    step = float(np.median(np.diff(time_s)))
    on = np.concatenate([[False], flow > LEAST_FLOW_G_S, [False]])
    begins, ends = np.flatnonzero(~on[:-1] & on[1:]), np.flatnonzero(on[:-1] & ~on[1:]) - 1
    widths = np.diff(np.concatenate([time_s[:1] - step, time_s]))
    if log.columns.powers == "after":
        return [(float(time_s[b]), float(time_s[e]) + step) for b, e in zip(begins, ends, strict=True)]
    return [(float(time_s[b] - widths[b]), float(time_s[e])) for b, e in zip(begins, ends, strict=True)]


def _readiness(
    log: Log, bands: ReadyBands, clock: Floats, draws: list[tuple[float, float]], out: Floats
) -> Figures:
    """Return when the machine was ready, and how long it took to recover after a shot."""
    names = ["brew_sensor_C", "group_sensor_C"]
    waits = bands.counts_all and bands.steam_kept
    if log.has("steam_sensor_C") or waits:
        names.append("steam_sensor_C")
    courses = {name: _course(log, name, clock) for name in names}
    missing = [name for name, course in courses.items() if course is None]
    figures = ("warm_up_s", "brew_ready_s", "recovery_s")
    if missing:
        return dict.fromkeys(figures, f"no {' and no '.join(missing)}")
    known = {name: course for name, course in courses.items() if course is not None}
    S, P = np.zeros((at.NS, 1)), np.zeros((at.NP, 1))
    P[at.P_BREW_SET_C], P[at.P_BREW_BELOW_K], P[at.P_BREW_ABOVE_K] = (
        bands.brew_C,
        bands.brew_below_K,
        bands.brew_above_K,
    )
    P[at.P_STEAM_SET_C], P[at.P_STEAM_KEPT] = bands.steam_C, float(bands.steam_kept and len(known) == 3)
    P[at.P_COUNTS_ALL] = float(bands.counts_all)
    S[at.S_REACH_C], S[at.S_READY], S[at.S_SPAN] = bands.group_C, at.NEVER, 1.0
    S[[at.S_BREW_IN, at.S_GROUP_IN, at.S_STEAM_IN]] = inf
    out[[at.O_BREW_IN_S, at.O_STEAM_IN_S, at.O_BREW_READY_S]] = inf
    places = {
        "brew_sensor_C": (at.S_BREW_Y, at.S_BREW_Y0),
        "group_sensor_C": (at.S_GROUP_Y, at.S_GROUP_Y0),
        "steam_sensor_C": (at.S_STEAM_Y, at.S_STEAM_Y0),
    }
    recovered = [0.0]
    for k, now in enumerate(clock):
        for name, course in known.items():
            reading, before = places[name]
            S[before] = S[reading] if k else course[0]
            S[reading] = course[k]
        S[at.S_TIME] = now
        if S[at.S_READY, 0] < 0.0:
            if draws and now >= draws[0][0]:
                break
            track(0, S, P, out)
            continue
        track_steam(0, S, P, out)
        count_in_band(0, S, P)
        stopped = [end for _, end in draws if end <= now]
        idle = not any(begin <= now < end for begin, end in draws)
        if stopped and idle and S[at.S_OK_BREW_S, 0] <= S[at.S_SPAN, 0]:
            recovered.append(
                float(now - S[at.S_OK_BREW_S, 0] - stopped[-1]) if S[at.S_OK_BREW_S, 0] > 0.0 else 0.0
            )
    if S[at.S_READY, 0] < 0.0:
        gaps = any(np.isnan(course).any() for course in known.values())
        return dict.fromkeys(figures, "never ready in the log" + (", which has gaps" if gaps else ""))
    found: Figures = {"warm_up_s": float(out[at.O_READY_S]), "brew_ready_s": float(out[at.O_BREW_READY_S])}
    found["recovery_s"] = SWINGS if bands.swings else max(recovered)
    return found


def _shots(log: Log, brief: Brief, draws: list[tuple[float, float]], user_C: float) -> tuple[Floats, str]:
    """Return mean, mean square and seconds of each shot's error [shots, NH], or why there are none."""
    planned = [event for event in brief.duty.events if event.kind == "shot"]
    shots = np.zeros((len(planned), at.NH))
    if not log.has("shot_C"):
        return shots, "no shot_C"
    if len(draws) != len(planned):
        return shots, f"{len(draws)} shots in the log, {len(planned)} in the duty"
    time_s, values = log.samples("shot_C")
    summed = np.concatenate([[0.0], np.cumsum(0.5 * (values[1:] + values[:-1]) * np.diff(time_s))])
    for k, (begin, end) in enumerate(draws):
        edges = begin + np.arange(brief.duty.window_start_s, np.floor(end - begin + 0.5) + 1.0)
        known = np.array([((time_s > a) & (time_s <= b)).any() for a, b in pairwise(edges)], dtype=np.bool_)
        if not known.any() or np.mean(known) < 0.5:
            return shots, f"shot {k + 1} has readings in {known.sum()} of {known.size} seconds"
        edges = np.clip(
            edges, None, time_s[time_s <= end + 1e-9][-1]
        )  # a last reading may come before the stop
        widths = np.diff(edges)
        means = np.diff(np.interp(edges, time_s, summed))[widths > 0.0] / widths[widths > 0.0]
        errors = means[known[widths > 0.0]] - user_C
        shots[k, [at.H_MEAN, at.H_SQUARE, at.H_SECONDS]] = np.mean(errors), np.mean(errors**2), errors.size
    return shots, ""


def _shot_figures(shots: Floats, why: str, brief: Brief) -> Figures:
    names = ("shot_deviation_K", "worst_shot_K", "shot_to_shot_K", "within_shot_K")
    if why:
        return dict.fromkeys(names, why)
    told = fig.shot_figures(shots, brief)
    found: Figures = {name: value for name in names if (value := told.get(name)) is not None}
    found["shot_deviation_K"] = float(np.sqrt(np.mean(shots[:, at.H_SQUARE]) + fig.quantisation_K2(brief)))
    return found


def _brew_figures(
    log: Log, bands: ReadyBands, draws: list[tuple[float, float]], why: str, brief: Brief
) -> Figures:
    """Return how far the brew boiler's sensor falls in the first nominal shot, and rises outside of draws."""
    if not log.has("brew_sensor_C") or why:
        return dict.fromkeys(("dip_K", "overshoot_K"), why or "no brew_sensor_C")
    time_s, values = log.samples("brew_sensor_C")
    planned = [event for event in brief.duty.events if event.kind == "shot"]
    nominal = next((k for k, event in enumerate(planned) if event.flow == "nominal"), 0)
    found: Figures = {"dip_K": f"{len(draws)} shots in the log"}
    if nominal < len(draws):
        begin, end = draws[nominal]
        inside = (time_s >= begin) & (time_s <= end)
        if inside.any():
            found["dip_K"] = float(np.interp(begin, time_s, values) - np.min(values[inside]))
    drawing = _inside(time_s, [*draws, *_steamed(log)])
    found["overshoot_K"] = SWINGS if bands.swings else float(np.max(values[~drawing]) - bands.brew_C)
    return found


def _flushed_mL(log: Log, draws: list[tuple[float, float]]) -> float:
    """Return the water that ran outside of shots [mL], a gram as a millilitre."""
    time_s, flow = log.samples("flow_g_s")
    widths = np.diff(np.concatenate([[0.0], time_s]))
    return float(np.sum((flow * widths)[~_inside(time_s, draws) & (flow > LEAST_FLOW_G_S)]))


def _inside(time_s: Floats, spans: list[tuple[float, float]]) -> Bools:
    """Return which times lie in one of the spans, after its beginning and up to its end."""
    found = np.zeros(time_s.size, dtype=np.bool_)
    for begin, end in spans:
        found |= (time_s > begin) & (time_s <= end)
    return found


def _steamed(log: Log) -> list[tuple[float, float]]:
    """Return when the wand was open [s], by the events `steam` and `steam end`."""
    opened = [when for when, text in log.events if text.lower() == "steam"]
    closed = [when for when, text in log.events if text.lower() == "steam end"]
    return list(zip(opened, closed, strict=False)) if len(opened) == len(closed) else []


def _steam_figures(log: Log) -> Figures:
    """Return for how long the wand was open."""
    spans = _steamed(log)
    if not spans:
        return {"steam_time_s": "no pairs of events 'steam' and 'steam end'"}
    return {"steam_time_s": max(end - begin for begin, end in spans)}


def _power_figures(
    log: Log, draws: list[tuple[float, float]], why: str, brief: Brief, out: Floats
) -> Figures:
    """Return what the power meter says: holding, the day's energy by the formula, the largest current."""
    found: Figures = {"peak_current_A": "no current_A"}
    if log.has("current_A"):
        found["peak_current_A"] = float(np.max(log.samples("current_A")[1]))
    names = ("holding_power_W", "energy_kWh_day")
    if not log.has("power_W") or why:
        return found | dict.fromkeys(names, why or "no power_W")
    time_s, power = log.samples("power_W")
    begin, end = draws[-1]
    widths = np.diff(np.concatenate([[0.0], time_s]))
    if float(np.max(widths[time_s <= end], initial=0.0)) > 60.0:
        return found | dict.fromkeys(names, "gaps of more than a minute in power_W")
    resting = (time_s > begin - HOLD_WINDOW_S) & (time_s <= begin)
    if log.has("flow_g_s"):  # a flush within the idling is none of it
        resting &= np.interp(time_s, *log.samples("flow_g_s")) <= LEAST_FLOW_G_S
    quiet = len(draws) > 1 and begin - draws[-2][1] >= HOLD_WINDOW_S
    if not resting.any() or not quiet:
        return found | dict.fromkeys(names, f"no idling of {HOLD_WINDOW_S:.0f} s before the last shot")
    out[at.O_HOLD_W] = np.average(power[resting], weights=widths[resting])
    used = time_s <= end
    out[at.O_ENERGY_J] = np.sum((power * widths)[used])
    out[at.O_END_S] = end
    alone = brief.model_copy(update={"duty": brief.duty.model_copy(update={"sessions": 1})})
    found["holding_power_W"] = float(out[at.O_HOLD_W])
    found["energy_kWh_day"] = fig.day_energy_kWh(out, alone)
    if brief.duty.sessions > 1:
        found["energy_kWh_day"] = f"one session logged, {brief.duty.sessions} a day in the duty"
    return found
