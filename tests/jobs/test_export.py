"""A run in the tools of others: optuna reads every trial as it was told, CSV has every column."""

from __future__ import annotations

import csv
import errno
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import optuna
import pytest
from optuna.trial import FrozenTrial, TrialState

from boilerfront.jobs import export as exporting
from boilerfront.jobs import optuna_tables
from boilerfront.jobs.export import export
from boilerfront.jobs.launch import Options, frozen_sweep, start
from boilerfront.jobs.study import NOT_READY, outcome
from boilerfront.jobs.work import Design, Row
from boilerfront.model.brief import Brief
from boilerfront.model.glossary import OBJECTIVES
from boilerfront.results.front import front_table
from boilerfront.results.ledger import read_ledger
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared import files
from boilerfront.shared.errors import InputError
from tests.faulty_disk import RefusingDisk
from tests.jobs.fakes import Bench
from tests.jobs.toy import SWEEP, toy


def broken_now_and_then(designs: Sequence[Design], brief: Brief) -> list[Row]:
    """Return the toy's rows, but a fault for the smallest boilers."""
    return [
        {"feasible": False, "fault": "invented"} if float(design["brew_volume_mL"] or 0) < 220 else row
        for design, row in zip(designs, toy(designs, brief), strict=True)
    ]


def made(folder: Path, budget: int) -> RunFolder:
    path = folder / "toy.toml"
    path.write_text(SWEEP.replace("budget = 60", f"budget = {budget}"), encoding="utf-8")
    means = Bench(evaluate=broken_now_and_then).means()
    return start(path, folder / "runs", name=None, options=Options(), means=means).run


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> RunFolder:
    return made(tmp_path_factory.mktemp("exporting"), 90)


@contextmanager
def opened(path: Path) -> Iterator[optuna.Study]:
    storage = optuna.storages.RDBStorage(f"sqlite:///{path}")
    try:
        (summary,) = optuna.get_all_study_summaries(storage)
        yield optuna.load_study(study_name=summary.study_name, storage=storage)
    finally:
        storage.remove_session()
        storage.engine.dispose()


def content(trial: FrozenTrial) -> tuple[object, ...]:
    told = (trial.params, trial.distributions, trial.constraints, trial.user_attrs)
    return trial.number, trial.state, trial.values, *told


def test_optuna_reads_every_trial_as_the_search_was_told(run: RunFolder, tmp_path: Path) -> None:
    out = tmp_path / "käse und kaffee" / "toy.db"
    out.parent.mkdir()
    assert export(run, "optuna", out) == (90, ())
    rows = read_ledger(run.trials).table.to_pylist()
    kinds = set()
    with opened(out) as study:
        assert study.study_name == "toy"
        assert [each.name for each in study.directions] == ["MINIMIZE"] * len(OBJECTIVES)
        assert study.user_attrs["sweep_hash"] == getattr(frozen_sweep(run).run, "sweep_hash", None)
        assert study.user_attrs["fixed"]["control"] == "pid"
        for trial, row in zip(study.trials, rows, strict=True):
            values, constraints = outcome(row)
            assert trial.values == (None if values is None else list(values))
            assert trial.constraints == constraints
            assert trial.params == {name: row[name] for name in trial.distributions}
            assert ("coil_length_m" in trial.params) == (row["coil_length_m"] is not None)
            assert trial.user_attrs["trial"] == row["trial"]
            assert trial.user_attrs.get("reason") == row["reason"]
            kinds.add((trial.state, row["reason"]))
            if row["reason"] is not None:
                assert trial.values == [float("inf")] * len(OBJECTIVES)
                assert trial.constraints[NOT_READY] > 0
            if row["fault"] is not None:
                assert trial.user_attrs["fault"] == "invented"
        assert kinds == {
            (TrialState.COMPLETE, None), (TrialState.COMPLETE, "not ready"), (TrialState.FAIL, None)
        }  # fmt: skip
        best = {trial.user_attrs["trial"] for trial in study.best_trials}
    assert best == set(front_table(read_ledger(run.trials).table)["trial"].to_pylist())


def test_the_study_can_be_gone_on_with(run: RunFolder, tmp_path: Path) -> None:
    out = tmp_path / "toy.db"
    export(run, "optuna", out)
    with opened(out) as study:
        distributions = study.trials[-1].distributions
        trial = study.ask(distributions)
        study.tell(trial, [1.0] * len(OBJECTIVES))
        assert trial.number == 90


def test_tables_that_are_not_known_are_filled_in_optunas_own_way(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = made(tmp_path, 15)
    export(run, "optuna", tmp_path / "quick.db")
    monkeypatch.setattr(exporting, "knows", lambda path: False)
    export(run, "optuna", tmp_path / "slow.db")
    # What optuna reads otherwise than it is meant is found before it is relied on.
    monkeypatch.undo()
    monkeypatch.setattr(optuna_tables, "CONSTRAINT", "constraint:")
    export(run, "optuna", tmp_path / "found.db")
    with (
        opened(tmp_path / "quick.db") as quick,
        opened(tmp_path / "slow.db") as slow,
        opened(tmp_path / "found.db") as found,
    ):
        expected = list(map(content, slow.trials))
        assert len(expected) == 15
        assert list(map(content, quick.trials)) == expected
        assert list(map(content, found.trials)) == expected


def test_an_empty_run_is_a_study_without_trials(tmp_path: Path) -> None:
    run = made(tmp_path, 10)
    for part in run.trials.iterdir():
        part.unlink()
    assert export(run, "optuna", tmp_path / "empty.db") == (0, ())
    with opened(tmp_path / "empty.db") as study:
        assert study.trials == []
    assert export(run, "csv", tmp_path / "empty.csv") == (0, ())


def test_csv_has_every_trial_and_column_exactly(run: RunFolder, tmp_path: Path) -> None:
    out = tmp_path / "toy.csv"
    out.write_text("what was there")
    assert export(run, "csv", out)[0] == 90
    table = read_ledger(run.trials).table
    with out.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert list(rows[0]) == table.column_names
    for row, expected in zip(rows, table.to_pylist(), strict=True):
        assert int(row["trial"]) == expected["trial"]
        cost = expected["part_cost"]
        assert row["part_cost"] == "" if cost is None else float(row["part_cost"]) == cost


def test_what_cannot_be_written_leaves_what_was_there(
    run: RunFolder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "there.db"
    out.write_bytes(b"somebody's studies")
    with pytest.raises(InputError, match="may hold other studies"):
        export(run, "optuna", out)
    with pytest.raises(InputError, match="optuna or csv"):
        export(run, "excel", tmp_path / "x")
    with pytest.raises(InputError, match="--out"):
        export(run, "optuna", tmp_path / "nowhere" / "x.db")

    def full(*given: object, **named: object) -> int:
        raise sqlite3.OperationalError("database or disk is full")

    with monkeypatch.context() as patch:
        patch.setattr(exporting, "append", full)
        with pytest.raises(InputError, match="disk is full"):
            export(run, "optuna", tmp_path / "x.db")
    monkeypatch.setattr(files, "DISK", RefusingDisk(at=1, number=errno.ENOSPC))
    with pytest.raises(InputError, match="No space left"):
        export(run, "optuna", tmp_path / "x.db")
    assert [path.name for path in tmp_path.iterdir()] == ["there.db"]
    assert out.read_bytes() == b"somebody's studies"
