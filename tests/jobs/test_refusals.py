"""What a start or resume finds in its way: another sweep, another driver, what an earlier start left."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path

import pytest

from boilerfront.jobs.launch import Options, resume
from boilerfront.shared.errors import InputError
from boilerfront.shared.lock import HeldError, locked
from tests.jobs.fakes import Bench
from tests.jobs.sessions import Power, numbers, run_whole


@pytest.mark.parametrize("left", [("run.lock",), ("run.lock", "sweep.toml.tmp")])
def test_what_a_start_left_that_was_cut_at_once_is_no_hindrance(
    sweep_file: Path, left: tuple[str, ...]
) -> None:
    folder = sweep_file.parent / "runs" / "a"
    folder.mkdir(parents=True)
    for name in left:
        (folder / name).write_text("half", encoding="utf-8")
    assert numbers(run_whole(sweep_file, "a")) == list(range(60))


def test_the_same_sweep_unfinished_is_to_be_resumed(sweep_file: Path) -> None:
    with pytest.raises(KeyboardInterrupt):
        run_whole(sweep_file, "a", Bench(evaluate=Power(15)))
    with pytest.raises(InputError, match="boilerfront resume"):
        run_whole(sweep_file, "a")


def test_the_same_sweep_finished_is_shown(sweep_file: Path) -> None:
    run = run_whole(sweep_file, "a")
    before = run.log.read_bytes()
    assert run_whole(sweep_file, "a").path == run.path
    assert run.log.read_bytes() == before


def test_another_sweep_is_refused_with_what_differs(sweep_file: Path) -> None:
    run = run_whole(sweep_file, "a", budget=16)
    before = sorted(path.read_bytes() for path in run.path.rglob("*") if path.is_file())
    with pytest.raises(InputError, match=r"search\.seed: 5 there, 7 here[\s\S]*--name a-2"):
        run_whole(sweep_file, "a", seed=7)
    assert sorted(path.read_bytes() for path in run.path.rglob("*") if path.is_file()) == before


def test_a_folder_of_something_else_is_left_alone(sweep_file: Path) -> None:
    folder = sweep_file.parent / "runs" / "a"
    folder.mkdir(parents=True)
    (folder / "thesis.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="no run of ours"):
        run_whole(sweep_file, "a")


def test_a_second_driver_is_refused_and_told_who_holds_it(sweep_file: Path) -> None:
    run = run_whole(sweep_file, "a", budget=16)
    with locked(run.lock, now=datetime.now(UTC)), pytest.raises(HeldError, match=str(os.getpid())):
        resume(run, options=Options(budget=32), means=Bench().means())


def test_an_edited_frozen_sweep_is_refused(sweep_file: Path) -> None:
    run = run_whole(sweep_file, "a", budget=16)
    text = run.sweep_file.read_text(encoding="utf-8")
    run.sweep_file.write_text(text.replace("seed = 5", "seed = 6"), encoding="utf-8")
    with pytest.raises(InputError, match="no longer has the hash"):
        resume(run, options=Options(budget=32), means=Bench().means())


def test_less_budget_is_refused(sweep_file: Path) -> None:
    run = run_whole(sweep_file, "a", budget=16)
    with pytest.raises(InputError, match="no smaller than before"):
        resume(run, options=Options(budget=8), means=Bench().means())


@pytest.mark.parametrize("name", ["../x", "a/b", ".hidden"])
def test_a_name_that_is_no_folder_name_is_refused(sweep_file: Path, name: str) -> None:
    with pytest.raises(InputError, match="--name"):
        run_whole(sweep_file, name)
