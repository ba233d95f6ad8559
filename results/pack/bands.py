"""How a batch's traces spread: bands over the warm-up and over each shot, on common clocks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from boilerfront.model.traces import Trace
from boilerfront.shared.shapes import Floats

LOW, HIGH = 5.0, 95.0
"""Percentiles of the bands."""
WARM_UP_STEP_S, SHOT_STEP_S = 2.0, 0.5
AFTER_READY_S = 60.0
WARMING = ("brew_sensor_C", "group_sensor_C", "steam_sensor_C")


@dataclass(frozen=True)
class Band:
    """Percentiles of the batch over a clock [s], and the nominal machine's course on it."""

    clock_s: Floats
    low: Floats
    high: Floats
    nominal: Floats


@dataclass(frozen=True)
class Bands:
    """`warm_up` by column, since switch-on; `shots` since each pump's start; `machines`: how many were traced."""

    warm_up: dict[str, Band]
    shots: list[Band]
    ready_s: tuple[float, float]
    machines: int


def bands_of(nominal: Trace, machines: Iterable[Trace]) -> Bands:
    """Return the bands of traces around the nominal one; a machine that was cut counts as far as it went.

    Traces are taken in one at a time: together they would fill the memory.
    """
    through = float(nominal.ready_s or nominal.time_s[-1])
    shots = nominal.spans("shot")
    shot_clocks = [np.arange(SHOT_STEP_S, end - begin + 1e-9, SHOT_STEP_S) for begin, end in shots]
    columns = [
        name for name in WARMING if name in nominal.columns and np.isfinite(nominal.columns[name]).all()
    ]
    ready: list[float] = []
    rows: list[dict[str, Floats]] = []
    pulled: list[list[Floats]] = []
    clock = np.arange(0.0, 2.0 * through + AFTER_READY_S, WARM_UP_STEP_S)
    for trace in machines:
        ready += [trace.ready_s] if trace.ready_s is not None else []
        rows.append({name: _at(clock, trace, name) for name in columns})
        pulled.append([_shot(trace, k, clock_s) for k, clock_s in enumerate(shot_clocks)])
    until = max([through, *ready]) + AFTER_READY_S
    shown = clock[clock <= until]
    return Bands(
        warm_up={
            name: _band(shown, [row[name][: shown.size] for row in rows], _at(shown, nominal, name))
            for name in columns
        },
        shots=[
            _band(clock_s, [each[k] for each in pulled], _shot(nominal, k, clock_s))
            for k, clock_s in enumerate(shot_clocks)
        ],
        ready_s=(min(ready, default=through), max(ready, default=through)),
        machines=len(rows),
    )


def _at(clock_s: Floats, trace: Trace, name: str) -> Floats:
    """Return a column on another clock, NaN beyond the trace's end."""
    values = np.interp(clock_s, trace.time_s, trace.columns[name])
    return np.where(clock_s <= trace.time_s[-1], values, np.nan)


def _shot(trace: Trace, number: int, clock_s: Floats) -> Floats:
    """Return the water of a shot over seconds since its pump's start, NaN where it was not pulled."""
    spans = trace.spans("shot")
    if number >= len(spans):
        return np.full(clock_s.size, np.nan)
    begin, end = spans[number]
    inside = (trace.time_s > begin) & (trace.time_s <= end)
    return np.asarray(np.interp(clock_s, trace.time_s[inside] - begin, trace.columns["shot_C"][inside]))


def _band(clock_s: Floats, rows: list[Floats], nominal: Floats) -> Band:
    if not rows:
        return Band(clock_s, nominal, nominal, nominal)
    stacked = np.array(rows)
    known = np.isfinite(stacked).any(axis=0)
    low, high = np.full((2, clock_s.size), np.nan)
    if known.any():
        low[known], high[known] = np.nanpercentile(stacked[:, known], [LOW, HIGH], axis=0)
    return Band(clock_s, low, high, nominal)
