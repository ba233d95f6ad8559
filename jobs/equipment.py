"""What a worker's process is given when it joins: the work, its share of memory, a death with its parent."""

from __future__ import annotations

import ctypes
import logging
import os
import resource
import signal
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

from distributed import Worker, get_worker
from distributed.diagnostics.plugin import WorkerPlugin
from distributed.system import MEMORY_LIMIT

from boilerfront import model, shared
from boilerfront.jobs.work import Design, Row, Work
from boilerfront.shared.code import code_digest
from boilerfront.shared.errors import BoilerfrontError, StoppedEarlyError
from boilerfront.shared.files import short_digest

PLUGIN = "boilerfront-work"
REFUSALS = "boilerfront-refusals"
"""The topic under which a refused worker says why."""
GOODBYE_S = 1.0
"""So long a refused worker stays, so that its word arrives."""
COMPUTING = ("numpy", "numba", "llvmlite", "scipy")
MEMORY_SHARE = 0.8
"""Part of this machine's memory that its workers share."""
LEAST_MEMORY = 2 << 30
"""A worker with the model compiled holds some 400 MB."""


class ClusterError(StoppedEarlyError):
    """The scheduler or all workers are gone; the run can be resumed."""


class RefusedError(BoilerfrontError):
    """A task came to a worker that has been refused and is about to leave: to be sent again."""


def cores() -> int:
    """Return how many cores this process may use."""
    return len(os.sched_getaffinity(0)) if sys.platform == "linux" else os.cpu_count() or 1


def memory_for_each(workers: int) -> int:
    """Return the memory that a worker of this machine may ask for [bytes]: its share, but no less than it needs."""
    share = MEMORY_SHARE * MEMORY_LIMIT / (workers or cores())
    return max(int(share), LEAST_MEMORY)


def _limit_memory(most_bytes: int) -> None:
    """Refuse this process more memory than that: a design that asks for it gets a fault, not the machine.

    Without it the system would kill some process, perhaps ours, and nothing would tell this from a kill by hand.
    """
    _, hard = resource.getrlimit(resource.RLIMIT_DATA)
    most = most_bytes if hard == resource.RLIM_INFINITY else min(most_bytes, hard)
    resource.setrlimit(resource.RLIMIT_DATA, (most, hard))


def own_versions() -> dict[str, str]:
    """Return what a row depends on in this process: sources of the model and of a task, packages that compute."""
    folders = [Path(str(package.__file__)).parent for package in (model, shared)]
    here = Path(__file__).parent
    task = short_digest(b"\0".join((here / name).read_bytes() for name in ("work.py", "equipment.py")))
    code = f"{code_digest(*folders)}-{task}"
    return {"boilerfront's sources": code, **{package: version(package) for package in COMPUTING}}


class Equipment(WorkerPlugin):
    """What a worker is given once, when it joins: the work, and a death with its parent.

    A worker elsewhere whose code or packages are not ours is sent away: its rows might differ.
    """

    def __init__(self, work: Work, *, local: bool, most_bytes: int) -> None:
        self.work = work
        self.local = local
        self.most_bytes = most_bytes
        self.versions = {} if local else own_versions()  # workers of this machine run what we run
        self.is_refused = False

    def setup(self, worker: Worker) -> None:
        """Make a local worker end with the process that started it, and not by its terminal.

        Ctrl-C in a terminal goes to every process of the group; what it means is for the driver to say. A
        SIGTERM ends the worker at once, as SIGKILL does, so that its nanny starts another.
        """
        if self.local:
            _die_with_parent()
            _limit_memory(self.most_bytes)
            signal.signal(signal.SIGINT, signal.SIG_IGN)
            signal.signal(signal.SIGHUP, signal.SIG_IGN)
            signal.signal(signal.SIGTERM, signal.SIG_DFL)
        elif strange := self._differences():
            self.is_refused = True
            why = f"refused worker {worker.address}: {'; '.join(strange)}"
            worker.log_event(REFUSALS, why)
            logging.getLogger("distributed.worker").error("boilerfront %s", why)
            worker.loop.call_later(GOODBYE_S, worker.close, reason=why)

    def _differences(self) -> list[str]:
        theirs = own_versions()
        return [
            f"{name} {theirs.get(name, 'none')}, here {ours}"
            for name, ours in self.versions.items()
            if theirs.get(name) != ours
        ]


@dataclass(frozen=True)
class Order:
    """A task as it travels: in a class of its own, dask does not search each design for tasks of its own."""

    trials: Sequence[int]
    designs: Sequence[Design]


def run_task(order: Order) -> list[Row]:
    """Evaluate a task on the worker that runs it.

    Raises `ClusterError` on a worker that was not equipped: its scheduler is not the one that we equipped.
    """
    equipment = get_worker().plugins.get(PLUGIN)
    if not isinstance(equipment, Equipment):
        raise ClusterError("the scheduler was replaced by another while the run went on")
    if equipment.is_refused:
        time.sleep(2.0 * GOODBYE_S)  # else this worker would take and lose task after task until it has left
        raise RefusedError
    return equipment.work(order.trials, order.designs)


def _die_with_parent() -> None:
    if sys.platform != "linux":
        return  # elsewhere a worker notices that its parent's pipe has closed
    set_parent_death_signal = 1  # PR_SET_PDEATHSIG, linux/prctl.h
    ctypes.CDLL(None, use_errno=True).prctl(set_parent_death_signal, signal.SIGKILL)


def single_threaded() -> Mapping[str, str]:
    """Return the environment of a worker: sums of BLAS keep their order, work is spread by processes."""
    return dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
