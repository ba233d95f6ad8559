"""A table for people (text that fits the terminal) and for programs (CSV, JSON, Parquet)."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import dataclass, replace
from pathlib import Path

import pyarrow as pa
from rich.cells import cell_len

from boilerfront.results.ledger import parquet_bytes
from boilerfront.results.schema import digits_of, metadata_of, unit_of
from boilerfront.shared.errors import Fault, InputError
from boilerfront.shared.files import DiskError, write_atomically

FORMATS = ("text", "csv", "json", "parquet")
NO_VALUE = "–"
_GAP = "  "
# A header is folded at its underscores to the width of the values, but not to less than the first of these with
# which all columns fit.
_HEAD_ROOMS = (24, 16, 11, 9)
_NARROWEST_TEXT = 16
"""Columns that a long text is folded into at the least; with less room it is left out."""
_UNDER = "    "
_MOST_ON_SIDE = 6
"""Rows that may stand side by side, a line for each column, where a line for each row has no room for all."""


def rendered(table: pa.Table, form: str, *, width: int = 80) -> bytes:
    """Return a table in one of `FORMATS`; `width` is the terminal's, in columns, and counts for text only.

    Raises `InputError` for another format.
    """
    if form == "text":
        return as_text(table, width=width).encode()
    if form == "csv":
        return _as_csv(table)
    if form == "json":
        return _as_json(table)
    if form == "parquet":
        return parquet_bytes(table)
    raise InputError([Fault("--format", form, ", ".join(FORMATS))])


def write_out(path: Path, data: bytes) -> None:
    """Put an answer at a place that a person named. Raises `InputError` when that cannot be written."""
    try:
        write_atomically(path, data)
    except DiskError as error:
        raise InputError([Fault("--out", str(error), "a file in a folder that can be written")]) from error


def as_text(
    table: pa.Table, *, width: int, chooser: str = " (--columns chooses)", below: str | None = None
) -> str:
    """Return a table as text of at most `width` columns: names, units, then a line for each row.

    The column names are folded at their underscores, long texts into the room that is left. Columns that do not
    fit are left out from the right, unless there are few rows: those stand side by side then, a line for each
    column. Columns with one value all through are said once. What is left out or said once is named under the
    table, the former with what chooses columns. `below` is a column of texts that stand under their rows, so that
    no narrow terminal loses them.
    """
    under = [""] * table.num_rows if below is None else [text or "" for text in table[below].to_pylist()]
    names = [name for name in table.column_names if name != below]
    for room in _HEAD_ROOMS:
        columns = [_column(table, name, room) for name in names]
        varied = [column for column in columns if not column.is_same]
        shown = _fitting(varied, width)
        if len(shown) == len(varied):
            break
    on_side = _on_side(varied, width) if len(shown) < len(varied) and below is None else []
    shown = varied if on_side else shown
    said = [column for column in columns if column.is_same]
    lines = [line.rstrip() for line in on_side or _lines(shown, under, width)]
    for lead, items in (
        (
            "the same in all rows",
            [f"{c.name} {_with_unit(c.cells[0], c.unit)}" for c in said if not c.is_void],
        ),
        ("without a value in these rows", [c.name for c in said if c.is_void]),
        (f"not shown for want of room{chooser}", [c.name for c in varied[len(shown) :]]),
    ):
        lines += ["", *_folded(lead, items, width)] if items else []
    return "\n".join(lines) + "\n"


@dataclass(frozen=True)
class _Column:
    """One column as texts; `head` are the folded lines of its name."""

    name: str
    unit: str
    head: tuple[str, ...]
    cells: tuple[str, ...]
    is_number: bool

    @property
    def width(self) -> int:
        lines = [line for cell in self.cells for line in cell.split("\n")]
        return max(map(cell_len, (*self.head, self.unit, *lines)))

    @property
    def is_same(self) -> bool:
        """Whether saying the value once says all; keys of rows are never left out."""
        return len(set(self.cells)) == 1 and (len(self.cells) > 1 or self.is_void) and self.name != "trial"

    @property
    def is_void(self) -> bool:
        return set(self.cells) == {NO_VALUE}

    @property
    def least_width(self) -> int:
        """How narrow the column may get: a long text is folded, but not within a word."""
        if self.is_number or self.width <= _NARROWEST_TEXT:
            return self.width
        words = [word for cell in self.cells for word in cell.split()]
        return min(self.width, max(_NARROWEST_TEXT, *map(cell_len, (*self.head, *words, ""))))

    def folded(self, room: int) -> _Column:
        """Return the column with its texts in lines of at most `room`, which is not below its least width."""
        if self.width <= room:
            return self
        return replace(
            self, cells=tuple("\n".join(_broken(_pieces(cell, room), room)) for cell in self.cells)
        )

    def padded(self, cell: str) -> str:
        fill = " " * (self.width - cell_len(cell))
        return fill + cell if self.is_number else cell + fill


def _column(table: pa.Table, name: str, room: int) -> _Column:
    field = table.schema.field(name)
    digits = digits_of(field)
    signed = "signed" in metadata_of(field)
    cells = tuple(cell_text(value, digits, signed=signed) for value in table[name].to_pylist())
    is_number = pa.types.is_integer(field.type) or pa.types.is_floating(field.type)
    return _Column(name, unit_of(field), _head(name, max([room, *map(cell_len, cells)])), cells, is_number)


def cell_text(value: float | int | bool | str | None, digits: int, *, signed: bool = False) -> str:
    """Return a value as it stands in a table for people, numbers with `digits` decimals, `signed` with their sign."""
    if value is None:
        return NO_VALUE
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        text = f"{value:{'+' if signed else ''}.{digits}f}"
        return f"{abs(value):.{digits}f}" if float(text) == 0 else text
    return str(value)


def value_text(table: pa.Table, name: str, row: int) -> str:
    """Return a value of a table as it stands in a sentence: with its digits and unit."""
    field = table.schema.field(name)
    return _with_unit(cell_text(table[name][row].as_py(), digits_of(field)), unit_of(field))


def _with_unit(text: str, unit: str) -> str:
    return f"{text} {unit}" if unit and text != NO_VALUE else text


def _head(name: str, room: int) -> tuple[str, ...]:
    """Return a name in lines of at most `room`, broken after underscores only."""
    lines = [""]
    for word in name.replace("_", "_ ").split(" "):
        if lines[-1] and len(lines[-1]) + len(word) > room:
            lines.append("")
        lines[-1] += word
    return tuple(lines)


def _fitting(columns: list[_Column], width: int) -> list[_Column]:
    """Return the columns from the left that fit, texts folded if need be; at least one."""
    count, used = 0, -len(_GAP)
    for column in columns:
        used += len(_GAP) + column.least_width
        if used > width and count:
            break
        count += 1
    return _filled(columns[:count], width)


def _filled(columns: list[_Column], width: int) -> list[_Column]:
    """Return columns that fit at their least widths, folded no more than they must be."""
    spare = width - sum(column.least_width for column in columns) - len(_GAP) * (len(columns) - 1)
    filled = []
    for column in columns:
        room = min(column.width, column.least_width + max(spare, 0))
        spare -= room - column.least_width
        filled.append(column.folded(room))
    return filled


def _on_side(columns: list[_Column], width: int) -> list[str]:
    """Return a line for each column, the rows side by side; nothing where they are many or do not fit."""
    rows = len(columns[0].cells) if columns else 0
    if not 0 < rows <= _MOST_ON_SIDE:
        return []
    texts = [tuple(column.name for column in columns)]
    texts += [tuple(_with_unit(column.cells[row], column.unit) for column in columns) for row in range(rows)]
    sides = [_Column("", "", (), cells, is_number=False) for cells in texts]
    if sum(side.least_width for side in sides) + len(_GAP) * rows > width:
        return []
    sides = _filled(sides, width)
    return [
        line
        for cells in zip(*(side.cells for side in sides), strict=True)
        for line in _side_by_side(sides, [cell.split("\n") for cell in cells])
    ]


def _lines(columns: list[_Column], under: list[str], width: int) -> list[str]:
    if not columns:
        return []
    heads = [list(column.head) for column in columns]
    height = max(map(len, heads))
    lines = _side_by_side(columns, [[""] * (height - len(head)) + head for head in heads])
    if any(column.unit for column in columns):
        lines.append(_GAP.join(column.padded(column.unit) for column in columns))
    lines.append(_GAP.join("─" * column.width for column in columns))
    for text, *row in zip(under, *(column.cells for column in columns), strict=True):
        lines += _side_by_side(columns, [cell.split("\n") for cell in row])
        if text:
            room = width - len(_UNDER)
            lines += [_UNDER + line for line in _broken(_pieces(text, room), room)]
    return lines


def _side_by_side(columns: list[_Column], cells: list[list[str]]) -> list[str]:
    """Return the lines of cells beside one another, the shorter ones filled up below."""
    height = max(map(len, cells))
    filled = [cell + [""] * (height - len(cell)) for cell in cells]
    return [
        _GAP.join(c.padded(cell[k]) for c, cell in zip(columns, filled, strict=True)) for k in range(height)
    ]


def _folded(lead: str, items: list[str], width: int) -> list[str]:
    """Return `lead: item, item, ...` in lines of at most `width`, broken between items."""
    return _broken([*f"{lead}:".split(), *(f"{item}," for item in items[:-1]), items[-1]], width, indent="  ")


def _pieces(text: str, room: int) -> list[str]:
    """Return a text in pieces between which it may be broken: at commas, else at blanks."""
    *heads, last = text.split(", ")
    pieces = [*(f"{head}," for head in heads), last]
    return [word for piece in pieces for word in ([piece] if cell_len(piece) <= room else piece.split())]


def _broken(pieces: list[str], width: int, *, indent: str = "") -> list[str]:
    """Return pieces joined by blanks in lines of at most `width`, but a piece that is longer stays whole."""
    lines = [pieces[0] if pieces else ""]
    for piece in pieces[1:]:
        if cell_len(lines[-1]) + 1 + cell_len(piece) > width:
            lines.append(indent + piece)
        else:
            lines[-1] += f" {piece}"
    return lines


def _as_csv(table: pa.Table) -> bytes:
    """Return a table as CSV (RFC 4180): full precision, nothing for null, true and false."""
    sink = io.StringIO()
    writer = csv.writer(sink)
    writer.writerow(table.column_names)
    for row in zip(*(column.to_pylist() for column in table.columns), strict=True):
        writer.writerow([str(value).lower() if isinstance(value, bool) else value for value in row])
    return sink.getvalue().encode()


def _as_json(table: pa.Table) -> bytes:
    """Return a table as a JSON list of one object for each row: full precision, null for null."""
    return json.dumps(table.to_pylist(), allow_nan=False, ensure_ascii=False, indent=1).encode() + b"\n"
