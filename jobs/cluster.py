"""The workers: a cluster of processes on this machine, or a scheduler elsewhere (dask, as in `equipment` only).

Every connection is TLS: loopback is not private, another user's process could run code as us. Keys of a local
cluster are made in memory and end with it. Nothing here decides anything: results, losses and the number of
workers are put on a queue, and the driver is told.
"""

from __future__ import annotations

import contextlib
import logging
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from multiprocessing import resource_tracker
from pathlib import Path
from typing import Any

import dask
from distributed import Client, Future, LocalCluster, Nanny
from distributed.client import ClosedClientError
from distributed.core import Status
from distributed.scheduler import KilledWorker
from distributed.security import Security

from boilerfront.jobs.driver import Task
from boilerfront.jobs.equipment import (
    PLUGIN,
    REFUSALS,
    ClusterError,
    Equipment,
    Order,
    RefusedError,
    cores,
    memory_for_each,
    run_task,
    single_threaded,
)
from boilerfront.jobs.reports import Broken, Finished, Lost, Refused, Reports
from boilerfront.jobs.work import Design, Row, Work
from boilerfront.shared.errors import InputError

_EXIT_CODE_WITHIN_S = 2.0
_ANSWER_WITHIN = "30s"
"""How long a scheduler may be away, at the start or later."""
TLS_FILES = ("ca.pem", "cert.pem", "key.pem")
_OUTSIDE_SIGNALS = (signal.SIGKILL, signal.SIGTERM, signal.SIGINT, signal.SIGHUP)
_SETTINGS: dict[str, Any] = {
    "distributed.scheduler.allowed-failures": 0,  # the driver alone repeats
    "distributed.scheduler.worker-saturation": 1.0,  # a worker holds the task it runs and no other
    # So long after a worker's death the cluster looks for its successor, and gives up its nanny if it is
    # not there, be it only because it has just died as well. We want every one restarted.
    "distributed.deploy.lost-worker-timeout": "365 days",
    "distributed.worker.daemon": True,
    "distributed.admin.tick.limit": "60s",
    # A server measures fifty times a second how late its loop is: a third of its time with ten tasks a second.
    "distributed.admin.tick.interval": "5s",
    "distributed.worker.profile.enabled": False,
    # Nothing waits at a worker that another could take, and no result is kept there twice.
    "distributed.scheduler.work-stealing": False,
    "distributed.scheduler.active-memory-manager.start": False,
}

_UNSEEN: dict[str, Any] = {
    "distributed.scheduler.http.routes": [],
    # What only the page of dask shows: twice a second it took a fiftieth of a core.
    "distributed.admin.system-monitor.interval": "30s",
    "distributed.admin.tick.cycle": "60s",
}
"""Settings where nobody looks at dask's own page."""


@dataclass(frozen=True)
class Where:
    """Which workers to use: `address` of a scheduler, or None for this machine."""

    workers: int = 0  # 0: one for each core that we may use
    address: str | None = None
    tls: Path | None = None
    encrypted: bool = True
    dashboard: bool = False


class Workers:
    """Open workers. Reports arrive on the queue that was given; `close` ends a local cluster."""

    def __init__(self, client: Client, reports: Reports, deaths: Deaths, *, has_dashboard: bool) -> None:
        self._client = client
        self._has_dashboard = has_dashboard
        self._reports = reports
        self._deaths = deaths
        self._futures: dict[Task, Future[list[Row]]] = {}
        self._gone: str | None = None
        self._closing = False

    @property
    def count(self) -> int:
        """Return how many threads evaluate now; none while the scheduler does not answer."""
        if self._client.status != "running":
            return 0
        try:
            return sum(self._client.nthreads().values())
        except OSError:
            return 0  # it went away this moment; `check` says when it is gone

    @property
    def address(self) -> str:
        """Return the scheduler's address."""
        return str(self._client.scheduler_info()["address"])

    @property
    def dashboard(self) -> str | None:
        """Return the address of dask's own page, if there is one."""
        return str(self._client.dashboard_link) if self._has_dashboard else None

    def submit(self, task: Task, designs: Sequence[Design]) -> None:
        """Send a task; its report comes later. Raises `ClusterError` when the scheduler is gone."""
        self.check()
        try:
            order = Order(task.trials, designs)
            future = self._client.submit(run_task, order, pure=False, retries=0)
        except ClosedClientError as error:
            raise ClusterError(f"the scheduler is gone ({error})") from error
        self._futures[task] = future
        future.add_done_callback(lambda done: self._report(task, done))

    def check(self) -> None:
        """Raise `ClusterError` when the scheduler is gone."""
        if self._gone is not None:
            raise ClusterError(self._gone)
        if self._client.status not in ("running", "connecting"):
            raise ClusterError(f"the scheduler is gone ({self._client.status})")

    def cancel(self) -> None:
        """Forget all tasks that are in flight."""
        self._closing = True
        with contextlib.suppress(OSError, RuntimeError, ClosedClientError):
            self._client.cancel(list(self._futures.values()), force=True)
        self._futures.clear()

    def _report(self, task: Task, future: Future[list[Row]]) -> None:
        """Called on a thread of dask's when a task is done, failed or cancelled."""
        self._futures.pop(task, None)
        if future.status == "finished":
            self._reports.put(Finished(task, future.result()))
        elif future.status == "error":
            error = future.exception()
            if isinstance(error, KilledWorker):
                self._reports.put(Lost(task, self._deaths.cause(str(error.last_worker.address))))
            elif isinstance(error, RefusedError):
                self._reports.put(Lost(task, None))
            elif isinstance(error, ClusterError):
                self._gone = str(error)
            else:
                self._reports.put(Broken(task, error))
        elif not self._closing:  # lost or cancelled: the connection to the scheduler broke
            self._reports.put(Lost(task, None))


