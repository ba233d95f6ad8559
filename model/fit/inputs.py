"""From a log to what a replay imposes, second by second, and what it is compared with."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from boilerfront.model.fit import replay as at
from boilerfront.model.fit.draws import Draws, above_rest, draws_of, means
from boilerfront.model.fit.log import Log
from boilerfront.model.fit.replay import SENSORS, Start
from boilerfront.model.kernel import layout
from boilerfront.model.kernel.pace import LOOP_STEADY_S
from boilerfront.model.props.water import saturation_temperature
from boilerfront.model.rating import Batch
from boilerfront.model.runs import Pool, default_user_C
from boilerfront.shared.errors import Fault, InputError
from boilerfront.shared.shapes import Bools, Floats

LONGEST_S = 6 * 3600
SHORTEST_SHOT_S = 10.0
"""A shorter draw is a flush, where no events name the shots."""
BRIDGED_S = 60.0
"""Longest gap in what is imposed that is bridged; a log is followed up to a longer one."""
GUESSED_S = 5.0
"""Powers across a longer gap are a guess, to which the fit may add."""
FINE, AFTER_S = 8, 3
"""Steps a second in a draw and for so long after it."""
SHOT_FROM_S = 4
"""The probe under the screen counts from here: before it there is air."""
COLD_K = 3.0
"""All within this of each other is a cold machine."""
ROOM_K = 5.0
"""A cold machine may be so much further from the room that the log or the sweep says."""
QUIETEST_K = 0.01
MOST_SIGMA = 4.0
"""Second differences beyond this many sigma are courses of the machine or outliers, not noise."""


@dataclass(frozen=True)
class Observed:
    """Readings of a channel: times [s], values and their noise (one sigma) [°C]."""

    channel: str
    time_s: Floats
    values: Floats
    noise_K: float


@dataclass(frozen=True)
class Case:
    """One log, ready to be replayed: `inputs` [parts of seconds, NI], how it begins, what is compared."""

    log: Log
    inputs: Floats
    start: Start
    observed: list[Observed]
    by_control: tuple[str, ...]
    """Circuits whose power is not logged: the model's own control heats them."""
    notes: list[str] = field(default_factory=list)


def case_of(log: Log, pool: Pool) -> Case:
    """Return a log as a case for the pool's first plant; raises `InputError` where it cannot be one."""
    plant = pool.plants[0]
    faults = list(_faults(log, pool))
    if faults:
        raise InputError(faults)
    notes: list[str] = []
    seconds = _length_s(log, notes)
    inputs = at.whole_seconds(seconds)
    site, rest = pool.brief.site, np.arange(seconds + 1.0)
    for place, channel, otherwise in (
        (at.I_ROOM_C, "room_C", site.ambient_C),
        (at.I_INLET_C, "inlet_C", site.inlet_C),
    ):
        inputs[:, place] = _smooth(log, channel, rest[1:], otherwise)
    drawing = draws_of(log, pool.brief.duty, rest, float(np.mean(inputs[:, at.I_INLET_C])))
    inputs[:, at.I_FLOW_KG_S] = drawing.flow_kg_s
    by_control = []
    for place, name in ((at.I_BREW_W, "brew"), (at.I_GROUP_W, "group"), (at.I_STEAM_W, "steam")):
        if name not in plant.circuits:
            continue
        power = means(log, f"{name}_power_W", rest)
        part = means(log, f"{name}_part", rest)
        if power is None and part is not None:
            power = part * plant.circuits[name].power_W
        if power is None:
            by_control.append(name)
        inputs[:, place] = _while_on(log, rest) if power is None else power
    refill = means(log, "refill_g_s", rest)
    inputs[:, at.I_REFILL_KG_S] = np.nan if refill is None else 1e-3 * above_rest(refill)
    steam = means(log, "steam_flow_g_s", rest)
    inputs[:, at.I_WAND_KG_S] = 0.0 if steam is None else 1e-3 * above_rest(steam)
    if steam is None:
        inputs[:, at.I_STEAMS] = _spans(log, "steam", "steam end", rest)
    flows = inputs[:, at.I_FLOW_KG_S] > 0.0
    if _named_shots(log):
        shots = drawing.with_ends(_spans(log, "shot", "stop", rest))
    else:
        shots = flows & ~_shorter(flows, SHORTEST_SHOT_S)
    inputs[:, at.I_JOINED] = _joined(shots, flows, drawing, pool.brief.duty.portafilter_off_s)
    inputs[:, at.I_SUBS] = _steps(inputs, loops=layout.P_LOOP_HEIGHT_M in plant.parameters)
    inputs[:, at.I_GAP] = _guessed(log, rest)
    drawn = flows | (inputs[:, at.I_STEAMS] > 0.0)
    first = int(np.argmax(drawn)) if drawn.any() else seconds
    inputs[:, at.I_FILLS] = np.arange(seconds) >= first - 60
    start = _start(log, pool, notes, controlled=bool(by_control))
    if by_control:
        notes.append(f"power of {', '.join(by_control)} not logged: by the model's own control")
    return Case(log, drawing.parted(inputs), start, _observed(log, flows & shots), tuple(by_control), notes)


