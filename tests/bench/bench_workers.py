"""Where the driver is too slow for its workers: the real driver in virtual time, with costs measured here.

    python -m tests.bench.bench_workers [--seconds-a-design S]

First what the driver's own work takes on this machine and disk, then, for numbers of workers and sizes of
generations, how many designs a second come of it, how idle the workers are and how busy the driver, with
planning ahead (lag 1) and without (lag 0). A worker's evaluation takes S seconds in the mean, with the spread
of a log-normal; dask's own cost of a task is an assumption, printed with the table.
"""

from __future__ import annotations

import argparse
import heapq
import math
import random
import tempfile
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from unittest.mock import patch

from rich.console import Console
from rich.table import Table

from boilerfront.jobs.driver import (
    Begin,
    CloseGeneration,
    Driver,
    Event,
    Finish,
    PlanGeneration,
    Planned,
    Store,
    Submit,
    Task,
    TaskDone,
)
from boilerfront.jobs.launch import Options, start
from boilerfront.jobs.plan import Generations, Plan
from boilerfront.jobs.shell import TASKS_A_WRITE, Shell
from boilerfront.jobs.study import StudyWindow
from boilerfront.results.ledger import Ledger
from tests.jobs.fakes import Bench
from tests.jobs.toy import SWEEP

SECONDS_A_DESIGN = 0.04
SPREAD = 0.5
"""Standard deviation of the logarithm of an evaluation's time."""
DASK_S_A_TASK = 1e-3
"""What sending a task and taking its result costs the driver's process (an assumption)."""
WORKERS = (2, 8, 50, 200)
MEASURED = 1_440


@dataclass(frozen=True)
class Costs:
    """Seconds of the driver: to plan a design, to write the tasks that came in together, to close a generation."""

    plan_a_design: float
    store_a_write: float
    close: float
    close_a_design: float


@dataclass
class Simulation:
    """Workers that take tasks in turn, and a driver that does one thing at a time, in virtual seconds."""

    driver: Driver
    workers: int
    size: int
    costs: Costs
    seconds_a_design: float
    now: float = 0.0
    worked: float = 0.0
    designs: int = 0
    _draw: random.Random = field(default_factory=lambda: random.Random(1))
    _free: list[float] = field(default_factory=list)
    _flying: list[tuple[float, int, Task]] = field(default_factory=list)
    _sent: int = 0
    _unwritten: int = 0
    idle_s: float = 0.0

    def run(self) -> None:
        """Drive until nothing is left."""
        self._free = [0.0] * self.workers
        pending: deque[Event] = deque([Begin(0.0, self.workers)])
        while True:
            event = pending.popleft() if pending else self._next()
            if event is None:
                return
            for instruction in self.driver.handle(event):
                match instruction:
                    case PlanGeneration(generation, missing):
                        self._spend(self.costs.plan_a_design * self.size)
                        pending.append(Planned(generation, [missing]))
                    case Submit(task):
                        self._submit(task)
                    case Store():
                        self._unwritten += 1
                    case CloseGeneration():
                        self._write()
                        self._spend(self.costs.close + self.costs.close_a_design * self.size)
                    case Finish():
                        self._write()
                        self.idle_s = self.now * self.workers - self.worked
                        return

            if self._unwritten >= TASKS_A_WRITE or not (self._flying and self._flying[0][0] <= self.now):
                self._write()

    def _write(self) -> None:
        """Write the tasks that came in together, as the shell does."""
        self._spend(self.costs.store_a_write if self._unwritten else 0.0)
        self._unwritten = 0

    def _spend(self, seconds: float) -> None:
        self.now += seconds

    def _submit(self, task: Task) -> None:
        self._spend(DASK_S_A_TASK / 2)
        begins = max(heapq.heappop(self._free), self.now)
        shift = math.log(self.seconds_a_design) - SPREAD**2 / 2
        seconds = sum(self._draw.lognormvariate(shift, SPREAD) for _ in task.trials)
        heapq.heappush(self._free, begins + seconds)
        heapq.heappush(self._flying, (begins + seconds, self._sent, task))
        self._sent += 1
        self.worked += seconds

    def _next(self) -> Event | None:
        if not self._flying:
            return None
        done, _, task = heapq.heappop(self._flying)
        waited = max(0.0, done - self.now)
        self.waited += waited
        self.now = max(self.now, done)
        self._spend(DASK_S_A_TASK / 2)
        self.designs += len(task.trials)
        return TaskDone(self.now, task, [])

    waited: float = 0.0
    """Seconds in which the driver had nothing to do."""


