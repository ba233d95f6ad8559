"""Which designs of a page have traces, and a trace thinned to what a picture needs.

A page opens without the model, so its traces are computed when it is written, for a handful of designs.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from boilerfront.model.brief import Brief
from boilerfront.model.traces import Trace, simulate
from boilerfront.model.variables import Value
from boilerfront.results.trace_plot import POWERS, temperatures_of
from boilerfront.shared.shapes import Bools, Floats, Ints

MOST_TRACED = 24
SHOT_STEP_S = 1.0
CALM_STEP_S = 6.0
"""Between rows that are kept, in shots and out of them."""

SHOT = ("shot_C", "shot, at the screen")
_DIGITS = {"_C": 2, "_W": 0}


@dataclass(frozen=True)
class ThinTrace:
    """A trace as a page has it: columns by name, [rows], rounded; None where there is no value.

    `labels` say what each column is in this machine, whose parts decide.

    `spans` are what happened from when to when [s], such as ("shot", 60.0, 88.0); a shot is scored from
    `scored_from_s` after its begin.
    """

    time_s: list[float]
    columns: dict[str, list[float | None]]
    labels: dict[str, str]
    spans: list[tuple[str, float, float]]
    ready_s: float | None
    set_point_C: float
    scored_from_s: float
    verdict: str


def traces_of(designs: Mapping[int, Mapping[str, Value]], brief: Brief) -> dict[int, ThinTrace]:
    """Return the thinned trace of each design by its trial. Raises `InputError` for a design that is none."""
    return {trial: thinned(simulate(design, brief)) for trial, design in designs.items()}


def thinned(trace: Trace) -> ThinTrace:
    """Return a trace with a row a second in shots and one in six seconds elsewhere.

    A temperature is that of the row kept; a power is the mean since the row kept before.
    """
    table = trace.table()
    temperatures = [SHOT, *(line[:2] for line in temperatures_of(trace))]
    powers = [line[:2] for line in POWERS if line[0] in table and table[line[0]].any()]
    kept = _kept_rows(trace.time_s, np.isfinite(table[SHOT[0]]))
    columns = {name: _rounded(table[name][kept], _DIGITS["_C"]) for name, _ in temperatures}
    for name, _ in powers:
        columns[name] = _rounded(_mean_since(trace.time_s, table[name], kept), _DIGITS["_W"])
    return ThinTrace(
        time_s=[round(float(time), 1) for time in trace.time_s[kept]],
        columns=columns,
        labels=dict([*temperatures, *powers]),
        spans=_spans(trace),
        ready_s=trace.ready_s,
        set_point_C=trace.user_set_point_C,
        scored_from_s=trace.scored_from_s,
        verdict=trace.verdict,
    )


def _kept_rows(time_s: Floats, in_shot: Bools) -> Ints:
    """Return the rows kept: the first and last of all and of every shot, others when their step is over."""
    edge = np.zeros(len(time_s), dtype=bool)
    edge[[0, -1]] = True
    turns = np.flatnonzero(np.diff(in_shot))
    edge[turns] = edge[turns + 1] = True
    kept, last_s = [], -np.inf
    for row, time in enumerate(time_s):
        if edge[row] or time - last_s >= (SHOT_STEP_S if in_shot[row] else CALM_STEP_S):
            kept.append(row)
            last_s = time
    return np.array(kept, dtype=np.int64)


def _mean_since(time_s: Floats, values: Floats, kept: Ints) -> Floats:
    """Return the mean of `values` [rows], each of which holds since the row before, between rows kept."""
    energy = np.concatenate([[0.0], np.cumsum(values[1:] * np.diff(time_s))])
    seconds = np.diff(time_s[kept])
    means = np.where(seconds > 0.0, np.diff(energy[kept]) / np.where(seconds > 0.0, seconds, 1.0), 0.0)
    return np.concatenate([values[:1], means])


def _rounded(values: Floats, digits: int) -> list[float | None]:
    return [round(float(value), digits) if np.isfinite(value) else None for value in values]


def _spans(trace: Trace) -> list[tuple[str, float, float]]:
    """Return what happened from when to when [s], in order."""
    kinds = {word.removesuffix(" begins") for _, word in trace.events if word.endswith(" begins")}
    spans = [(kind, begin, end) for kind in sorted(kinds) for begin, end in trace.spans(kind)]
    return sorted(spans, key=lambda span: span[1])
