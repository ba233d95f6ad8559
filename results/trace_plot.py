"""Traces of one or two designs as a picture that can be read, or as columns for other tools."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pyarrow as pa

from boilerfront.model.traces import Trace
from boilerfront.results.ledger import parquet_bytes
from boilerfront.results.show import write_out
from boilerfront.shared.errors import Fault, InputError

if TYPE_CHECKING:
    from matplotlib.axes import Axes

PLAIN_BAND_K = 0.5
"""Half-width of the shaded band where the design's own deviation is not known."""
NARROWEST_VIEW_K, WIDEST_VIEW_K = 1.0, 8.0
"""How far from the set-point the shots' panel reaches."""
# What is drawn of a trace: column, what a person calls it, colour.
TEMPERATURES = (
    ("steam_sensor_C", "steam boiler", "tab:red"),
    ("brew_sensor_C", "brew boiler", "tab:blue"),
    ("group_sensor_C", "group", "tab:olive"),
    ("casing_C", "casing air", "tab:gray"),
)
POWERS = (
    ("brew_power_W", "brew", "tab:blue"),
    ("group_power_W", "group", "tab:olive"),
    ("steam_power_W", "steam", "tab:red"),
)
FLOWS = (
    ("flow_g_s", "through the group", "tab:blue"),
    ("refill_g_s", "refill", "tab:cyan"),
    ("steam_flow_g_s", "steam", "tab:red"),
)
_UNITS = {"_C": "°C", "_W": "W", "_g_s": "g/s", "_bar": "bar", "_s": "s"}


@dataclass(frozen=True)
class Traced:
    """A design's trace with its label; `deviation_K` is its shot deviation, where known."""

    label: str
    trace: Trace
    deviation_K: float | None = None


def write_traces(path: Path, traced: Sequence[Traced]) -> None:
    """Write traces to `path` as its suffix says: .png, .csv or .parquet.

    Raises `InputError` for another suffix, or where it cannot be written.
    """
    writers = {".png": _png, ".csv": _csv, ".parquet": _parquet}
    if path.suffix not in writers:
        raise InputError([Fault("--out", path.name, "a name that ends in .png, .csv or .parquet")])
    write_out(path, writers[path.suffix](traced))


def trace_table(traced: Sequence[Traced]) -> pa.Table:
    """Return all traces one after another, the first column naming the design; units in the metadata."""
    names = list(traced[0].trace.table())
    arrays = [pa.array([each.label for each in traced for _ in each.trace.time_s])]
    arrays += [pa.array(np.concatenate([each.trace.table()[name] for each in traced])) for name in names]
    fields = [
        pa.field("design", pa.string()),
        *(pa.field(name, pa.float64(), metadata={"unit": _unit(name)}) for name in names),
    ]
    return pa.Table.from_arrays(arrays, schema=pa.schema(fields))


def _unit(name: str) -> str:
    return next((unit for suffix, unit in _UNITS.items() if name.endswith(suffix)), "")


def _csv(traced: Sequence[Traced]) -> bytes:
    table = trace_table(traced)
    sink = io.StringIO()
    writer = csv.writer(sink)
    writer.writerow(table.column_names)
    for row in zip(*(column.to_pylist() for column in table.columns), strict=True):
        writer.writerow(["" if value != value else value for value in row])
    return sink.getvalue().encode()


def _parquet(traced: Sequence[Traced]) -> bytes:
    return parquet_bytes(trace_table(traced))


def _png(traced: Sequence[Traced]) -> bytes:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9.0 * len(traced), 11.0), layout="constrained")
    FigureCanvasAgg(figure)
    grid = figure.subplots(4, len(traced), squeeze=False, sharex="col", height_ratios=[3.0, 2.5, 2.0, 1.2])
    for column, each in enumerate(traced):
        panels = [grid[row, column] for row in range(4)]
        _temperatures(panels[0], each)
        _shots(panels[1], each)
        _lines(panels[2], each.trace, POWERS, "power, W")
        _lines(panels[3], each.trace, FLOWS, "flow, g/s")
        for panel in panels:
            _mark_events(panel, each.trace, named=panel is panels[1])
        panels[3].set_xlabel("time since switch-on, min")
    sink = io.BytesIO()
    figure.savefig(sink, format="png", dpi=110)
    return sink.getvalue()


def _minutes(trace: Trace) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.asarray(trace.time_s / 60.0)


def _temperatures(panel: Axes, each: Traced) -> None:
    table = each.trace.table()
    for name, label, colour in TEMPERATURES:
        if name in table:
            panel.plot(_minutes(each.trace), table[name], color=colour, label=label, linewidth=1.2)
    panel.plot(_minutes(each.trace), table["shot_C"], color="black", label="shot", linewidth=1.8)
    panel.set_title(f"{each.label}: {each.trace.verdict}")
    _finish(panel, "temperature, °C")


def _shots(panel: Axes, each: Traced) -> None:
    """Show the water that leaves the screen, close to the set-point."""
    trace = each.trace
    shots = trace.table()["shot_C"]
    half = PLAIN_BAND_K if each.deviation_K is None else each.deviation_K
    middle = trace.user_set_point_C
    label = f"set-point ± {half:.2f} K" + ("" if each.deviation_K is None else " (shot deviation)")
    panel.axhspan(middle - half, middle + half, color="tab:green", alpha=0.2, label=label)
    panel.axhline(middle, color="tab:green", linewidth=0.8)
    panel.plot(_minutes(trace), shots, color="black", label="shot", linewidth=1.8)
    panel.plot(
        _minutes(trace), trace.table()["brew_sensor_C"], color="tab:blue", label="brew boiler", linewidth=0.8
    )
    reach = 1.3 * float(np.nanmax(np.abs(shots - middle))) if np.isfinite(shots).any() else WIDEST_VIEW_K
    view = min(max(reach, 2.0 * half, NARROWEST_VIEW_K), WIDEST_VIEW_K)
    panel.set_ylim(middle - view, middle + view)
    _finish(panel, "shots, °C")


def _lines(panel: Axes, trace: Trace, lines: Sequence[tuple[str, str, str]], unit: str) -> None:
    for name, label, colour in lines:
        panel.plot(_minutes(trace), trace.table()[name], color=colour, label=label, linewidth=0.9)
    _finish(panel, unit)


def _finish(panel: Axes, unit: str) -> None:
    panel.set_ylabel(unit)
    panel.grid(alpha=0.3)
    panel.legend(loc="best", fontsize="small", ncols=2)


def _mark_events(panel: Axes, trace: Trace, *, named: bool) -> None:
    for time_s, word in trace.events:
        if word == "ready":
            panel.axvline(time_s / 60.0, color="tab:green", linestyle="--", linewidth=1.0)
        elif word.endswith("begins"):
            panel.axvline(time_s / 60.0, color="tab:gray", linestyle=":", linewidth=0.8)
        else:
            continue
        label = word.removesuffix(" begins")
        panel.annotate(
            label if named else "",
            (time_s / 60.0, 0.02),
            xycoords=("data", "axes fraction"),
            rotation=90,
            fontsize="x-small",
        )
