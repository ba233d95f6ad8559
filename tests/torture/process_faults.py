"""Faults of processes: real workers, killed or asked to stop at a drawn moment."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import psutil

from boilerfront.jobs.launch import Options, resume
from boilerfront.results.ledger import read_ledger
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared.lock import HeldError
from tests.jobs.drive_toy import COUNT_FILE, CRASHING
from tests.jobs.fakes import Bench
from tests.torture.stage import BUDGET, CountingToy, Shot, SkippedError, Stage, trials_of

ROOT = Path(__file__).parents[2]
PATIENCE_S = 90.0
LATEST_S = 1.5
"""So long after the first finished task a fault comes at the latest."""
Act = Callable[[Stage, subprocess.Popen[str]], None]


class LeftOverError(AssertionError):
    """A process of ours outlived its driver, or a driver ended in a way that it must not."""


def disturbed(stage: Stage, *, act: Act, codes: tuple[int, ...]) -> Shot:
    """Start, disturb at a drawn moment, and resume as often as it takes."""
    run = stage.place()
    process = _launched(run, "start", stage.sweep_file, run.path.parent)
    _wait_for(lambda: bool(list(run.trials.glob("*.parquet"))), process)
    time.sleep(stage.draw.uniform(0.0, LATEST_S))
    ours = _family(process)
    kept = trials_of(run)
    act(stage, process)
    _, said = process.communicate(timeout=PATIENCE_S)
    if process.returncode not in codes:
        raise LeftOverError(f"the driver ended with {process.returncode}, not one of {codes}: {said}")
    _nobody_left(ours)
    after = trials_of(run)
    _resumed(run)
    return stage.judged(run, kept, after, evaluated=_evaluated(run))


def second_driver(stage: Stage) -> Shot:
    """Try to drive a run that is being driven: refused, and told by whom."""
    run = stage.place()
    process = _launched(run, "start", stage.sweep_file, run.path.parent)
    _wait_for(lambda: bool(list(run.trials.glob("*.parquet"))), process)
    try:
        resume(run, options=Options(), means=Bench(evaluate=CountingToy()).means())
    except HeldError as error:
        if error.holder is None or error.holder.pid != process.pid:
            raise LeftOverError(f"the wrong holder is named: {error}") from error
    else:
        raise LeftOverError("a second driver was let in")
    process.communicate(timeout=PATIENCE_S)
    return stage.judged(run, set(), set(), evaluated=_evaluated(run))


def crashing_designs(stage: Stage) -> Shot:
    """Let some designs crash their worker: they are faulty, no other one is."""
    run = stage.place()
    process = _launched(run, "start", stage.sweep_file, run.path.parent, crash=True)
    _, said = process.communicate(timeout=PATIENCE_S)
    if process.returncode != 0:
        raise LeftOverError(f"the driver ended with {process.returncode}: {said}")
    rows = read_ledger(run.trials).table.to_pylist()
    guilty = {row["trial"] for row in rows if row["brew_volume_mL"] > 700}
    expected = stage.place()
    bench = Bench(dies=lambda trial: "signal 11" if trial in guilty else None)
    stage.started(expected, CountingToy(), bench=bench)
    return stage.judged(run, set(), set(), evaluated=BUDGET, whole=expected)


def _kill_worker(stage: Stage, process: subprocess.Popen[str]) -> None:
    workers = [child for child in _family(process)[1:] if "spawn_main" in _command(child)]
    if workers:
        stage.draw.choice(workers).kill()


def _kill_driver(stage: Stage, process: subprocess.Popen[str]) -> None:
    process.kill()


def _kill_all(stage: Stage, process: subprocess.Popen[str]) -> None:
    os.killpg(process.pid, signal.SIGKILL)


def _signal(stage: Stage, process: subprocess.Popen[str], *, numbers: tuple[signal.Signals, ...]) -> None:
    for number in numbers:
        if process.poll() is None:
            os.killpg(process.pid, number)
            time.sleep(0.05)


def _not_yet(stage: Stage, *, why: str) -> Shot:
    raise SkippedError(why)


def _launched(run: RunFolder, *words: object, crash: bool = False) -> subprocess.Popen[str]:
    environment = os.environ | {COUNT_FILE: str(_count_file(run))} | ({CRASHING: "1"} if crash else {})
    command = [sys.executable, "-m", "tests.jobs.drive_toy", *map(str, words), "2"]
    return subprocess.Popen(
        command, cwd=ROOT, env=environment, stderr=subprocess.PIPE, text=True, start_new_session=True
    )


def _resumed(run: RunFolder) -> None:
    process = _launched(run, "resume", run.path)
    _, said = process.communicate(timeout=PATIENCE_S)
    if process.returncode != 0:
        raise LeftOverError(f"resume ended with {process.returncode}: {said}")


def _count_file(run: RunFolder) -> Path:
    return run.path.parent / "evaluated"


def _evaluated(run: RunFolder) -> int:
    return _count_file(run).stat().st_size


def _wait_for(condition: Callable[[], bool], process: subprocess.Popen[str]) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while not condition():
        if time.monotonic() > deadline or process.poll() is not None:
            raise LeftOverError(f"the driver did not come so far (code {process.poll()})")
        time.sleep(0.02)


def _family(process: subprocess.Popen[str]) -> list[psutil.Process]:
    try:
        driver = psutil.Process(process.pid)
        return [driver, *driver.children(recursive=True)]
    except psutil.NoSuchProcess:
        return []


def _nobody_left(ours: list[psutil.Process]) -> None:
    _, alive = psutil.wait_procs(ours, timeout=10)
    if alive:
        raise LeftOverError(f"left running: {[_command(each) for each in alive]}")


def _command(process: psutil.Process) -> str:
    try:
        return " ".join(process.cmdline())
    except psutil.Error:
        return ""


_KILLED = (-signal.SIGKILL,)
_INT, _TERM, _HUP = signal.SIGINT, signal.SIGTERM, signal.SIGHUP
PROCESS_FAULTS: dict[str, Callable[[Stage], Shot]] = {
    "kill -9 of a worker": partial(disturbed, act=_kill_worker, codes=(0,)),
    "kill -9 of the driver (and its scheduler)": partial(disturbed, act=_kill_driver, codes=(0, *_KILLED)),
    "kill -9 of all at once": partial(disturbed, act=_kill_all, codes=(0, *_KILLED)),
    "Ctrl-C": partial(disturbed, act=partial(_signal, numbers=(_INT,)), codes=(0, 3)),
    "Ctrl-C twice": partial(disturbed, act=partial(_signal, numbers=(_INT, _INT)), codes=(0, 3)),
    "SIGTERM": partial(disturbed, act=partial(_signal, numbers=(_TERM,)), codes=(0, 3)),
    "SIGHUP": partial(disturbed, act=partial(_signal, numbers=(_HUP,)), codes=(0,)),
    "second driver": second_driver,
    "designs that crash their worker": crashing_designs,
    "kill -9 of a scheduler elsewhere": partial(_not_yet, why="not written; test_cluster.py kills one"),
    "design that eats memory": partial(_not_yet, why="workers have no memory limit"),
}
