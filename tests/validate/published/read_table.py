"""Tables of reference values: CSV with a heading that names their source."""

from __future__ import annotations

import csv
from pathlib import Path

FOLDER = Path(__file__).parent / "tables"


class Row(dict[str, float]):
    """One line of a table by the names of its columns; `row` is its number in the reference sheet."""

    row: str


def read_table(name: str) -> list[Row]:
    """Return the lines of a table; lines that begin with # are its heading."""
    text = (FOLDER / f"{name}.csv").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    rows = []
    for fields in csv.DictReader(lines):
        row = Row({key: float(value) for key, value in fields.items() if key != "row" and value})
        row.row = fields["row"]
        rows.append(row)
    return rows
