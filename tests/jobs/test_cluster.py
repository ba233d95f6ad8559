"""Real worker processes: the same bytes with one and two, killed or not, and none of them left behind."""

from __future__ import annotations

import asyncio
import contextlib
import os
import queue
import shutil
import signal
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path

import psutil
import pytest
from distributed import Client
from distributed.security import Security

from boilerfront.jobs import cluster
from boilerfront.jobs.cluster import Deaths, Where, Workers, open_workers
from boilerfront.jobs.driver import Task
from boilerfront.jobs.equipment import ClusterError
from boilerfront.jobs.reports import Finished, Lost, Refused, Reports
from boilerfront.jobs.state import read_state
from boilerfront.jobs.sweep import load_sweep
from boilerfront.jobs.work import Design, Row, Work
from boilerfront.model.brief import Brief
from boilerfront.results.ledger import read_ledger
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared.errors import InputError
from tests.jobs.elsewhere import scheduler_elsewhere, wait_for, worker_elsewhere
from tests.jobs.toy import CRASHING, EATING, STARTER, toy

ROOT = Path(__file__).parents[2]
DESIGN: dict[str, float | int | str | None] = {
    "architecture": "dual_boiler",
    "brew_volume_mL": 300.0,
    "brew_power_W": 900.0,
    "insulation_mm": 5.0,
    "coil_length_m": None,
}

pytestmark = pytest.mark.slow


@pytest.fixture(autouse=True)
def _nothing_left_running() -> Iterator[None]:
    before = set(psutil.Process().children(recursive=True))
    yield
    left = [child for child in psutil.Process().children(recursive=True) if child not in before]
    _, alive = psutil.wait_procs([child for child in left if "tracker" not in _command(child)], timeout=10)
    assert not alive, [_command(child) for child in alive]


def _command(process: psutil.Process) -> str:
    try:
        return " ".join(process.cmdline())
    except psutil.Error:
        return "tracker of a process that has ended"


def launched(*words: object, harm: str | None = None) -> subprocess.Popen[str]:
    """Drive the toy; `harm` is what its big boilers do to their worker, CRASHING or EATING."""
    environment = os.environ | ({harm: "1"} if harm else {})
    command = [sys.executable, "-m", "tests.jobs.drive_toy", *map(str, words)]
    return subprocess.Popen(
        command, cwd=ROOT, env=environment, stderr=subprocess.PIPE, text=True, start_new_session=True
    )


def finished(process: subprocess.Popen[str]) -> tuple[int, str]:
    _, said = process.communicate(timeout=90)
    return process.returncode, said


def whole(sweep_file: Path, root: Path, workers: int) -> RunFolder:
    code, said = finished(launched("start", sweep_file, root, workers))
    assert code == 0, said
    return RunFolder(root / "toy")


def parts(run: RunFolder) -> list[str]:
    """Return the ledger's names: they carry digests of every byte."""
    return sorted(path.name for path in run.trials.iterdir() if path.is_file())


def some_tasks_done(run: RunFolder) -> bool:
    return run.trials.is_dir() and len(list(run.trials.glob("*.parquet"))) >= 3


def test_one_two_and_eight_workers_write_the_same_bytes(sweep_file: Path, tmp_path: Path) -> None:
    one, *others = (whole(sweep_file, tmp_path / str(count), count) for count in (1, 2, 8))
    for other in others:
        assert parts(one) == parts(other)
        assert one.front.read_bytes() == other.front.read_bytes()


def test_a_killed_driver_leaves_no_worker_and_resume_gives_the_same_front(
    sweep_file: Path, tmp_path: Path
) -> None:
    undisturbed = whole(sweep_file, tmp_path / "whole", 2)
    process = launched("start", sweep_file, tmp_path / "cut", 2)
    run = RunFolder(tmp_path / "cut" / "toy")
    wait_for(lambda: some_tasks_done(run))
    workers = psutil.Process(process.pid).children(recursive=True)
    process.kill()
    process.communicate(timeout=10)
    _, alive = psutil.wait_procs(workers, timeout=10)
    assert not alive
    before = read_ledger(run.trials).table
    assert 0 < before.num_rows < 60
    assert read_state(run).phase == "died"
    code, said = finished(launched("resume", run.path, 2))
    assert code == 0, said
    assert parts(run) == parts(undisturbed)
    assert run.front.read_bytes() == undisturbed.front.read_bytes()


def test_the_real_model_writes_the_same_bytes_with_one_and_two_workers_killed_or_not(tmp_path: Path) -> None:
    def command(*words: object) -> subprocess.Popen[str]:
        line = [sys.executable, "-m", "boilerfront.jobs.cli", *map(str, words)]
        return subprocess.Popen(line, stderr=subprocess.PIPE, text=True, start_new_session=True)

    runs = []
    for workers in (1, 2):
        root = tmp_path / str(workers)
        words = ("start", STARTER, "--name", "real", "--runs", root, "--budget", 120, "--workers", workers)
        process = command(*words)
        run = RunFolder(root / "real")
        if workers == 2:
            wait_for(partial(some_tasks_done, run), seconds=90.0)
            process.kill()
            process.communicate(timeout=10)
            process = command("resume", run.path, "--workers", workers)
        code, said = finished(process)
        assert code == 0, said
        runs.append(run)
    one, two = runs
    assert parts(one) == parts(two)
    assert one.front.read_bytes() == two.front.read_bytes()


