"""A night's proof: what became of the front's designs when they were rated again, otherwise, and what beats them.

`proof.parquet` has a row for each rating: `trial` of the front's design, `kind`, what was `changed`, then the
columns of the ledger. From it and from the fronts of other seeds follows one `proof_status` for each design.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from boilerfront.model.glossary import MARGINS
from boilerfront.results.front import objective_values
from boilerfront.results.ledger import parquet_bytes
from boilerfront.results.resolution import RESOLUTION
from boilerfront.results.schema import Row, added_field, digits_of, group_of, table_of
from boilerfront.shared.files import write_atomically
from boilerfront.shared.shapes import Bools, Floats

FINER = "finer"
NEIGHBOUR = "neighbour"
STATUS = "proof_status"
HOLDS = "holds"
NOT_PROVEN = "not looked at"
_KEYS = ("trial", "kind", "changed")

_LEAST = np.array(list(RESOLUTION.values()))

Key = tuple[int, str, str]


@dataclass(frozen=True)
class Rated:
    """One rating: of which design of the front, how, and what was changed of it."""

    trial: int
    kind: str
    changed: str = ""

    @property
    def key(self) -> Key:
        """Return what tells ratings apart."""
        return self.trial, self.kind, self.changed


class ProofTable:
    """The ratings of one run's proof, in its file."""

    def __init__(self, path: Path, ledger: pa.Schema) -> None:
        self._path = path
        self.schema = _proof_schema(ledger)
        self.table = _read(path, self.schema)
        self._fresh: list[pa.Table] = []

    @property
    def keys(self) -> frozenset[Key]:
        """Return which ratings are there."""
        return frozenset(zip(*(self.table[name].to_pylist() for name in _KEYS), strict=True))

    def add(self, rated: Rated, row: Row) -> None:
        """Take a rating in; `write` keeps it."""
        figures = {name: value for name, value in row.items() if name in self.schema.names}
        self._fresh.append(
            table_of(
                [{**figures, "trial": rated.trial, "kind": rated.kind, "changed": rated.changed}], self.schema
            )
        )

    def write(self) -> None:
        """Put all ratings into the file, sorted. Raises `DiskError`."""
        table = pa.concat_tables([self.table, *self._fresh])
        self.table, self._fresh = table.sort_by([(name, "ascending") for name in _KEYS]), []
        write_atomically(self._path, parquet_bytes(self.table, page_checksums=True))


def with_status(front: pa.Table, proof: pa.Table, others: Mapping[str, pa.Table]) -> pa.Table:
    """Return the front with what the proof says of each design; `others` are fronts of other seeds by name."""
    said: dict[int, list[str]] = {trial: [] for trial in front["trial"].to_pylist()}
    objectives = group_of(front.schema, "objective")
    own = dict(zip(said, front.select(objectives).to_pylist(), strict=True))
    looked_at = set()
    for row in proof.to_pylist():
        trial = row["trial"]
        if trial not in said:
            continue
        looked_at.add(trial)
        if row["kind"] == FINER:
            said[trial].insert(0, _finer_text(row, own[trial], front.schema))
        elif row["feasible"] and is_better(row, own[trial]):
            said[trial].append(f"better with {row['changed']}")
    for name, other in others.items():
        for trial, better in _beaten_by(front, other).items():
            looked_at.add(trial)
            said[trial].append(f"{name} has better: trial {better}")
    texts = ["; ".join(_each_once(said[t])) or (HOLDS if t in looked_at else NOT_PROVEN) for t in said]
    field = added_field(STATUS, pa.string(), text="what the night's proof says of the design")
    if STATUS in front.column_names:
        front = front.drop_columns([STATUS])
    return front.append_column(field, pa.array(texts, pa.string()))


def summary(front: pa.Table) -> str:
    """Return in words what the proof says of a front; empty where it says nothing."""
    if STATUS not in front.column_names:
        return ""
    texts = front[STATUS].to_pylist()
    looked_at = [text for text in texts if text != NOT_PROVEN]
    if not looked_at:
        return ""
    counts = {
        "hold": sum(text.startswith(HOLDS) for text in looked_at),
        "do not hold": sum(text.startswith("does not hold") for text in looked_at),
        "have a better neighbour": sum("better with" in text for text in looked_at),
        "are beaten by another seed": sum("has better: trial" in text for text in looked_at),
    }
    parts = [f"{count:,} {words}" for words, count in counts.items() if count]
    return f"{len(looked_at):,} of {len(texts):,} designs of the front looked at: " + ", ".join(
        parts or ["no change"]
    )


def is_better(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    """Return whether a row is worse in no objective, and better in one by what may be called a difference."""
    return bool(_is_gain(np.array([other[name] - one[name] for name in RESOLUTION])))


def why_not(row: Mapping[str, Any]) -> str:
    """Return what an infeasible row does not meet."""
    missed = [f"{name} {row[name]:.3g}" for name in MARGINS if (row.get(name) or 0.0) < 0.0]
    return ", ".join(missed) or str(row.get("reason") or row.get("fault"))


def _finer_text(row: Mapping[str, Any], own: Mapping[str, Any], schema: pa.Schema) -> str:
    """Return whether a design holds on the fresh machines, and what moved by more than a difference."""
    if not row["feasible"]:
        return f"does not hold: {why_not(row)}"
    moved = [
        f"{name} {row[name] - own[name]:+.{digits_of(schema.field(name))}f}"
        for name, least in RESOLUTION.items()
        if abs(row[name] - own[name]) >= least
    ]
    return f"{HOLDS}, moved: {', '.join(moved)}" if moved else HOLDS


def _beaten_by(front: pa.Table, other: pa.Table) -> dict[int, int]:
    """Return for designs of a front the trial of another front that is better by what is a difference."""
    if not front.num_rows or not other.num_rows:
        return {}
    names = list(RESOLUTION)
    theirs = _numbers(other, names)
    trials = other["trial"].to_numpy()
    found = {}
    for trial, values in zip(front["trial"].to_pylist(), _numbers(front, names), strict=True):
        gains = values - theirs
        better = np.flatnonzero(_is_gain(gains))
        if len(better):
            found[trial] = int(trials[better[np.argmax((gains[better] / _LEAST).sum(axis=1))]])
    return found


def _is_gain(gains: Floats) -> Bools:
    """Return where gains [..., objectives] are a loss nowhere and what may be called a difference somewhere."""
    return np.asarray((gains >= 0.0).all(axis=-1) & (gains >= _LEAST).any(axis=-1))


def _numbers(table: pa.Table, names: Sequence[str]) -> Floats:
    return np.asarray(objective_values(table.select(names)), dtype=np.float64)


def _each_once(texts: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(texts))


def _proof_schema(ledger: pa.Schema) -> pa.Schema:
    added = [
        added_field("kind", pa.string(), text="how the design was rated again"),
        added_field("changed", pa.string(), text="what was changed of it"),
    ]
    rest = [each for each in ledger if each.name not in ("trial", "generation")]
    return pa.schema([ledger.field("trial"), *added, *rest], metadata=ledger.metadata)


def _read(path: Path, schema: pa.Schema) -> pa.Table:
    """Return the ratings in a file; none where it cannot be read or has other columns: they are made again."""
    try:
        data = path.read_bytes()
        table = pq.ParquetFile(pa.BufferReader(data), page_checksum_verification=True).read(use_threads=False)
        return table.select(schema.names).cast(schema)
    except (OSError, pa.ArrowException, KeyError, ValueError):
        return schema.empty_table()
