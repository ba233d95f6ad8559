"""The growth of a large front is looked at now and then; the record and what follows from it stay the same."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pyarrow as pa
import pytest

from boilerfront.jobs import growth, shell
from boilerfront.jobs.growth import Growth
from boilerfront.jobs.launch import Options, resume
from boilerfront.jobs.sampler_cache import SamplerCache
from boilerfront.results.front import front_table, read_convergence, read_front
from boilerfront.results.ledger import part_names, read_ledger
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.schema import table_of
from tests.jobs.fakes import Bench
from tests.jobs.sessions import Power, begin, same_data
from tests.jobs.toy import SWEEP
from tests.results.rows import SCHEMA, row

MANY = SWEEP.replace("budget = 60", "budget = 160").replace("generation = 10", "generation = 8")


@pytest.fixture
def soon(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a front of ten designs count as a large one."""
    monkeypatch.setattr(growth, "EVERY_GENERATION", 10)
    monkeypatch.setattr(growth, "_WRITTEN_AT_ONCE", 3)
    monkeypatch.setattr(growth, "_WRITTEN_EVERY", 1)
    monkeypatch.setattr(SamplerCache, "every", 5)


def record(run: RunFolder) -> pa.Table:
    return read_convergence(run.convergence).drop_columns("seconds")


@pytest.mark.usefixtures("soon")
def test_a_large_front_is_looked_at_more_seldom_and_is_exact_at_the_end(tmp_path: Path) -> None:
    run = begin(tmp_path, "a", MANY)
    generations = record(run)["generation"].to_pylist()
    assert generations[:2] == [0, 1]
    assert 3 < len(generations) < 20
    gaps = [later - earlier for earlier, later in pairwise(generations)]
    assert gaps == sorted(gaps)
    for trials, generation in zip(record(run)["trials"].to_pylist(), generations, strict=True):
        assert trials == 8 * (generation + 1)
    assert read_front(run.front).equals(front_table(read_ledger(run.trials).table), check_metadata=False)


@pytest.mark.usefixtures("soon")
@pytest.mark.parametrize("designs", [30, 75, 120, 150])
@pytest.mark.parametrize("with_cache", [True, False])
def test_its_record_is_the_same_after_a_cut(tmp_path: Path, designs: int, with_cache: bool) -> None:
    whole = begin(tmp_path, "whole", MANY)
    with pytest.raises(KeyboardInterrupt):
        begin(tmp_path, "cut", MANY, bench=Bench(evaluate=Power(designs)))
    run = RunFolder(tmp_path / "runs" / "cut")
    for path in [] if with_cache else run.path.glob("sampler-*.npz"):
        path.unlink()
    resume(run, options=Options(), means=Bench(seed=4).means())
    same_data(whole, run)
    assert record(whole).equals(record(run))


def test_the_record_reaches_as_far_as_the_next_look(tmp_path: Path) -> None:
    run = RunFolder(tmp_path)
    first = Growth(run, SCHEMA.empty_table())
    assert first.recorded(0) == []
    assert first.recorded(1) is None
    volume = first.take_in(0, table_of([row(1)], SCHEMA), seconds=1.0, fresh=True)
    assert first.recorded(1) == [(0, volume)]
    assert first.recorded(2) is None
    assert Growth(run, SCHEMA.empty_table()).recorded(1) == [(0, volume)]


@pytest.mark.slow
def test_parts_are_compacted_while_the_run_goes_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shell, "_COMPACT_EVERY", 64)
    small = SWEEP.replace("budget = 60", "budget = 150").replace("generation = 10", "generation = 1")
    with pytest.raises(KeyboardInterrupt):
        begin(tmp_path, "a", small, bench=Bench(evaluate=Power(140)))
    run = RunFolder(tmp_path / "runs" / "a")
    assert sum(name.kind == "part" for name in part_names(run.trials)) < 20
    resume(run, options=Options(), means=Bench().means())
    monkeypatch.undo()
    same_data(begin(tmp_path, "whole", small), run)
