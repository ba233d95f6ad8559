"""Which designs are built most like one, and what they differ in.

The distance is Gower's (J. C. Gower, "A general coefficient of similarity and some of its properties",
Biometrics 27, 1971, 857-871; from memory): the mean over the variables that both designs have of the
difference as a share of the variable's range, 0 or 1 for choices.
"""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from boilerfront.results.schema import added_field, digits_of, group_of
from boilerfront.results.show import NO_VALUE, cell_text
from boilerfront.shared.shapes import Floats

DISTANCE = "distance"
DIFFERS = "differs_in"
KIND = "architecture"
ITSELF = "the design asked about"


class Neighbourhood:
    """A design and the rows round it: `rows` and the design itself together give each variable's range."""

    def __init__(self, reference: pa.Table, rows: pa.Table) -> None:
        self.reference = reference
        self.trial = reference["trial"][0].as_py()
        self._names = group_of(reference.schema, "variable")
        self._ranges = [_range(name, reference, rows) for name in self._names]

    def with_distance(self, table: pa.Table) -> pa.Table:
        """Return `table` with how far each row is from the design, as its last column."""
        parts = self._parts(table)
        known = np.isfinite(parts)
        # Every design has its architecture, so there is always something to compare.
        distance = np.where(known, parts, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1)
        text = f"mean difference of the variables from trial {self.trial}, as shares of their ranges"
        field = added_field(DISTANCE, pa.float64(), unit="", text=text, digits=3)
        return table.append_column(field, pa.array(distance))

    def with_differences(self, table: pa.Table) -> pa.Table:
        """Return `table` with the variables in which a row differs from the design, the largest first.

        What prints alike is no difference. Nor is, beside another architecture, what one of the two lacks.
        """
        weights = np.nan_to_num(self._parts(table), nan=0.0)
        before = [_text(self.reference, name, 0) for name in self._names]
        texts = []
        for row in range(table.num_rows):
            changes = []
            is_other_kind = table[KIND][row].as_py() != self.reference[KIND][0].as_py()
            for k in np.argsort(-weights[row], kind="stable"):
                after = _text(table, self._names[k], row)
                is_implied = is_other_kind and NO_VALUE in (after, before[k])
                if after != before[k] and not is_implied:
                    changes.append(f"{self._names[k]} {before[k]} → {after}")
            itself = table["trial"][row].as_py() == self.trial
            texts.append(ITSELF if itself else ", ".join(changes) or "nothing that shows")
        text = f"variables that differ from trial {self.trial}, the largest difference first"
        return table.append_column(added_field(DIFFERS, pa.string(), unit="", text=text), pa.array(texts))

    def _parts(self, table: pa.Table) -> Floats:
        """Return each variable's share of its range [rows, variables]; NaN where one of the two lacks it."""
        parts = np.full((table.num_rows, len(self._names)), np.nan)
        for k, name in enumerate(self._names):
            own = self.reference[name][0].as_py()
            if own is None:
                continue
            if pa.types.is_string(table[name].type):
                values = table[name].to_pylist()
                parts[:, k] = [np.nan if value is None else float(value != own) for value in values]
            else:
                parts[:, k] = np.abs(_numbers(table[name]) - float(own)) / self._ranges[k]
        return parts


def _range(name: str, reference: pa.Table, rows: pa.Table) -> float:
    """Return the range of a number; 1 where there is none."""
    if pa.types.is_string(rows[name].type):
        return 1.0
    numbers = np.concatenate([_numbers(reference[name]), _numbers(rows[name])])
    numbers = numbers[np.isfinite(numbers)]
    spread = float(np.ptp(numbers)) if len(numbers) else 0.0
    return spread if spread > 0.0 else 1.0


def _numbers(column: pa.ChunkedArray) -> Floats:
    return np.asarray(column.to_numpy(zero_copy_only=False), dtype=np.float64)


def _text(table: pa.Table, name: str, row: int) -> str:
    """Return a value without its unit, which the variable's name carries."""
    return cell_text(table[name][row].as_py(), digits_of(table.schema.field(name)))