def test_an_interrupt_of_the_whole_group_ends_with_code_3_and_says_how_to_go_on(
    sweep_file: Path, tmp_path: Path
) -> None:
    process = launched("start", sweep_file, tmp_path / "runs", 2)
    run = RunFolder(tmp_path / "runs" / "toy")
    wait_for(lambda: some_tasks_done(run))
    os.killpg(process.pid, signal.SIGINT)  # as a terminal does: driver and workers alike
    code, said = finished(process)
    assert code == 3, said
    assert f"boilerfront resume {run.path}" in said
    assert read_state(run).phase == "stopped"
    assert all(fault is None for fault in read_ledger(run.trials).table["fault"].to_pylist())


def worker_processes(process: subprocess.Popen[str]) -> list[psutil.Process]:
    children = psutil.Process(process.pid).children(recursive=True)
    return [child for child in children if "spawn_main" in _command(child)]


@pytest.mark.parametrize("after_s", [0.0, 0.3, 0.8])
def test_an_interrupt_of_the_whole_group_while_workers_begin_ends_soon(
    sweep_file: Path, tmp_path: Path, after_s: float
) -> None:
    process = launched("start", sweep_file, tmp_path / "runs", 2)
    wait_for(lambda: len(worker_processes(process)) == 2)
    time.sleep(after_s)
    os.killpg(process.pid, signal.SIGINT)
    _, said = process.communicate(timeout=20)
    assert process.returncode == 3, said
    assert "boilerfront resume" in said


def test_a_worker_that_dies_while_it_begins_ends_with_code_3_or_costs_nothing(
    sweep_file: Path, tmp_path: Path
) -> None:
    process = launched("start", sweep_file, tmp_path / "runs", 2)
    wait_for(lambda: len(worker_processes(process)) == 2)
    worker_processes(process)[0].kill()
    code, said = finished(process)
    assert code in (0, 3), said
    assert code == 0 or "boilerfront resume" in said


def test_a_worker_that_was_sent_away_is_no_fault_of_its_design() -> None:
    deaths = Deaths(local=False)
    deaths.note("tls://127.0.0.1:1", 0)  # as after a long sleep of the machine: it was thought dead
    deaths.note("tls://127.0.0.1:2", 3)
    assert deaths.cause("tls://127.0.0.1:1") is None
    assert deaths.cause("tls://127.0.0.1:2") == "exit code 3"


def test_a_killed_worker_costs_repeats_and_nothing_else(sweep_file: Path, tmp_path: Path) -> None:
    undisturbed = whole(sweep_file, tmp_path / "whole", 2)
    process = launched("start", sweep_file, tmp_path / "runs", 2)
    run = RunFolder(tmp_path / "runs" / "toy")
    wait_for(lambda: some_tasks_done(run))
    workers = [
        child
        for child in psutil.Process(process.pid).children(recursive=True)
        if "spawn_main" in _command(child)
    ]
    workers[0].kill()
    code, said = finished(process)
    assert code == 0, said
    assert parts(run) == parts(undisturbed)


@pytest.mark.parametrize(
    ("harm", "fault"),
    [(CRASHING, "worker ended: signal 11"), (EATING, "more memory than a worker has")],
)
def test_designs_that_harm_their_worker_are_faulty_and_the_others_are_not(
    sweep_file: Path, tmp_path: Path, harm: str, fault: str
) -> None:
    code, said = finished(launched("start", sweep_file, tmp_path / "runs", 2, harm=harm))
    assert code == 0, said
    rows = read_ledger(RunFolder(tmp_path / "runs" / "toy").trials).table.to_pylist()
    assert len(rows) == 60
    for row in rows:
        crashes = row["brew_volume_mL"] > 700
        assert row["fault"] == (fault if crashes else None)
    assert any(row["fault"] for row in rows)


def test_workers_report_and_a_stranger_gets_no_answer() -> None:
    reports: Reports = queue.SimpleQueue()
    work = Work(toy, load_sweep(STARTER).brief())
    with open_workers(Where(workers=1), work, reports) as workers:
        workers.submit(Task(0, (7,)), [DESIGN])
        report = reports.get(timeout=20)
        assert isinstance(report, Finished)
        assert report.rows[0]["trial"] == 7
        address = workers.address
        assert address.startswith("tls://127.0.0.1:")
        port = int(address.rsplit(":", 1)[1])
        asyncio.run(_knock(port))
        for own in _own_addresses():
            with pytest.raises(ConnectionRefusedError), socket.create_connection((own, port), timeout=5):
                pass
        stranger = Security.temporary()  # keys of its own
        with pytest.raises(OSError), Client(address, security=stranger, timeout="3s", set_as_default=False):
            pass
        with worker_elsewhere(address, keys=stranger):
            time.sleep(3.0)
            assert workers.count == 1
        workers.submit(Task(0, (8,)), [DESIGN])
        assert isinstance(reports.get(timeout=20), Finished)