def _faults(log: Log, pool: Pool) -> Iterator[Fault]:
    plant = pool.plants[0]
    known = {f"{name}_C" for name in pool.topology.names} | {"shot_C", *SENSORS}
    for channel in log.temperatures():
        if channel not in known:
            yield Fault(f"{log.name}: {channel}", "no part of this machine", ", ".join(sorted(known)))
    drawn = log.has("flow_g_s") or any(text.lower().startswith("shot") for _, text in log.events)
    if log.has("shot_C") and not drawn:
        yield Fault(
            f"{log.name}: shot_C", "no flow_g_s and no event 'shot'", "the flow, or when shots were pulled"
        )
    flows = pool.brief.duty.flows
    for when, text in log.events:
        word, _, named = text.lower().partition(" ")
        if word == "shot" and named and named not in flows:
            yield Fault(
                f"{log.name}: {when:g} s", f"event {text!r}", ", ".join(f"shot {flow}" for flow in flows)
            )
    steams = any(text.lower() == "steam" for _, text in log.events) or log.has("steam_flow_g_s")
    if steams and layout.P_STEAM_M3 not in plant.parameters:
        allowed = "for a machine that steams with its only heater, a log of brewing alone"
        yield Fault(f"{log.name}", "steaming", allowed)


def _length_s(log: Log, notes: list[str]) -> int:
    """Return how many seconds are followed: up to the first gap too long to be bridged."""
    steps = np.diff(log.time_s)
    gaps = np.flatnonzero(steps > BRIDGED_S)
    end = float(log.time_s[gaps[0]] if gaps.size else log.time_s[-1])
    if gaps.size:
        notes.append(f"followed up to {end:.0f} s: the gap of {steps[gaps[0]]:.0f} s there is not bridged")
    if end < 60.0:
        raise InputError(
            [Fault(log.name, f"a gap of {steps[gaps[0]]:.0f} s at {end:.0f} s", "a minute without one")]
        )
    return min(int(end), LONGEST_S)