def simulated(costs: Costs, *, workers: int, size: int, lag: int, seconds_a_design: float) -> Simulation:
    """Run twenty generations, or ten thousand designs, if these are more."""
    budget = size * max(20, 10_000 // size)
    driver = Driver(Plan(Generations(size), budget), lag=lag)
    simulation = Simulation(driver, workers, size, costs, seconds_a_design)
    simulation.run()
    return simulation


def measured_costs() -> Costs:
    """Drive a short run of an invented model and time what the driver does."""
    spent: dict[str, list[float]] = {"plan": [], "store": [], "close": []}
    with tempfile.TemporaryDirectory() as folder, _timed(spent):
        sweep = Path(folder) / "toy.toml"
        text = SWEEP.replace("budget = 60", f"budget = {MEASURED}").replace(
            "generation = 10", "generation = 96"
        )
        sweep.write_text(text, encoding="utf-8")
        start(sweep, Path(folder) / "runs", name=None, options=Options(), means=Bench(workers=2).means())
    half = len(spent["close"]) // 2  # surrogates and compilers have begun by then
    close = _usual(spent["close"][half:])
    return Costs(
        plan_a_design=_usual(spent["plan"][half:]) / 96,
        store_a_write=_usual(spent["store"]),
        close=0.3 * close,  # about what is paid a generation, by its files; the rest is paid a design
        close_a_design=0.7 * close / 96,
    )


def _usual(values: list[float]) -> float:
    """Return the lower quartile: what it takes where nothing else runs on the machine."""
    return sorted(values)[len(values) // 4]


@contextmanager
def _timed(spent: dict[str, list[float]]) -> Iterator[None]:
    def wrapped(name: str, original: Callable[..., Any]) -> Callable[..., Any]:
        clock = time.process_time if name == "plan" else time.perf_counter  # what waits for the disk waits

        def call(*given: Any, **named: Any) -> Any:
            began = clock()
            result = original(*given, **named)
            spent[name].append(clock() - began)
            return result

        return call

    with (
        patch.object(StudyWindow, "plan", wrapped("plan", StudyWindow.plan)),
        patch.object(Ledger, "write_task", wrapped("store", Ledger.write_task)),
        patch.object(Shell, "_close", wrapped("close", Shell._close)),
    ):
        yield


def workers_report(seconds_a_design: float = SECONDS_A_DESIGN) -> Table:
    """Return the table of simulated nights."""
    costs = measured_costs()
    table = Table(title=f"Simulated workers, {1e3 * seconds_a_design:.0f} ms a design")
    for head in (
        "workers",
        "generation",
        "lag",
        "designs/s",
        "of the workers' own",
        "workers idle",
        "driver busy",
    ):
        table.add_column(head, justify="right")
    for workers in WORKERS:
        for size in sorted({96, max(96, 4 * workers), max(96, 8 * workers)}):
            for lag in (0, 1):
                found = simulated(
                    costs, workers=workers, size=size, lag=lag, seconds_a_design=seconds_a_design
                )
                rate = found.designs / found.now
                ideal = workers * found.designs / found.worked
                table.add_row(
                    *(f"{workers}", f"{size}", f"{lag}", f"{rate:.0f}", f"{rate / ideal:.2f}"),
                    *(f"{found.idle_s / found.now / workers:.0%}", f"{1 - found.waited / found.now:.0%}"),
                )
    table.caption = (
        f"driver: {1e3 * costs.plan_a_design:.2f} ms to plan a design, {1e3 * costs.store_a_write:.1f} ms to write "
        f"tasks, {1e3 * costs.close:.0f} ms and {1e3 * costs.close_a_design:.2f} ms a design to close a generation "
        "(measured); "
        f"{1e3 * DASK_S_A_TASK:.0f} ms of dask a task (assumed)"
    )
    return table


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds-a-design", type=float, default=SECONDS_A_DESIGN)
    Console(width=130).print(workers_report(parser.parse_args().seconds_a_design))


if __name__ == "__main__":
    main()
