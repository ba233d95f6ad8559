"""A bench log: a CSV file of times, temperatures, powers, flows and events, with all that real logs have.

Gaps, jitter, channels at different rates (empty cells), a clock that was set, repeated rows and outliers are normal:
they are mended or left out, and noted. What cannot be read is a fault; all faults of a file are told at once.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from datetime import datetime
from math import isfinite
from pathlib import Path

import numpy as np

from boilerfront.model.fit.columns import INPUTS, SECONDS, TEMPERATURE, Columns, units_of
from boilerfront.model.fit.log import Log
from boilerfront.model.fit.mending import COLDEST_C, HOTTEST_C, mended
from boilerfront.shared.errors import Fault, InputError
from boilerfront.shared.shapes import Floats

SHOWN = 3
"""Faults of one kind that are told with their lines; of more only the number."""
SHORTEST_S, FEWEST_ROWS = 60.0, 20
EMPTY = ("", "nan", "na", "n/a", "null", "none", "-")


def read_logs(paths: list[Path], columns: Columns) -> list[Log]:
    """Return the logs; raises `InputError` with the faults of all of them."""
    logs: list[Log] = []
    faults: list[Fault] = []
    for path in paths:
        try:
            logs.append(read_log(path, columns))
        except InputError as error:
            faults += error.faults
    faults += [
        Fault(f"{a.name} and {b.name}", "the same readings", "different logs")
        for k, a in enumerate(logs)
        for b in logs[k + 1 :]
        if a.time_s.size == b.time_s.size
        and all(np.array_equal(a.values[c], b.values.get(c, 0.0), equal_nan=True) for c in a.values)
    ]
    if faults:
        raise InputError(faults)
    return logs


def read_log(path: Path, columns: Columns) -> Log:
    """Return the log at `path`; raises `InputError` with every fault."""
    rows = _rows(path, columns)
    header, body = rows[0], rows[1:]
    places, faults = _places(path, header, columns)
    faults += _shape_faults(path, header, body)
    if faults:
        raise InputError(faults)
    texts = {name: [row[place].strip() for _, row in body] for name, place in places.items()}
    lines = [line for line, _ in body]
    reader = _Reader(path, lines, columns)
    clock = reader.clock(texts[columns.time.column])
    values = {
        name: reader.numbers(name, texts[name])
        for name in places
        if name not in (columns.time.column, columns.event)
    }
    events = texts.get(columns.event, [""] * len(body))
    faults = reader.faults
    if not faults:
        faults = list(_sense(path, clock, values))
    if faults:
        raise InputError(faults)
    return mended(path.name, clock, values, events, columns)


def _rows(path: Path, columns: Columns) -> list[tuple[int, list[str]]]:
    """Return header and rows with their line numbers."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputError([Fault(str(path), error.strerror or str(error), "a readable CSV file")]) from None
    if b"\0" in data:
        raise InputError([Fault(str(path), "zero bytes: no text", "a CSV file in UTF-8")])
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        found = f"byte 0x{data[error.start]:02x}"
        raise InputError([Fault(f"{path}: line {line}", found, "text in UTF-8")]) from None
    delimiter = "\t" if columns.delimiter == "tab" else columns.delimiter
    try:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
        rows = [(reader.line_num, row) for row in reader if row and not row[0].startswith("#") and any(row)]
    except csv.Error as error:
        raise InputError([Fault(f"{path}: line {reader.line_num}", str(error), "a CSV file")]) from None
    if not rows:
        raise InputError([Fault(str(path), "nothing", "a header and rows of readings")])
    return [
        (line, [cell.strip() for cell in row]) if k == 0 else (line, row)
        for k, (line, row) in enumerate(rows)
    ]


def _places(
    path: Path, header: tuple[int, list[str]], columns: Columns
) -> tuple[dict[str, int], list[Fault]]:
    """Return the place of time, event and every channel in a row, and what is wrong with the header."""
    line, names = header
    where = f"{path}: line {line}"
    if len(names) == 1:
        allowed = f"columns separated by {columns.delimiter!r}: delimiter in the columns file says otherwise"
        return {}, [Fault(where, f"one column, {names[0][:40]!r}", allowed)]
    if all(_is_number(name, columns.decimal) for name in names if name):
        return {}, [Fault(where, "numbers", "a header with the columns' names")]
    faults = [
        Fault(where, f"column {name!r} twice", "each name once")
        for name in sorted({name for name in names if name and names.count(name) > 1})
    ]
    wanted = {columns.time.column: columns.time.column}
    if columns.channels:
        wanted |= {name: channel.column for name, channel in columns.channels.items()}
    else:
        wanted |= {name: name for name in names if units_of(name) and name != columns.time.column}
    if columns.event in names:
        wanted[columns.event] = columns.event
    listed = ", ".join(name for name in names if name)
    faults += [
        Fault(where, f"no column {column!r}", f"one of {listed}; --columns FILE says which is which")
        for column in wanted.values()
        if column not in names
    ]
    temperatures = [name for name in wanted if name not in INPUTS and units_of(name) == TEMPERATURE]
    if not temperatures:
        allowed = "at least one temperature of the machine, such as brew_sensor_C; --columns FILE says which is which"
        faults.append(Fault(where, listed, allowed))
    return {name: names.index(column) for name, column in wanted.items() if column in names}, faults