def _smooth(log: Log, channel: str, clock: Floats, otherwise: float) -> Floats:
    """Return a slow channel by the clock, its noise smoothed over a minute."""
    if not log.has(channel):
        return np.full(clock.size, otherwise)
    time_s, values = log.samples(channel)
    found = np.interp(clock, time_s, values)
    width = min(61, clock.size)
    padded = np.pad(found, width // 2, mode="edge")
    return np.asarray(np.convolve(padded, np.full(width, 1.0 / width), mode="valid")[: clock.size])


def _while_on(log: Log, edges: Floats) -> Floats:
    """Return where a machine's own control heats: NaN until it is switched off, nothing from there."""
    off = min([when for when, text in log.events if text.lower() == "off"], default=np.inf)
    return np.where(edges[:-1] < off, np.nan, 0.0)


def _guessed(log: Log, edges: Floats) -> Bools:
    """Return in which seconds the powers are a guess: rows before and after are too far apart."""
    usual = float(np.median(np.diff(log.time_s)))
    found = np.zeros(edges.size - 1, dtype=np.bool_)
    for begin, end in pairwise(log.time_s):
        if end - begin > max(GUESSED_S, 3.0 * usual):
            found |= (edges[:-1] >= begin) & (edges[1:] <= end)
    return found


def _spans(log: Log, begin: str, end: str, edges: Floats) -> Bools:
    """Return in which seconds what begins and ends with these events was on."""
    found = np.zeros(edges.size - 1, dtype=np.bool_)
    ends = [when for when, text in log.events if text.lower() in (end, "stop")]
    words = [(when, text.lower()) for when, text in log.events]
    for when in (when for when, text in words if text != end and text.split()[0] == begin):
        until = min([stop for stop in ends if stop > when], default=when + 30.0)
        found |= (edges[:-1] + 0.5 >= when) & (edges[:-1] + 0.5 < until)
    return found


def _just_after(on: Bools, seconds: int) -> Bools:
    """Return which seconds lie at most so many after something was on."""
    found = np.zeros_like(on)
    for k in range(1, seconds + 1):
        found[k:] |= on[:-k] & ~on[k:] if k < on.size else False
    return found


def _joined(shots: Bools, flows: Bools, drawing: Draws, off_s: int) -> Floats:
    """Return for which part of each second the portafilter is in: it is taken off after each shot for `off_s`."""
    joined = np.where(_just_after(shots, off_s) & ~flows, 0.0, 1.0)
    ends = np.flatnonzero(shots & (drawing.until_s < 1.0))
    ends = ends[ends + off_s < shots.size]
    joined[ends + off_s] = np.maximum(joined[ends + off_s], 1.0 - drawing.until_s[ends])
    return joined


def _named_shots(log: Log) -> bool:
    return any(text.lower().split()[0] == "shot" for _, text in log.events)


def _shorter(on: Bools, seconds: float) -> Bools:
    """Return which seconds belong to a stretch shorter than so many: a flush, after which no portafilter is off."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], on, [False]])))
    found = np.zeros_like(on)
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        found[begin:end] = end - begin < seconds
    return found


def _steps(inputs: Floats, *, loops: bool) -> Floats:
    """Return the steps of each second; what circulates by buoyancy starts again for some time after a draw."""
    moving = (
        (inputs[:, at.I_FLOW_KG_S] > 0.0) | (inputs[:, at.I_WAND_KG_S] > 0.0) | (inputs[:, at.I_STEAMS] > 0.0)
    )
    fine, after_s = (2 * FINE, int(LOOP_STEADY_S)) if loops else (FINE, AFTER_S)
    return np.where(moving | _just_after(moving, after_s), float(fine), 1.0)


def _start(log: Log, pool: Pool, notes: list[str], *, controlled: bool) -> Start:
    """Return how a log begins; the design's own set-points are looked for where its control is needed."""
    plant, brief = pool.plants[0], pool.brief
    first = {name: float(log.samples(name)[1][0]) for name in log.temperatures() if name != "shot_C"}
    room_C = float(log.samples("room_C")[1][0]) if log.has("room_C") else brief.site.ambient_C
    spread = max(first.values()) - min(first.values()) if first else 0.0
    spread = max(spread, *(abs(value - room_C) - ROOM_K for value in first.values())) if first else 0.0
    settled = log.columns.start == "settled" or (log.columns.start == "auto" and spread > COLD_K)
    if settled and log.columns.start == "auto":
        notes.append(
            f"begins warm (first readings {spread:.0f} K from each other or from the room): taken as settled at "
            "its first readings"
        )
    trimmed = plant.setting.circuit
    set_C = default_user_C(brief)
    if settled:
        sensor = f"{trimmed}_sensor_C"
        set_C = first.get(sensor, set_C)
        steam = first.get("steam_sensor_C")
        if steam is None and log.has("steam_pressure_bar"):
            steam = saturation_temperature(1e5 * float(log.samples("steam_pressure_bar")[1][0]))
        return Start(True, set_C, set_C, first.get("group_sensor_C"), steam if trimmed != "steam" else None)
    if controlled:
        trims, _ = Batch(pool).trimmed()
        set_C += trims[0].tried[-1][0] if trims[0].tried else trims[0].offset_K
    start_C = float(np.mean(list(first.values()))) if first else brief.site.ambient_C
    return Start(False, start_C, set_C)


def _observed(log: Log, shots: Bools) -> list[Observed]:
    """Return what the replay is compared with: every temperature, the probe under the screen in shots."""
    found = []
    drawing = shots.copy()
    for k in range(1, SHOT_FROM_S + 1):
        drawing[k:] &= shots[:-k]
    drawing[:SHOT_FROM_S] = False
    for channel in log.temperatures():
        time_s, values = _by_second(*log.samples(channel))
        inside = (time_s >= 0.0) & (time_s <= shots.size)
        if channel == "shot_C":
            inside &= drawing[np.minimum(np.ceil(time_s - 1e-9).astype(int) - 1, shots.size - 1)]
        if inside.any():
            noise = noise_K(values, time_s)
            found.append(Observed(channel, time_s[inside], values[inside], noise))
    return found


def _by_second(time_s: Floats, values: Floats) -> tuple[Floats, Floats]:
    """Return one reading a second at most: quicker ones are averaged."""
    if time_s.size < 2 or float(np.median(np.diff(time_s))) >= 0.9:
        return time_s, values
    _, inverse, counts = np.unique(np.ceil(time_s - 1e-9), return_inverse=True, return_counts=True)
    return np.bincount(inverse, time_s) / counts, np.bincount(inverse, values) / counts


def noise_K(values: Floats, time_s: Floats) -> float:
    """Return the noise of readings, one sigma, from their second differences: no course of the machine enters.

    The rounding of the instrument counts as a uniform error.
    """
    near = np.diff(time_s) < 3.0 * max(float(np.median(np.diff(time_s))), 1e-9)
    bend = values[2:] - 2.0 * values[1:-1] + values[:-2]
    bend = bend[near[1:] & near[:-1]]
    if bend.size < 5:
        return QUIETEST_K
    bend = bend - np.median(bend)
    levels = np.diff(np.unique(np.round(values, 6)))
    step = float(np.min(levels)) if levels.size and values.size > 2 * levels.size else 0.0
    usual = max(1.4826 * float(np.median(np.abs(bend))), step)
    spread = float(np.sqrt(np.mean(bend[np.abs(bend) < MOST_SIGMA * usual] ** 2))) if usual > 0.0 else 0.0
    return float(max(spread / np.sqrt(6.0), step / np.sqrt(12.0), QUIETEST_K))
