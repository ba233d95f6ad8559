"""What every fault is done to, and how its outcome is judged: by a run that nothing disturbed."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pyarrow as pa
import pyarrow.parquet as pq

from boilerfront.jobs.launch import Options, resume, start
from boilerfront.jobs.work import Design, Row
from boilerfront.model.brief import Brief
from boilerfront.results.front import read_front
from boilerfront.results.ledger import Ledger, read_run
from boilerfront.results.run_folder import RunFolder
from tests.jobs.fakes import Bench
from tests.jobs.toy import SWEEP, toy

BUDGET = 60
"""Designs of the tortured sweep, as `toy.SWEEP` says."""


class MissedError(Exception):
    """The run had ended before the fault came: that is no test of it."""


class LeftOverError(AssertionError):
    """A process of ours outlived its driver, or something ended in a way that it must not."""


@dataclass(frozen=True)
class Shot:
    """What one fault did: numbers of trials, and whether ledger and front are the undisturbed ones."""

    lost: int
    doubled: int
    repeats: int
    equal: bool


@dataclass
class CountingToy:
    """The toy, which counts its designs and calls `before` with the number so far."""

    before: Callable[[int], None] = lambda count: None
    count: int = 0

    def __call__(self, designs: Sequence[Design], brief: Brief) -> list[Row]:
        """Return the toy's rows."""
        self.before(self.count)
        self.count += len(designs)
        return toy(designs, brief)


@dataclass
class Stage:
    """A folder for runs, each in a place of its own, and the draws of all faults."""

    folder: Path
    draw: random.Random
    _places: int = 0
    _turns: dict[str, list[int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Run the sweep undisturbed once, and another one."""
        self.sweep_file = self.folder / "toy.toml"
        self.sweep_file.write_text(SWEEP, encoding="utf-8")
        self.other_sweep_file = self.folder / "other.toml"
        self.other_sweep_file.write_text(SWEEP.replace("seed = 5", "seed = 6"), encoding="utf-8")
        self.whole = self.started(self.place(), CountingToy())
        self.other = self.started(self.place(), CountingToy(), sweep_file=self.other_sweep_file)

    def place(self) -> RunFolder:
        """Return a run that is not there yet, in an empty folder of its own."""
        self._places += 1
        root = self.folder / f"{self._places:05d}"
        root.mkdir()
        return RunFolder(root / "toy")

    def started(
        self,
        run: RunFolder,
        evaluate: CountingToy,
        *,
        sweep_file: Path | None = None,
        bench: Bench | None = None,
    ) -> RunFolder:
        """Start the sweep in this process, or go on with it where it was begun."""
        means = (bench or Bench(evaluate=evaluate)).means()
        if run.exists():
            return resume(run, options=Options(), means=means).run
        file = sweep_file or self.sweep_file
        return start(file, run.path.parent, name="toy", options=Options(), means=means).run

    def gone_on_with(self, run: RunFolder, evaluate: CountingToy, kept: set[int], *, found: int = 0) -> Shot:
        """Resume after a fault in this process and judge; `found` designs were there before the toy counted any."""
        after = trials_of(run)
        self.started(run, evaluate)
        return self.judged(run, kept, after, evaluated=found + evaluate.count)

    def turn(self, fault: str, total: Callable[[], int]) -> int:
        """Return the next of the numbers 1 to `total()` in a drawn order; when all had their turn, again."""
        if not self._turns.get(fault):
            self._turns[fault] = self.draw.sample(range(1, (highest := total()) + 1), highest)
        return self._turns[fault].pop()

    def judged(
        self,
        run: RunFolder,
        kept: set[int],
        after: set[int],
        *,
        evaluated: int,
        whole: RunFolder | None = None,
        but: str | None = None,
    ) -> Shot:
        """Compare a finished run with the undisturbed one.

        `kept` are the trials whose rows were said to be on the disk before the fault, `after` those that were
        there after it. `but` is a column that may differ.
        """
        rows = Counter(raw_trials(run))
        missing = set(range(BUDGET)) - set(rows)
        return Shot(
            lost=len((kept - after) | missing),
            doubled=sum(count - 1 for count in rows.values()),
            repeats=evaluated - BUDGET,
            equal=same(run, whole or self.whole, but),
        )


def trials_of(run: RunFolder) -> set[int]:
    """Return the trials that a reader finds now."""
    table = read_run(run).table
    return set(table["trial"].to_pylist()) if table.num_rows else set()


def raw_trials(run: RunFolder) -> list[int]:
    """Return every row's trial from every file, without the ledger's reader, which would hide a double."""
    tables = [pq.read_table(pa.BufferReader(path.read_bytes())) for path in run.trials.glob("*.parquet")]
    return [trial for table in tables for trial in table["trial"].to_pylist()]


def same(one: RunFolder, other: RunFolder, but: str | None = None) -> bool:
    """Return whether ledgers and fronts of two runs have the same data in all columns, `but` one."""
    pairs = (
        (read_run(one).table, read_run(other).table),
        (read_front(one.front), read_front(other.front)),
    )
    return all(_data(a, but).equals(_data(b, but)) for a, b in pairs)


def _data(table: pa.Table, but: str | None) -> pa.Table:
    names = [name for name in table.column_names if name != but]
    return table.select(names).replace_schema_metadata(None)


@contextmanager
def acknowledged() -> Iterator[set[int]]:
    """Give the set of trials whose writing returned, as it grows inside the block."""
    trials: set[int] = set()
    real = Ledger.write_task

    def write_task(self: Ledger, generation: int, task: int, rows: Sequence[Any]) -> Path:
        path = real(self, generation, task, rows)
        trials.update(row["trial"] for row in rows)
        return path

    with patch.object(Ledger, "write_task", write_task):
        yield trials