class Deaths:
    """How local worker processes ended, by the address that they had."""

    def __init__(self, *, local: bool) -> None:
        self._local = local
        self._exits: dict[str, int] = {}
        self._noted = threading.Condition()

    def note(self, address: str, exitcode: int) -> None:
        """Remember an exit code."""
        with self._noted:
            self._exits[address] = exitcode
            self._noted.notify_all()

    def cause(self, address: str) -> str | None:
        """Return a cause of the worker's own, or None for a kill from outside or an unknown end.

        The scheduler sees the connection close a moment before the nanny sees the process end.
        """
        with self._noted:
            if self._local:
                self._noted.wait_for(lambda: address in self._exits, timeout=_EXIT_CODE_WITHIN_S)
            exitcode = self._exits.pop(address, None)
        if not exitcode or (exitcode < 0 and -exitcode in _OUTSIDE_SIGNALS):
            return None  # 0: sent away by the scheduler, as when the machine slept and it was thought dead
        return f"signal {-exitcode}" if exitcode < 0 else f"exit code {exitcode}"


@contextlib.contextmanager
def open_workers(where: Where, work: Work, reports: Reports) -> Iterator[Workers]:
    """Give workers that hold `work`.

    Raises `InputError` if keys or the scheduler's address are wrong, `ClusterError` if a worker of this
    machine dies while it begins.
    """
    deaths = Deaths(local=where.address is None)
    with dask.config.set(_SETTINGS | ({} if where.dashboard else _UNSEEN)), contextlib.ExitStack() as stack:
        security = _security(where)
        target: Any = where.address
        if target is None:
            target = stack.enter_context(_local(where, security, deaths))
        try:
            client = stack.enter_context(
                Client(target, security=security, set_as_default=False, timeout=_ANSWER_WITHIN)
            )
        except (OSError, TimeoutError, ValueError) as error:
            raise InputError(f"no scheduler answers at {where.address}: {error}") from error
        equipment = Equipment(work, local=where.address is None, most_bytes=memory_for_each(where.workers))
        client.subscribe_topic(REFUSALS, lambda event: reports.put(Refused(str(event[1]))))
        client.register_plugin(equipment, name=PLUGIN)
        workers = Workers(client, reports, deaths, has_dashboard=where.dashboard)
        try:
            yield workers
        finally:
            workers.cancel()


def tls_faults(folder: Path) -> str | None:
    """Return what is wrong with a folder of keys, or None."""
    missing = [name for name in TLS_FILES if not (folder / name).is_file()]
    return (
        f"--tls {folder}: {', '.join(missing)} not found; wanted: {', '.join(TLS_FILES)}" if missing else None
    )


def _security(where: Where) -> Security | None:
    if not where.encrypted:
        return None
    if where.address is None:
        temporary: Security = Security.temporary()
        return temporary
    if where.tls is None:
        raise InputError(
            "a cluster's address needs --tls DIR with ca.pem, cert.pem and key.pem, or --without-tls"
        )
    if fault := tls_faults(where.tls):
        raise InputError(fault)
    ca, cert, key = (str(where.tls / name) for name in TLS_FILES)
    return Security(tls_ca_file=ca, tls_client_cert=cert, tls_client_key=key, require_encryption=True)


@contextlib.contextmanager
def _local(where: Where, security: Security | None, deaths: Deaths) -> Iterator[LocalCluster]:
    """Give a cluster of single-threaded processes on loopback."""
    resource_tracker.ensure_running()  # else the first worker's start does it, and unblocks signals again
    for name in ("distributed", "distributed.nanny", "distributed.worker", "tornado"):
        logging.getLogger(name).setLevel(logging.CRITICAL)
    try:
        cluster = LocalCluster(
            n_workers=where.workers or cores(),
            threads_per_worker=1,
            processes=True,
            host="127.0.0.1",
            security=security,
            dashboard_address="127.0.0.1:0",
            scheduler_kwargs={"dashboard": where.dashboard},
            worker_class=_watching_nanny(deaths.note),
            silence_logs=logging.CRITICAL,
            memory_limit=0,
            env=single_threaded(),
        )
    except RuntimeError as error:
        raise ClusterError(f"the workers could not be started: {error.__cause__ or error}") from error
    try:
        yield cluster
    finally:
        cluster.close(timeout=10)


def _watching_nanny(note: Callable[[str, int], None]) -> type[Nanny]:
    """Return a nanny that notes how its worker process ended before it starts another.

    A worker begins with the signals blocked that a terminal sends to every process of its group: before it
    has its equipment, Ctrl-C would end it. The process inherits the mask from the thread that starts it.
    """

    class WatchingNanny(Nanny):
        async def instantiate(self) -> Status:
            signal.pthread_sigmask(signal.SIG_BLOCK, (signal.SIGINT, signal.SIGHUP))
            return await super().instantiate()

        def _on_worker_exit_sync(self, exitcode: int) -> None:
            address = self.worker_address
            if address:
                note(address, exitcode)
            super()._on_worker_exit_sync(exitcode)  # type: ignore[no-untyped-call]

    return WatchingNanny
