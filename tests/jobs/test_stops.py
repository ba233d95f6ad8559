"""What ends a run early: stop, signals, the clock, a disk that is full; and that it goes on later."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from boilerfront.jobs.launch import Options, resume, start, with_instants
from boilerfront.jobs.state import read_state
from boilerfront.jobs.stopping import ask_to_stop
from boilerfront.jobs.work import Design, Row
from boilerfront.model.brief import Brief
from boilerfront.results.ledger import Ledger
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared import files
from boilerfront.shared.errors import StoppedEarlyError
from tests.jobs.fakes import Bench, FakeClock
from tests.jobs.sessions import numbers, run_whole, same_data, trials
from tests.jobs.toy import toy


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