def _shape_faults(
    path: Path, header: tuple[int, list[str]], body: list[tuple[int, list[str]]]
) -> list[Fault]:
    """Return which rows have too few or too many cells, and whether there are enough."""
    width = len(header[1])
    bad = [(line, len(row)) for line, row in body if len(row) != width]
    faults = [
        Fault(f"{path}: line {line}", f"{count} cells", f"{width} cells") for line, count in bad[:SHOWN]
    ]
    if len(bad) > SHOWN:
        faults.append(Fault(str(path), f"{len(bad)} rows of another length", f"{width} cells in each"))
    if len(body) < FEWEST_ROWS:
        faults.append(Fault(str(path), f"{len(body)} rows of readings", f"at least {FEWEST_ROWS}"))
    return faults


def _is_number(text: str, decimal: str) -> bool:
    try:
        float(text.replace(decimal, ".") if decimal != "." else text)
    except ValueError:
        return False
    return True


class _Reader:
    """Cells to numbers, with the faults found on the way."""

    def __init__(self, path: Path, lines: list[int], columns: Columns) -> None:
        self.path, self.lines, self.columns = path, lines, columns
        self.faults: list[Fault] = []

    def numbers(self, name: str, texts: list[str]) -> Floats:
        """Return a channel's readings in our unit; an empty cell is NaN."""
        channel = self.columns.channels.get(name)
        units = units_of(name)
        factor, added = units[channel.unit] if channel and channel.unit else next(iter(units.values()))
        found = np.full(len(texts), np.nan)
        bad = []
        for k, text in enumerate(texts):
            if text.lower() in EMPTY:
                continue
            value = self._number(text)
            if value is None:
                bad.append(k)
            else:
                found[k] = factor * value + added
        self._tell(
            name, texts, bad, f"a finite number with decimal {self.columns.decimal!r}, or an empty cell"
        )
        return found

    def clock(self, texts: list[str]) -> Floats:
        """Return the times [s] as the log's clock has them."""
        time = self.columns.time
        if time.unit == "iso":
            return time.rate * self._dates(texts)
        values = [self._number(text) for text in texts]
        bad = [k for k, value in enumerate(values) if value is None]
        self._tell(time.column, texts, bad, f"a time in {time.unit}")
        return time.rate * SECONDS[time.unit] * np.array([np.nan if v is None else v for v in values])

    def _dates(self, texts: list[str]) -> Floats:
        dates: list[datetime | None] = []
        for text in texts:
            try:
                dates.append(datetime.fromisoformat(text))
            except ValueError:
                dates.append(None)
        bad = [k for k, date in enumerate(dates) if date is None]
        self._tell(self.columns.time.column, texts, bad, "a date and time such as 2026-03-01T07:00:00")
        known = [date for date in dates if date is not None]
        zoned = [date.tzinfo is not None for date in known]
        if any(zoned) and not all(zoned):
            where = f"{self.path}: {self.columns.time.column}"
            self.faults.append(Fault(where, "times with and without a zone", "all with or all without"))
            return np.zeros(len(texts))
        first = known[0] if known else None
        return np.array(
            [np.nan if d is None or first is None else (d - first).total_seconds() for d in dates]
        )

    def _number(self, text: str) -> float | None:
        if self.columns.decimal == ",":
            text = text.replace(".", "").replace(",", ".") if "," in text else text
        try:
            value = float(text)
        except ValueError:
            return None
        return value if isfinite(value) and "_" not in text else None

    def _tell(self, name: str, texts: list[str], bad: list[int], allowed: str) -> None:
        for k in bad[:SHOWN]:
            self.faults.append(
                Fault(f"{self.path}: line {self.lines[k]}: {name}", repr(texts[k][:40]), allowed)
            )
        if len(bad) > SHOWN:
            self.faults.append(Fault(f"{self.path}: {name}", f"{len(bad)} such cells", allowed))


def _sense(path: Path, clock: Floats, values: dict[str, Floats]) -> Iterator[Fault]:
    """Find what can be read and cannot be true."""
    steps = np.diff(clock)
    if not (steps > 0.0).any():
        yield Fault(f"{path}: time", "a clock that stands still or only goes back", "times that rise")
    elif np.mean(steps < 0.0) > 0.05:
        yield Fault(
            f"{path}: time",
            f"{np.sum(steps < 0.0)} steps back",
            "times that rise; a clock that was set jumps once",
        )
    elif float(np.sum(steps[steps > 0.0])) < SHORTEST_S:
        allowed = f"at least {SHORTEST_S:g} s; --columns FILE says the clock's unit"
        yield Fault(f"{path}: time", f"{np.sum(steps[steps > 0.0]):g} s in all", allowed)
    for name, readings in values.items():
        known = readings[np.isfinite(readings)]
        where = f"{path}: {name}"
        if units_of(name) == TEMPERATURE:
            outside = (known < COLDEST_C) | (known > HOTTEST_C)
            if known.size and np.mean(outside) > 0.2:
                allowed = f"{COLDEST_C:g} to {HOTTEST_C:g} °C; --columns FILE says the unit"
                yield Fault(where, f"a median of {np.median(known):.4g} °C", allowed)
            elif known.size >= FEWEST_ROWS and name not in INPUTS and np.ptp(known) == 0.0:
                yield Fault(
                    where, f"{known[0]:g} °C all the time", "a probe that is alive, or no such column"
                )
        elif known.size and np.min(known) < -0.05 * max(float(np.max(np.abs(known))), 1e-9):
            yield Fault(where, f"{np.min(known):.4g}", "nothing below zero")
    if not any(np.isfinite(r).any() for n, r in values.items() if n not in INPUTS):
        yield Fault(str(path), "no reading in any temperature", "temperatures of the machine")