def _own_addresses() -> list[str]:
    """Return this machine's addresses but loopback's."""
    found = [each for of_card in psutil.net_if_addrs().values() for each in of_card]
    return [each.address for each in found if each.family == socket.AF_INET and each.address != "127.0.0.1"]


async def _knock(port: int) -> None:
    """Connect without a certificate that the cluster signed: the connection must end without a word."""
    context = ssl.create_default_context()
    context.check_hostname = False
    context.verify_mode = ssl.CERT_NONE
    reader, _ = await asyncio.open_connection("127.0.0.1", port, ssl=context)
    with pytest.raises((ssl.SSLError, ConnectionError, asyncio.IncompleteReadError)):
        await asyncio.wait_for(reader.readexactly(1), timeout=10)


def test_a_cluster_without_keys_is_refused() -> None:
    work = Work(toy, load_sweep(STARTER).brief())
    where = Where(address="tls://127.0.0.1:1")
    with pytest.raises(InputError, match="--tls"), open_workers(where, work, queue.SimpleQueue()):
        pass


def test_a_worker_of_another_version_is_sent_away_and_the_next_one_works(tmp_path: Path) -> None:
    """The other version is a copy of ours with a changed source, which its process finds before ours."""
    for floor in ("shared", "model", "search", "results", "jobs"):
        shutil.copytree(ROOT / floor, tmp_path / "boilerfront" / floor)
    (tmp_path / "boilerfront" / "model" / "newer.py").touch()
    reports: Reports = queue.SimpleQueue()
    work = Work(toy, load_sweep(STARTER).brief())
    with scheduler_elsewhere(more={"PYTHONPATH": str(tmp_path)}) as (_, address):
        where = Where(address=address, encrypted=False)
        with open_workers(where, work, reports) as workers:
            refused = reports.get(timeout=30)
            assert isinstance(refused, Refused)
            assert "refused worker tcp://127.0.0.1" in refused.why
            assert "boilerfront's sources" in refused.why
            assert "numpy" not in refused.why
            wait_for(lambda: workers.count == 0)
            with worker_elsewhere(address):
                workers.submit(Task(0, (7,)), [DESIGN])
                report = reports.get(timeout=30)
                assert isinstance(report, Finished)
                assert report.rows[0]["trial"] == 7


@pytest.mark.parametrize("comes_back", [False, True])
def test_a_scheduler_that_dies_is_a_lost_cluster_and_no_fault_of_ours(
    monkeypatch: pytest.MonkeyPatch, comes_back: bool
) -> None:
    monkeypatch.setattr(cluster, "_ANSWER_WITHIN", "15s" if comes_back else "2s")
    reports: Reports = queue.SimpleQueue()
    work = Work(_sleeping, load_sweep(STARTER).brief())
    with scheduler_elsewhere() as (scheduler, address):
        where = Where(address=address, encrypted=False)
        with open_workers(where, work, reports) as workers, contextlib.ExitStack() as stack:
            wait_for(lambda: workers.count > 0)
            task = Task(0, (7,))
            workers.submit(task, [DESIGN])
            time.sleep(0.5)
            scheduler.kill()
            scheduler.wait(timeout=10)
            if comes_back:  # another one, which knows nothing of us, at the same address
                stack.enter_context(scheduler_elsewhere(int(address.rsplit(":", 1)[1])))
                wait_for(lambda: workers.count > 0)
            lost = reports.get(timeout=20)
            assert lost == Lost(task, None)
            with pytest.raises(ClusterError):
                _send_until_it_is_refused(workers, task)
            assert workers.count >= 0  # and does not raise


def _send_until_it_is_refused(workers: Workers, task: Task) -> None:
    workers.submit(task, [DESIGN])
    for _ in range(200):
        workers.check()
        time.sleep(0.1)


def _sleeping(designs: Sequence[Design], brief: Brief) -> list[Row]:
    time.sleep(60)
    return []


def test_a_lost_task_names_a_cause_of_its_own_but_no_kill() -> None:
    reports: Reports = queue.SimpleQueue()
    work = Work(_ending, load_sweep(STARTER).brief())
    with open_workers(Where(workers=1), work, reports) as workers:
        for number, cause in ((signal.SIGSEGV, "signal 11"), (signal.SIGKILL, None)):
            task = Task(0, (int(number),))
            workers.submit(task, [{**DESIGN, "brew_volume_mL": float(number)}])
            assert reports.get(timeout=20) == Lost(task, cause)


def _ending(designs: Sequence[Design], brief: Brief) -> list[Row]:
    os.kill(os.getpid(), int(designs[0]["brew_volume_mL"] or 0))
    return []
