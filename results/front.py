"""The front: the feasible non-dominated trials, exact, and how it grew generation by generation."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import moocore
import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from boilerfront.results.ledger import parquet_bytes, read_run
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.schema import group_of
from boilerfront.shared.errors import BadPartError
from boilerfront.shared.files import write_atomically

REFERENCE_FACTOR = 1.1
"""The reference point, relative to the worst feasible value of each objective when it is fixed."""

_REFERENCE = b"reference"
_UNITS = {
    "generation": "",
    "trials": "",
    "feasible": "",
    "front_size": "",
    "hypervolume": "",
    "seconds": "s",
}
_CONVERGENCE = pa.schema(
    [
        pa.field(name, kind, metadata={"unit": _UNITS[name]})
        for name, kind in (
            ("generation", pa.int32()),
            ("trials", pa.int64()),
            ("feasible", pa.int64()),
            ("front_size", pa.int64()),
            ("hypervolume", pa.float64()),
            ("seconds", pa.float64()),
        )
    ]
)


@dataclass(frozen=True)
class Progress:
    """Where a run stood when a generation closed: trials, feasible ones and seconds of work so far."""

    generation: int
    trials: int
    feasible: int
    seconds: float


def front_table(table: pa.Table) -> pa.Table:
    """Return the feasible rows that no other feasible row dominates, with all columns, in the order given.

    Rows with equal objectives do not dominate one another: all of them stay, so the order of rows does not
    matter. The front of a front and new rows is the front of all, so a driver may let it grow by generations.
    """
    if not table.num_rows:
        return table
    places = np.flatnonzero(_eligible(table).to_numpy(zero_copy_only=False))
    # Of a million rows only the few of the front are copied.
    kept = places[_on_front(objective_values(table)[places])]
    return table.take(pa.array(kept, pa.int64())).combine_chunks()


def front_values(table: pa.Table, others: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Return the objectives of the front of a table's rows and of `others`, both of shape [rows, objectives]."""
    eligible = _eligible(table).to_numpy(zero_copy_only=False)
    values = np.vstack([others, objective_values(table)[eligible]])
    return values[_on_front(values)]


def feasible_count(table: pa.Table) -> int:
    """Return how many rows are feasible."""
    return int(pc.sum(table["feasible"].cast(pa.int64())).as_py() or 0) if table.num_rows else 0


def write_front(path: Path, front: pa.Table) -> None:
    """Put the front at `path`, whole; the same front gives the same bytes. Raises `DiskError`."""
    write_atomically(path, parquet_bytes(front, page_checksums=True))


def read_front(path: Path) -> pa.Table:
    """Return the front as it was last written.

    Raises `FileNotFoundError` when there is none, `BadPartError` when it cannot be read (it is computed from
    the ledger, so nothing is lost).
    """
    return _read(path)


def front_of(run: RunFolder, trials: pa.Table | None = None) -> tuple[pa.Table, tuple[str, ...]]:
    """Return the front of a run as it was last written, and a sentence about every file that was not used.

    Where there is none to read it is computed from the ledger, whose rows are `trials` where they are known.
    """
    notes: tuple[str, ...] = ()
    try:
        return read_front(run.front), notes
    except FileNotFoundError:
        pass
    except BadPartError as error:
        notes = (f"{error}; computed again from the trials",)
    if trials is not None:
        return front_table(trials), notes
    loaded = read_run(run)
    return front_table(loaded.table), (*notes, *loaded.messages)


def objective_values(table: pa.Table) -> npt.NDArray[np.float64]:
    """Return the objectives, shape [rows, objectives]; null is NaN."""
    names = group_of(table.schema, "objective")
    columns = [table[name].to_numpy(zero_copy_only=False) for name in names]
    return np.column_stack(columns).astype(np.float64) if names else np.empty((table.num_rows, 0))


class Record:
    """How the front grew, row by row, in its file and in memory.

    The hypervolume is the share of the box from 0 to the reference point that the front dominates. The
    reference is fixed once, by the first front that is not empty: 1.1 times its worst value of each
    objective; it is kept in the file's metadata. Designs beyond it add nothing.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        written, self._reference = _read_convergence(path)
        self.rows: dict[int, Mapping[str, Any]] = {row["generation"]: row for row in written.to_pylist()}

    def note(self, progress: Progress, values: npt.NDArray[np.float64]) -> float | None:
        """Note a generation, in the place of a row that it has, and return its hypervolume (None before a front).

        `values` are the objectives of the front's designs, shape [designs, objectives].
        """
        if self._reference is None and len(values):
            self._reference = reference_of(values)
        volume = None if self._reference is None else hypervolume(values, self._reference)
        row = {**asdict(progress), "front_size": len(values), "hypervolume": volume}
        self.rows[progress.generation] = row
        return volume

    def write(self) -> None:
        """Put all rows into the file. Raises `DiskError`."""
        rows = [self.rows[generation] for generation in sorted(self.rows)]
        metadata = (
            {} if self._reference is None else {_REFERENCE: " ".join(map(repr, self._reference)).encode()}
        )
        table = pa.Table.from_pylist(rows, _CONVERGENCE.with_metadata(metadata))
        write_atomically(self._path, parquet_bytes(table))


def read_convergence(path: Path) -> pa.Table:
    """Return the rows written so far, oldest first; none when there is no file that can be read."""
    return _read_convergence(path)[0]


def reference_of(values: npt.NDArray[np.float64]) -> list[float]:
    """Return the reference point that a set of objectives, shape [rows, objectives], fixes."""
    return [float(worst) * REFERENCE_FACTOR or 1.0 for worst in values.max(axis=0)]


def hypervolume(values: npt.NDArray[np.float64], reference: Sequence[float]) -> float:
    """Return the share of the box from 0 to `reference` that is dominated by `values` [rows, objectives]."""
    if not len(values):
        return 0.0
    scaled = values / np.asarray(reference)
    return float(moocore.hypervolume(scaled, ref=np.ones(len(reference))))


def _on_front(values: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
    if not len(values):
        return np.zeros(0, dtype=np.bool_)
    return np.asarray(moocore.is_nondominated(values, keep_weakly=True), dtype=np.bool_)


def _eligible(table: pa.Table) -> pa.ChunkedArray:
    mask = pc.fill_null(table["feasible"], False)
    for name in group_of(table.schema, "objective"):
        mask = pc.and_(mask, pc.is_valid(table[name]))
    return mask


def _read_convergence(path: Path) -> tuple[pa.Table, list[float] | None]:
    """Return rows and reference; a file that cannot be read counts as none: it is a record, not a source."""
    try:
        table = _read(path)
        text = (table.schema.metadata or {}).get(_REFERENCE)
        reference = None if text is None else [float(word) for word in text.split()]
        return table.select(_CONVERGENCE.names).cast(_CONVERGENCE), reference
    except (FileNotFoundError, BadPartError, KeyError, ValueError):
        return _CONVERGENCE.empty_table(), None


def _read(path: Path) -> pa.Table:
    data = path.read_bytes()
    try:
        return pq.ParquetFile(pa.BufferReader(data), page_checksum_verification=True).read(use_threads=False)
    except (pa.ArrowException, OSError) as error:
        raise BadPartError(f"{path}: cannot be read ({error})") from error
