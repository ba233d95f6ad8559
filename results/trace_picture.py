"""The picture of one or two traces: the whole duty at a glance, every shot from near."""

from __future__ import annotations

import itertools
import textwrap
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure, SubFigure

from boilerfront.model.traces import Trace
from boilerfront.results.trace_plot import FLOWS, POWERS, Traced, temperatures_of

PLAIN_BAND_K = 0.5
"""Half-width of the shaded band where the design's own deviation is not known."""
NARROWEST_VIEW_K, WIDEST_VIEW_K = 0.5, 8.0
"""How far from the set-point the shots' panels reach."""
SHOTS_A_ROW = 8
TITLE_SIGNS = 90
DESIGNS = (("#111111", "-"), ("#b0338f", "--"))
"""Colour and line of the first and of the second design where both are in one panel."""
READY_COLOUR, SHOT_COLOUR, STEAM_COLOUR, FLUSH_COLOUR = "#2e8b57", "#1f6fb2", "#c0392b", "#555555"
Kind = tuple[str, str, float]
"""A panel over time: what it shows, the label of its axis, its height [in]."""

_PRESSURE = (("steam_pressure_bar", "steam boiler", "#c0392b"),)


def picture(traced: Sequence[Traced]) -> Figure:
    """Return the picture: over time temperatures, powers, flows and pressure; below them each shot from near.

    Two designs stand side by side on the same scales, and in one panel for each shot.
    """
    shots = max(len(each.trace.spans("shot")) for each in traced)
    rows_of_shots = -(-shots // SHOTS_A_ROW)
    kinds = _kinds(traced)
    heights = [height for _, _, height in kinds]
    upper_in, lower_in = sum(heights) + 0.7, 0.5 + 2.3 * rows_of_shots if shots else 0.0
    width_in = 13.0 if len(traced) == 1 else 17.0
    figure = Figure(figsize=(width_in, upper_in + lower_in), layout="constrained")
    FigureCanvasAgg(figure)
    parts = [upper_in, lower_in] if shots else [upper_in]
    upper, *lower = figure.subfigures(len(parts), 1, height_ratios=parts, squeeze=False)[:, 0]
    grid = upper.subplots(
        len(kinds), len(traced), squeeze=False, sharex="col", sharey="row", height_ratios=heights
    )
    for column, each in enumerate(traced):
        _draw_course(list(grid[:, column]), each, kinds)
    for part in lower:
        draw_shots(part, traced, rows=rows_of_shots, columns=min(shots, SHOTS_A_ROW))
    return figure


def draw_course(figure: Figure, each: Traced) -> None:
    """Draw all that goes over time of one trace into a figure, a panel below the other."""
    kinds = _kinds([each])
    heights = [height for _, _, height in kinds]
    panels = figure.subplots(len(kinds), 1, squeeze=False, sharex=True, height_ratios=heights)[:, 0]
    _draw_course(list(panels), each, kinds)


def _kinds(traced: Sequence[Traced]) -> list[Kind]:
    """Return the panels over time that some of the traces have something for."""
    kinds: list[Kind] = [("temperatures", "temperature, °C", 3.2), ("powers", "power, W", 2.0)]
    kinds.append(("flows", "flow, g/s", 1.5))
    if any(_PRESSURE[0][0] in each.trace.columns for each in traced):
        kinds.append(("pressure", "steam pressure,\nbar absolute", 1.1))
    return kinds


def _draw_course(panels: Sequence[Axes], each: Traced, kinds: Sequence[Kind]) -> None:
    lines = {
        "temperatures": (temperatures_of(each.trace), 0.40),
        "powers": (POWERS, 0.62),
        "flows": (FLOWS, 0.55),
        "pressure": (_PRESSURE, None),
    }
    calm = _calm(each.trace)
    for panel, (kind, label, _) in zip(panels, kinds, strict=True):
        what, legend_at = lines[kind]
        _lines(panel, each.trace, what, label)
        if legend_at is not None and panel.lines:
            panel.legend(loc="center", bbox_to_anchor=(calm, legend_at), fontsize="small", ncols=2)
        _mark_events(panel, each.trace, named=panel is panels[0])
        panel.set_xlim(0.0, float(each.trace.time_s[-1]) / 60.0)
    panels[0].set_title(_title(each), fontsize="medium", loc="left", pad=30)
    panels[-1].set_xlabel("time since switch-on, min")


def _calm(trace: Trace) -> float:
    """Return the middle of the longest time without events, as a part of the whole: room for a legend."""
    end = float(trace.time_s[-1])
    busy = sorted([(0.0, trace.ready_s or 0.0), *trace.spans("shot"), *trace.spans("steam"), (end, end)])
    gaps = [(after[0] - before[1], before[1]) for before, after in itertools.pairwise(busy)]
    longest, start = max(gaps)
    return (start + 0.5 * longest) / end


def _title(each: Traced) -> str:
    ready = "never ready" if each.trace.ready_s is None else f"ready after {each.trace.ready_s:.0f} s"
    return textwrap.fill(f"{each.label}: {ready}, {each.trace.verdict}", TITLE_SIGNS)


def _lines(panel: Axes, trace: Trace, lines: Sequence[tuple[str, str, str]], label: str) -> None:
    table = trace.table()
    for name, text, colour in lines:
        # A heater or flow that a machine has not is nought throughout: no line for it.
        if name in table and np.nan_to_num(table[name]).any():
            panel.plot(trace.time_s / 60.0, table[name], color=colour, label=text, linewidth=1.2)
    panel.set_ylabel(label)
    panel.grid(alpha=0.25)


def _mark_events(panel: Axes, trace: Trace, *, named: bool) -> None:
    """Shade shots, steaming and flushes; above the panel, where `named`, the shots' numbers."""
    if trace.ready_s is not None:
        panel.axvline(trace.ready_s / 60.0, color=READY_COLOUR, linestyle="--", linewidth=1.0)
        if named:
            _above(panel, trace.ready_s / 60.0, "ready ", READY_COLOUR, side="right")
    for what, colour in (("shot", SHOT_COLOUR), ("steam", STEAM_COLOUR), ("flush", FLUSH_COLOUR)):
        for number, (begins, ends) in enumerate(trace.spans(what), start=1):
            panel.axvspan(begins / 60.0, ends / 60.0, color=colour, alpha=0.13, linewidth=0.0)
            if named and what != "flush":
                text = str(number) if what == "shot" else "steam"
                _above(panel, (begins + ends) / 120.0, text, colour)


def _above(panel: Axes, minutes: float, text: str, colour: str, *, side: str = "center") -> None:
    # Steaming is often followed by a shot within a minute: its word stands a line higher.
    height = 1.055 if text == "steam" else 1.01
    panel.text(
        minutes,
        height,
        text,
        transform=panel.get_xaxis_transform(),
        ha=side,
        va="bottom",
        fontsize="small",
        color=colour,
    )


def draw_shots(figure: SubFigure, traced: Sequence[Traced], *, rows: int, columns: int) -> None:
    """Draw each shot of all designs into a panel of its own: seconds since the pump's start, near the set-point."""
    panels: list[Axes] = list(figure.subplots(rows, columns, squeeze=False, sharey=True).flat)
    view, middle = _view(traced), traced[0].trace.user_set_point_C
    for number, panel in enumerate(panels):
        having = [
            (each, style, spans[number])
            for each, style in zip(traced, DESIGNS, strict=False)
            if number < len(spans := each.trace.spans("shot"))
        ]
        if not having:
            panel.set_visible(False)
            continue
        trace, (begins, ends) = having[0][0].trace, having[0][2]
        panel.axvspan(0.0, trace.scored_from_s, color="#000000", alpha=0.06, linewidth=0.0)
        panel.axhline(middle, color=READY_COLOUR, linewidth=0.9)
        for each, style, (begin, end) in having:
            _one_shot(panel, each, begin, end, style=style)
        panel.set_xlim(0.0, ends - begins)
        panel.set_ylim(middle - view, middle + view)
        panel.grid(alpha=0.25)
        panel.set_title(f"shot {number + 1}, {_when(trace, begins)}", fontsize="small", color=SHOT_COLOUR)
        panel.set_xlabel("s after pump start", fontsize="small")
    panels[0].set_ylabel("water at the screen, °C")
    handles, labels = panels[0].get_legend_handles_labels()
    if handles:
        figure.legend(
            handles, labels, loc="outside upper left", ncols=len(labels), fontsize="small", frameon=False
        )


def _one_shot(panel: Axes, each: Traced, begin: float, end: float, *, style: tuple[str, str]) -> None:
    trace, (colour, line) = each.trace, style
    half = PLAIN_BAND_K if each.deviation_K is None else each.deviation_K
    kind = "" if each.deviation_K is None else " (shot deviation)"
    middle = trace.user_set_point_C
    panel.axhspan(
        middle - half, middle + half, color=colour, alpha=0.10, linewidth=0.0, label=f"± {half:.2f} K{kind}"
    )
    inside = (trace.time_s > begin) & (trace.time_s <= end)
    since = trace.time_s[inside] - begin
    panel.plot(
        since, trace.columns["shot_C"][inside], color=colour, linestyle=line, linewidth=1.8, label=each.label
    )


def _when(trace: Trace, begins: float) -> str:
    since = begins - (trace.ready_s or 0.0)
    return f"ready + {since:.0f} s" if since < 1000.0 else f"ready + {since / 60.0:.0f} min"


def _view(traced: Sequence[Traced]) -> float:
    """Return how far from the set-point is shown: all that is scored, and the band, if they are not far off."""
    reach = [2.0 * (each.deviation_K or 0.0) for each in traced]
    for each in traced:
        trace = each.trace
        for begin, end in trace.spans("shot"):
            scored = (trace.time_s > begin + trace.scored_from_s) & (trace.time_s <= end)
            errors = np.abs(trace.columns["shot_C"][scored] - trace.user_set_point_C)
            reach += [1.15 * float(np.max(errors))] if np.isfinite(errors).all() and errors.size else []
    return min(max([*reach, NARROWEST_VIEW_K]), WIDEST_VIEW_K)
