"""Faults of processes: real workers, killed or asked to stop at a drawn moment."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from unittest.mock import patch

import psutil

from boilerfront.jobs import cluster
from boilerfront.jobs.cluster import Where
from boilerfront.jobs.launch import Means, Options, resume, start
from boilerfront.results.ledger import read_run
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared.errors import StoppedEarlyError
from boilerfront.shared.lock import HeldError
from tests.jobs.elsewhere import scheduler_elsewhere
from tests.jobs.fakes import Bench
from tests.jobs.toy import COUNT_FILE, CRASHING, EATING, SECONDS, prepare_nothing, slow_toy
from tests.torture.stage import BUDGET, CountingToy, LeftOverError, MissedError, Shot, Stage, trials_of

ROOT = Path(__file__).parents[2]
PATIENCE_S = 120.0
LATEST_S = 1.0
"""So long after the first finished task a fault comes at the latest."""
DESIGN_S = 0.05
"""What a design takes, so that the run still goes on when the fault comes."""
Act = Callable[[Stage, subprocess.Popen[str]], None]


def disturbed(stage: Stage, *, act: Act, codes: tuple[int, ...]) -> Shot:
    """Start, disturb at a drawn moment, and resume as often as it takes; `codes` are those of a driver hit."""
    run = stage.place()
    with _driver(run, "start", stage.sweep_file, run.path.parent) as process:
        _wait_for_a_part(run, process)
        time.sleep(stage.draw.uniform(0.0, LATEST_S))
        ours = _family(process)
        kept = trials_of(run)
        if process.poll() is not None:
            raise MissedError
        act(stage, process)
        _, said = process.communicate(timeout=PATIENCE_S)
        _nobody_left(ours)
    if process.returncode == 0 != codes[0]:
        raise MissedError  # it had done all its work in that moment
    if process.returncode not in codes:
        raise LeftOverError(f"the driver ended with {process.returncode}, not one of {codes}: {said}")
    after = trials_of(run)
    _resumed(run)
    return stage.judged(run, kept, after, evaluated=_evaluated(run))


def second_driver(stage: Stage) -> Shot:
    """Try to drive a run that is being driven: refused, and told by whom."""
    run = stage.place()
    with _driver(run, "start", stage.sweep_file, run.path.parent) as process:
        _wait_for_a_part(run, process)
        try:
            resume(run, options=Options(), means=Bench(evaluate=CountingToy()).means())
        except HeldError as error:
            if error.holder is None or error.holder.pid != process.pid:
                raise LeftOverError(f"the wrong holder is named: {error}") from error
        else:
            raise LeftOverError("a second driver was let in")
        process.communicate(timeout=PATIENCE_S)
    return stage.judged(run, set(), set(), evaluated=_evaluated(run))


def harmful_designs(stage: Stage, *, harm: str, fault: str) -> Shot:
    """Let some designs crash their worker or eat its memory: they are faulty, no other one is."""
    run = stage.place()
    with _driver(run, "start", stage.sweep_file, run.path.parent, harm=harm) as process:
        _, said = process.communicate(timeout=PATIENCE_S)
    if process.returncode != 0:
        raise LeftOverError(f"the driver ended with {process.returncode}: {said}")
    rows = read_run(run).table.to_pylist()
    guilty = {row["trial"] for row in rows if row["brew_volume_mL"] > 700}
    faults = {row["trial"]: row["fault"] for row in rows if row["fault"] is not None}
    if not guilty or faults != dict.fromkeys(guilty, fault):
        raise LeftOverError(f"{guilty} were guilty, these carry a fault: {faults}")
    # In this process nothing can crash: the fault is what a worker's death by it becomes.
    expected = stage.place()
    bench = Bench(dies=lambda trial: "signal 11" if trial in guilty else None)
    stage.started(expected, CountingToy(), bench=bench)
    but = None if harm == CRASHING else "fault"
    return stage.judged(run, set(), set(), evaluated=BUDGET, whole=expected, but=but)


def lost_scheduler(stage: Stage) -> Shot:
    """Kill a scheduler that somebody else runs, and go on with workers of this machine."""
    run = stage.place()
    count_file = {COUNT_FILE: str(_count_file(run)), SECONDS: str(DESIGN_S)}
    with scheduler_elsewhere(more=count_file) as (scheduler, address):
        hit = threading.Thread(
            target=_kill_when_begun, args=(run, scheduler, stage.draw.uniform(0.0, LATEST_S))
        )
        hit.start()
        options = Options(Where(address=address, encrypted=False))
        means = Means(evaluate=slow_toy, prepare=prepare_nothing)
        try:
            with patch.object(cluster, "_ANSWER_WITHIN", "2s"):
                start(stage.sweep_file, run.path.parent, name="toy", options=options, means=means)
        except StoppedEarlyError:
            pass
        else:
            raise MissedError
        finally:
            hit.join()
    after = trials_of(run)
    _resumed(run)
    return stage.judged(run, set(), after, evaluated=_evaluated(run))


def _kill_when_begun(run: RunFolder, scheduler: subprocess.Popen[bytes], after_s: float) -> None:
    while scheduler.poll() is None and not list(run.trials.glob("*.parquet")):
        time.sleep(0.02)
    time.sleep(after_s)
    scheduler.kill()


def _kill_worker(stage: Stage, process: subprocess.Popen[str]) -> None:
    workers = [child for child in _family(process)[1:] if "spawn_main" in _command(child)]
    if not workers:
        raise MissedError
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


@contextlib.contextmanager
def _driver(run: RunFolder, *words: object, harm: str | None = None) -> Iterator[subprocess.Popen[str]]:
    """Give a driver of the toy with two workers; whatever is left of its group is killed in the end."""
    environment = os.environ | {COUNT_FILE: str(_count_file(run)), SECONDS: str(DESIGN_S)}
    environment |= {harm: "1"} if harm else {}
    command = [sys.executable, "-m", "tests.jobs.drive_toy", *map(str, words), "2"]
    process = subprocess.Popen(
        command, cwd=ROOT, env=environment, stderr=subprocess.PIPE, text=True, start_new_session=True
    )
    try:
        yield process
    finally:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
        process.communicate()


def _resumed(run: RunFolder) -> None:
    with _driver(run, "resume", run.path) as process:
        _, said = process.communicate(timeout=PATIENCE_S)
    if process.returncode != 0:
        raise LeftOverError(f"resume ended with {process.returncode}: {said}")


def _count_file(run: RunFolder) -> Path:
    return run.path.parent / "evaluated"


def _evaluated(run: RunFolder) -> int:
    return _count_file(run).stat().st_size


def _wait_for_a_part(run: RunFolder, process: subprocess.Popen[str]) -> None:
    deadline = time.monotonic() + PATIENCE_S
    while not list(run.trials.glob("*.parquet")):
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
_STOPPED = (StoppedEarlyError.exit_code,)
_INT, _TERM, _HUP = signal.SIGINT, signal.SIGTERM, signal.SIGHUP
PROCESS_FAULTS: dict[str, Callable[[Stage], Shot]] = {
    "kill -9 of a worker": partial(disturbed, act=_kill_worker, codes=(0,)),
    "kill -9 of the driver (and its scheduler)": partial(disturbed, act=_kill_driver, codes=_KILLED),
    "kill -9 of all at once": partial(disturbed, act=_kill_all, codes=_KILLED),
    "Ctrl-C": partial(disturbed, act=partial(_signal, numbers=(_INT,)), codes=_STOPPED),
    "Ctrl-C twice": partial(disturbed, act=partial(_signal, numbers=(_INT, _INT)), codes=_STOPPED),
    "SIGTERM": partial(disturbed, act=partial(_signal, numbers=(_TERM,)), codes=_STOPPED),
    "SIGHUP": partial(disturbed, act=partial(_signal, numbers=(_HUP,)), codes=(0,)),
    "second driver": second_driver,
    "kill -9 of a scheduler elsewhere": lost_scheduler,
    "designs that crash their worker": partial(
        harmful_designs, harm=CRASHING, fault="worker ended: signal 11"
    ),
    "designs that eat memory": partial(harmful_designs, harm=EATING, fault="more memory than a worker has"),
}
