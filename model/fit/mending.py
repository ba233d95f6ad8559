"""What is mended in a bench log: a clock that was set, repeated rows, outliers; checks of probes are set apart."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from boilerfront.model.fit.columns import TEMPERATURE, Columns, units_of
from boilerfront.model.fit.log import Log
from boilerfront.shared.shapes import Bools, Floats

COLDEST_C, HOTTEST_C = -5.0, 180.0
EVENTS = ("on", "off", "ready", "shot", "stop", "steam", "ice", "boil")
"""First words of events: `shot fast` names a flow, `steam end` closes the wand, `ice shot_C` names what is in it."""
SPIKE_K, NEIGHBOURS_K = 3.0, 1.5
"""A reading this far from both its neighbours, which agree this well, is an outlier."""


def mended(name: str, clock: Floats, values: dict[str, Floats], events: list[str], columns: Columns) -> Log:
    """Return the log with a clock that rises from switch-on, without outliers, checks set apart."""
    notes: list[str] = []
    time_s = _risen(clock, notes)
    log = Log(name, time_s, values, [(float(t), e.strip()) for t, e in zip(time_s, events, strict=True) if e.strip()],
              columns, notes=notes)  # fmt: skip
    strange = sorted({text for _, text in log.events if text.lower().split()[0] not in EVENTS})
    if strange:
        notes.append(
            f"events that mean nothing here: {', '.join(strange[:3])}{', ...' if strange[3:] else ''}"
        )
    log = _without_checks(log)
    for channel in list(log.values):
        if units_of(channel) == TEMPERATURE:
            spikes = _spikes(log.values[channel])
            if spikes.any():
                log.values[channel] = np.where(spikes, np.nan, log.values[channel])
                notes.append(f"{channel}: {int(spikes.sum())} outliers left out")
        else:
            log.values[channel] = np.maximum(log.values[channel], 0.0)
    return _from_switch_on(log)


def _risen(clock: Floats, notes: list[str]) -> Floats:
    """Return a clock that rises: a step back or a jump by hours was a clock that was set; it goes on as before."""
    steps = np.diff(clock)
    usual = float(np.median(steps[steps > 0.0]))
    was_set = (steps < 0.0) | (np.abs(np.abs(steps) - 3600.0) < 5.0 * usual + 1.0)
    if was_set.any():
        notes.append(f"the clock was set {int(was_set.sum())} times: bridged by its usual {usual:g} s")
    return np.asarray(np.concatenate([[0.0], np.cumsum(np.where(was_set, usual, steps))]))


def _spikes(readings: Floats) -> Bools:
    """Return which readings stand alone far from both neighbours, or are no temperature."""
    found = np.asarray((readings < COLDEST_C) | (readings > HOTTEST_C))
    known = np.flatnonzero(np.isfinite(readings) & ~found)
    if known.size < 3:
        return found
    x = readings[known]
    left, right = x[1:-1] - x[:-2], x[1:-1] - x[2:]
    alone = (np.minimum(np.abs(left), np.abs(right)) > SPIKE_K) & (np.abs(x[:-2] - x[2:]) < NEIGHBOURS_K)
    found[known[1:-1][alone]] = True
    return found


def _without_checks(log: Log) -> Log:
    """Set rows of an ice or boil check apart: their readings are errors of probes, not of the machine."""
    checks: dict[str, list[tuple[str, float]]] = {}
    for when, text in log.events:
        bath, *named = text.lower().split()
        if bath not in ("ice", "boil"):
            continue
        row = int(np.argmin(np.abs(log.time_s - when)))
        wanted = [
            name
            for name in log.temperatures()
            if not named or {name.lower(), log.channel(name).column.lower()} & set(named)
        ]
        for channel in wanted:
            if np.isfinite(log.values[channel][row]):
                checks.setdefault(channel, []).append((bath, float(log.values[channel][row])))
                log.values[channel][row] = np.nan
    return replace(log, checks=checks)


def _from_switch_on(log: Log) -> Log:
    """Return the log from the event `on`, or from its first row that is no check; repeated times are made one."""
    on = [when for when, text in log.events if text.lower() == "on"]
    checked = [when for when, text in log.events if text.lower().split()[0] in ("ice", "boil")]
    known = np.any([np.isfinite(readings) for readings in log.values.values()], axis=0)
    first = on[0] if on else float(log.time_s[known & ~np.isin(log.time_s, checked)][0])
    kept = log.time_s >= first
    first -= _lead_s(log, kept)
    time_s, inverse = np.unique(log.time_s[kept] - first, return_inverse=True)
    values = {name: _means(readings[kept], inverse, time_s.size) for name, readings in log.values.items()}
    if time_s.size < kept.sum():
        log.notes.append(f"{int(kept.sum()) - time_s.size} rows repeat a time: their means are taken")
    gaps = [b - a for a, b in pairwise(time_s) if b - a > 10.0 * max(float(np.median(np.diff(time_s))), 1.0)]
    if gaps:
        log.notes.append(f"{len(gaps)} gaps, the longest {max(gaps):.0f} s")
    events = [(when - first, text) for when, text in log.events if when >= first]
    return replace(log, time_s=time_s, values=values, events=events)


def _lead_s(log: Log, kept: Bools) -> float:
    """Return how long before its first row a log began: a row whose mean power is not nothing covers a time."""
    row = int(np.argmax(kept))
    heats = any(
        name.endswith(("power_W", "_part")) and readings[row] > 0.0 for name, readings in log.values.items()
    )
    return float(np.median(np.diff(log.time_s[kept]))) if heats and log.columns.powers == "before" else 0.0


def _means(readings: Floats, inverse: np.ndarray, count: int) -> Floats:
    known = np.isfinite(readings)
    sums = np.bincount(inverse[known], weights=readings[known], minlength=count)
    counts = np.bincount(inverse[known], minlength=count)
    return np.where(counts > 0, sums / np.maximum(counts, 1), np.nan)
