"""Runs with an invented model and workers in this process, and how two of them are compared."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pyarrow as pa

from boilerfront.jobs.launch import Options, start
from boilerfront.jobs.work import Design, Row
from boilerfront.model.brief import Brief
from boilerfront.results.front import read_front
from boilerfront.results.ledger import read_ledger
from boilerfront.results.run_folder import RunFolder
from tests.jobs.fakes import Bench
from tests.jobs.toy import toy


def run_whole(sweep_file: Path, name: str, bench: Bench | None = None, **options: Any) -> RunFolder:
    given = Options(**options)
    means = (bench or Bench()).means()
    return start(sweep_file, sweep_file.parent / "runs", name=name, options=given, means=means).run


def begin(
    folder: Path, name: str, sweep: str, *, source: RunFolder | None = None, bench: Bench | None = None
) -> RunFolder:
    """Write a sweep file of that name and run it; `source` is the run whose trials it begins with."""
    path = folder / f"{name}.toml"
    path.write_text(sweep, encoding="utf-8")
    options = Options(warm_from=source)
    return start(path, folder / "runs", name=name, options=options, means=(bench or Bench()).means()).run


def trials(run: RunFolder) -> pa.Table:
    return read_ledger(run.trials).table


def numbers(run: RunFolder) -> list[int]:
    found: list[int] = trials(run)["trial"].to_pylist()
    return found


def same_data(one: RunFolder, other: RunFolder) -> None:
    for left, right in ((trials(one), trials(other)), (read_front(one.front), read_front(other.front))):
        assert left.replace_schema_metadata(None).equals(right.replace_schema_metadata(None))


class Power:
    """An evaluator that ends with an error after some designs, as a cut of the power would."""

    def __init__(self, designs: int) -> None:
        self.left = designs

    def __call__(self, designs: Sequence[Design], brief: Brief) -> list[Row]:
        self.left -= len(designs)
        if self.left < 0:
            raise KeyboardInterrupt
        return toy(designs, brief)
