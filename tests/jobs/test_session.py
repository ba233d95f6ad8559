"""A run from its sweep file to its front, with an invented model and workers in this process."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pyarrow as pa
import pytest

from boilerfront.jobs.launch import Options, resume, start, with_instants
from boilerfront.jobs.state import read_state
from boilerfront.jobs.stopping import ask_to_stop
from boilerfront.jobs.work import Design, Row
from boilerfront.model.brief import Brief
from boilerfront.results.front import feasible_count, front_table, read_convergence, read_front
from boilerfront.results.ledger import Ledger, part_names, read_ledger
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared import files
from boilerfront.shared.errors import InputError, StoppedEarlyError
from boilerfront.shared.lock import HeldError, locked
from tests.jobs.fakes import Bench, FakeClock
from tests.jobs.toy import SWEEP, toy


@pytest.fixture
def sweep_file(tmp_path: Path) -> Path:
    path = tmp_path / "toy.toml"
    path.write_text(SWEEP, encoding="utf-8")
    return path


def run_whole(sweep_file: Path, name: str, bench: Bench | None = None, **options: int | str) -> RunFolder:
    given = Options(**options)  # type: ignore[arg-type]
    means = (bench or Bench()).means()
    return start(sweep_file, sweep_file.parent / "runs", name=name, options=given, means=means).run


def trials(run: RunFolder) -> pa.Table:
    return read_ledger(run.trials).table


def numbers(run: RunFolder) -> list[int]:
    return trials(run)["trial"].to_pylist()  # type: ignore[no-any-return]


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


def test_a_run_leaves_ledger_front_convergence_state_and_log(sweep_file: Path) -> None:
    run = run_whole(sweep_file, "a")
    assert numbers(run) == list(range(60))
    assert {name.kind for name in part_names(run.trials)} == {"part"}
    front = read_front(run.front)
    assert 3 < front.num_rows < 60
    assert all(front["feasible"].to_pylist())
    assert read_convergence(run.convergence)["trials"].to_pylist() == [10, 20, 30, 40, 50, 60]
    state = read_state(run)
    assert (state.phase, state.trials, state.front) == ("finished", 60, front.num_rows)
    log = run.log.read_text(encoding="utf-8")
    assert "60 designs to evaluate" in log
    assert "finished" in log


def test_masked_variables_are_null_and_reasons_keep_objectives_null(sweep_file: Path) -> None:
    rows = trials(run_whole(sweep_file, "a")).to_pylist()
    assert any(row["architecture"] == "dual_boiler" for row in rows)
    assert all((row["coil_length_m"] is None) == (row["architecture"] == "dual_boiler") for row in rows)
    never = [row for row in rows if row["reason"] == "not ready"]
    assert never
    assert all(row["warm_up_s"] is None and not row["feasible"] and row["fault"] is None for row in never)


@pytest.mark.parametrize(("workers", "seed"), [(1, 1), (3, 2), (8, 3)])
def test_the_same_front_with_any_number_of_workers(sweep_file: Path, workers: int, seed: int) -> None:
    same_data(run_whole(sweep_file, "a"), run_whole(sweep_file, "b", Bench(workers=workers, seed=seed)))


@pytest.mark.parametrize("designs", [0, 5, 20, 47, 59])
def test_a_cut_and_a_resume_give_the_undisturbed_front(sweep_file: Path, designs: int) -> None:
    whole = run_whole(sweep_file, "whole")
    with pytest.raises(KeyboardInterrupt):
        run_whole(sweep_file, "cut", Bench(evaluate=Power(designs)))
    run = RunFolder(sweep_file.parent / "runs" / "cut")
    assert read_state(run).phase in ("died", "new")
    before = set(numbers(run)) if trials(run).num_rows else set()
    asked: list[int] = []

    def counted(designs: Sequence[Design], brief: Brief) -> list[Row]:
        asked.append(len(designs))
        return toy(designs, brief)

    resume(run, options=Options(), means=Bench(evaluate=counted, seed=9).means())
    assert sum(asked) == 60 - len(before)  # nothing evaluated is evaluated again
    same_data(whole, run)


def test_more_budget_is_as_if_asked_for_at_once(sweep_file: Path) -> None:
    whole = run_whole(sweep_file, "whole")
    short = run_whole(sweep_file, "short", budget=37)
    assert numbers(short) == list(range(37))
    resume(short, options=Options(budget=60), means=Bench().means())
    same_data(whole, short)


def test_another_seed_is_another_search(sweep_file: Path) -> None:
    one, other = run_whole(sweep_file, "a"), run_whole(sweep_file, "b", seed=6)
    assert not trials(one)["brew_volume_mL"].equals(trials(other)["brew_volume_mL"])


def test_stop_ends_the_generation_and_resume_goes_on(sweep_file: Path) -> None:
    run = RunFolder(sweep_file.parent / "runs" / "a")

    def stopping(designs: Sequence[Design], brief: Brief) -> list[Row]:
        ask_to_stop(run)
        return toy(designs, brief)

    ended = start(
        sweep_file, run.path.parent, name="a", options=Options(), means=Bench(evaluate=stopping).means()
    )
    assert ended.outcome == "stopped"
    assert 10 <= len(numbers(run)) < 60
    assert read_state(run).phase == "stopped"
    resume(run, options=Options(), means=Bench().means())
    same_data(run_whole(sweep_file, "whole"), run)


def test_a_signal_keeps_what_is_done_and_says_how_to_go_on(sweep_file: Path) -> None:
    run = RunFolder(sweep_file.parent / "runs" / "a")
    sent: list[int] = []

    def interrupted(designs: Sequence[Design], brief: Brief) -> list[Row]:
        if not sent:
            sent.append(1)
            os.kill(os.getpid(), signal.SIGINT)
        return toy(designs, brief)

    with pytest.raises(StoppedEarlyError, match="boilerfront resume") as caught:
        start(
            sweep_file,
            run.path.parent,
            name="a",
            options=Options(),
            means=Bench(evaluate=interrupted).means(),
        )
    assert caught.value.exit_code == 3
    assert 0 < len(numbers(run)) < 60
    resume(run, options=Options(), means=Bench().means())
    same_data(run_whole(sweep_file, "whole"), run)


def test_a_crash_is_one_faulty_trial_and_innocent_ones_carry_none(sweep_file: Path) -> None:
    run = run_whole(sweep_file, "a", Bench(dies=lambda trial: "signal 11" if trial == 21 else None))
    rows = trials(run).to_pylist()
    assert [row["trial"] for row in rows if row["fault"] is not None] == [21]
    assert rows[21]["warm_up_s"] is None
    assert rows[21]["brew_volume_mL"] is not None
    assert len(rows) == 60


def test_a_number_that_is_none_is_a_fault(sweep_file: Path) -> None:
    def broken(designs: Sequence[Design], brief: Brief) -> list[Row]:
        rows = toy(designs, brief)
        return [{**row, "warm_up_s": float("nan")} if "warm_up_s" in row else row for row in rows]

    rows = trials(run_whole(sweep_file, "a", Bench(evaluate=broken), budget=16)).to_pylist()
    assert any("not a finite number: warm_up_s" in (row["fault"] or "") for row in rows)
    assert not any(row["feasible"] for row in rows)


def test_until_stops_in_time_with_exit_0_and_waits_for_at(sweep_file: Path) -> None:
    clock = FakeClock(step=1.0)
    began = clock.time
    run = run_whole(sweep_file, "a", Bench(clock=clock), at="20:00", until="20:01")
    state = read_state(run)
    assert state.phase == "stopped"
    assert "as asked" in state.why
    assert clock.time - began < 24 * 3600 + 61
    assert len(numbers(run)) < 60


def test_a_second_signal_ends_at_once_even_when_the_terminal_is_gone() -> None:
    code = (
        "import os, queue, signal, time\n"
        "from boilerfront.jobs.signals import interruptible\n"
        "os.close(2)\n"
        "with interruptible(queue.SimpleQueue()):\n"
        "    os.kill(os.getpid(), signal.SIGTERM)\n"
        "    os.kill(os.getpid(), signal.SIGTERM)\n"
        "    time.sleep(9)\n"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 3


def test_a_stop_while_the_model_is_prepared_is_heard(sweep_file: Path) -> None:
    run = RunFolder(sweep_file.parent / "runs" / "a")

    def prepare(brief: Brief, designs: Sequence[Design]) -> None:
        ask_to_stop(run)

    means = replace(Bench().means(), prepare=prepare)
    assert start(sweep_file, run.path.parent, name="a", options=Options(), means=means).outcome == "stopped"
    assert not trials(run).num_rows
    assert read_state(run).phase == "stopped"
    resume(run, options=Options(), means=Bench().means())
    same_data(run_whole(sweep_file, "whole"), run)


@pytest.mark.parametrize("by_signal", [True, False])
def test_a_run_that_waits_for_its_time_can_be_stopped(sweep_file: Path, by_signal: bool) -> None:
    run = RunFolder(sweep_file.parent / "runs" / "a")
    slept: list[float] = []

    class Evening(FakeClock):
        def sleep(self, seconds: float) -> None:
            super().sleep(seconds)
            slept.append(seconds)
            if len(slept) == 3:
                os.kill(os.getpid(), signal.SIGTERM) if by_signal else ask_to_stop(run)

    def prepare(brief: Brief, designs: Sequence[Design]) -> None:
        raise AssertionError("nothing is to be prepared")

    means = replace(Bench(clock=Evening()).means(), prepare=prepare)
    options = Options(at="20:00")
    if by_signal:
        with pytest.raises(StoppedEarlyError, match="boilerfront resume"):
            start(sweep_file, run.path.parent, name="a", options=options, means=means)
    else:
        ended = start(sweep_file, run.path.parent, name="a", options=options, means=means)
        assert ended.outcome == "stopped"
    assert len(slept) == 3
    assert read_state(run).phase == "stopped"


def test_a_time_that_was_fixed_stays_for_a_second_sweep(sweep_file: Path) -> None:
    clock = FakeClock(step=1.0)
    options = with_instants(Options(at="20:00", until="20:01"), clock)
    means = Bench(clock=clock).means()
    first = start(sweep_file, sweep_file.parent / "runs", name="a", options=options, means=means)
    assert first.outcome == "until"
    began = clock.time
    second = start(sweep_file, sweep_file.parent / "runs", name="b", options=options, means=means)
    assert second.outcome == "until"
    assert clock.time - began < 3600.0  # not the evening of the next day


def test_a_disk_that_is_full_is_said_in_state_and_log(
    sweep_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = RunFolder(sweep_file.parent / "runs" / "a")
    write_task = Ledger.write_task

    def refused(self: Ledger, generation: int, task: int, rows: Iterable[Row]) -> Path:
        if generation == 2:
            raise files.DiskError(run.trials, OSError(errno.ENOSPC, "No space left on device"))
        return write_task(self, generation, task, rows)

    monkeypatch.setattr(Ledger, "write_task", refused)
    with pytest.raises(StoppedEarlyError, match=r"No space left[\s\S]*boilerfront resume"):
        run_whole(sweep_file, "a")
    monkeypatch.undo()
    state = read_state(run)
    assert state.phase == "stopped"
    assert "No space left" in state.why
    assert "No space left" in run.log.read_text(encoding="utf-8")
    resume(run, options=Options(), means=Bench().means())
    same_data(run_whole(sweep_file, "whole"), run)


def test_a_cut_between_part_and_record_leaves_no_hole_in_the_record(
    sweep_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = RunFolder(sweep_file.parent / "runs" / "a")
    close_generation = Ledger.close_generation

    def cut(self: Ledger, generation: int) -> pa.Table:
        table = close_generation(self, generation)
        if generation == 2:
            raise KeyboardInterrupt
        return table

    monkeypatch.setattr(Ledger, "close_generation", cut)
    with pytest.raises(KeyboardInterrupt):
        run_whole(sweep_file, "a")
    monkeypatch.undo()
    assert read_convergence(run.convergence)["generation"].to_pylist() == [0, 1]
    resume(run, options=Options(), means=Bench().means())
    whole = run_whole(sweep_file, "whole")
    same = [read_convergence(each.convergence).drop_columns("seconds") for each in (whole, run)]
    assert same[0].equals(same[1])


def test_a_resumed_run_shows_at_once_what_it_has(sweep_file: Path) -> None:
    with pytest.raises(KeyboardInterrupt):
        run_whole(sweep_file, "a", Bench(evaluate=Power(40)))
    run = RunFolder(sweep_file.parent / "runs" / "a")
    there = trials(run)
    shown: list[tuple[int, int]] = []

    def looking(designs: Sequence[Design], brief: Brief) -> list[Row]:
        state = read_state(run)
        shown.append((state.front, state.feasible))
        return toy(designs, brief)

    resume(run, options=Options(), means=Bench(evaluate=looking).means())
    assert shown[0] == (front_table(there).num_rows, feasible_count(there))


# What the ledger lost


def test_a_part_that_is_lost_while_the_run_goes_on_is_noticed(sweep_file: Path) -> None:
    run = RunFolder(sweep_file.parent / "runs" / "a")

    def losing(designs: Sequence[Design], brief: Brief) -> list[Row]:
        for name in part_names(run.trials):
            if name.kind == "part" and name.first == 10:
                name.path.write_bytes(b"spoilt")
        return toy(designs, brief)

    with pytest.raises(StoppedEarlyError, match="10 trials"):
        run_whole(sweep_file, "a", Bench(evaluate=losing))
    assert read_state(run).phase == "stopped"
    assert "set aside" in run.log.read_text(encoding="utf-8")
    resume(run, options=Options(), means=Bench().means())
    same_data(run_whole(sweep_file, "whole"), run)


@pytest.mark.parametrize("damage", ["deleted", "cut"])
def test_a_finished_run_whose_ledger_lost_a_part_is_made_whole(sweep_file: Path, damage: str) -> None:
    whole, run = run_whole(sweep_file, "whole"), run_whole(sweep_file, "a")
    part = part_names(run.trials)[2].path
    if damage == "deleted":
        part.unlink()
    else:
        part.write_bytes(part.read_bytes()[:500])
    with pytest.raises(InputError, match="boilerfront resume"):
        run_whole(sweep_file, "a")
    resume(run, options=Options(), means=Bench().means())
    same_data(whole, run)
    assert read_state(run).phase == "finished"


# Folder rules


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
