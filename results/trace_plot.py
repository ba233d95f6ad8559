"""Traces of one or two designs as a picture that can be read, or as columns for other tools."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyarrow as pa

from boilerfront.model.traces import Trace
from boilerfront.results.ledger import parquet_bytes
from boilerfront.results.show import write_out
from boilerfront.shared.errors import Fault, InputError

# What is drawn of a trace: column, what a person calls it, colour (told apart also by those who see few).
TEMPERATURES = (
    ("steam_sensor_C", "steam boiler", "#c0392b"),
    ("brew_sensor_C", "brew boiler", "#1f6fb2"),
    ("riser_C", "water to the group", "#8e44ad"),
    ("group_sensor_C", "group", "#b8860b"),
    ("casing_C", "casing air", "#7f8c8d"),
)
POWERS = (
    ("brew_power_W", "brew", "#1f6fb2"),
    ("group_power_W", "group", "#b8860b"),
    ("steam_power_W", "steam", "#c0392b"),
)
FLOWS = (
    ("flow_g_s", "through the group", "#1f6fb2"),
    ("refill_g_s", "refill", "#16a085"),
    ("steam_flow_g_s", "steam", "#c0392b"),
)
_UNITS = {"_C": "°C", "_W": "W", "_g_s": "g/s", "_bar": "bar", "_s": "s"}


@dataclass(frozen=True)
class Traced:
    """A design's trace with its label; `deviation_K` is its shot deviation, where known."""

    label: str
    trace: Trace
    deviation_K: float | None = None


def temperatures_of(trace: Trace) -> list[tuple[str, str, str]]:
    """Return those of `TEMPERATURES` that the machine has, called by what it has.

    Every trace has a column for each sensor: a machine without the part repeats another's there. What it is made
    of is told by its nodes.
    """
    table = trace.table()
    whole = "passage_1_C" not in table  # no nodes are known
    boilers = {"brew_sensor_C": "brew_1_C" in table, "steam_sensor_C": "steam_C" in table}
    found = [line for line in TEMPERATURES if line[0] in table and (whole or boilers.get(line[0], True))]
    if "channel_1_C" in table:
        found.insert(0, ("brew_sensor_C", "block", TEMPERATURES[1][2]))
    return found


def checked_target(path: Path) -> Path:
    """Return `path` if traces can be written to a name like it; raises `InputError` otherwise."""
    if path.suffix not in _WRITERS:
        raise InputError([Fault("--out", path.name, "a name that ends in .png, .csv or .parquet")])
    return path


def write_traces(path: Path, traced: Sequence[Traced]) -> None:
    """Write traces to `path` as its suffix says: .png, .csv or .parquet.

    Raises `InputError` for another suffix, or where it cannot be written.
    """
    write_out(path, _WRITERS[checked_target(path).suffix](traced))


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


def traces_parquet(traced: Sequence[Traced]) -> bytes:
    """Return traces as Parquet."""
    return parquet_bytes(trace_table(traced))


def _png(traced: Sequence[Traced]) -> bytes:
    from boilerfront.results.trace_picture import picture

    sink = io.BytesIO()
    picture(traced).savefig(sink, format="png", dpi=110)
    return sink.getvalue()


_WRITERS = {".png": _png, ".csv": _csv, ".parquet": traces_parquet}
