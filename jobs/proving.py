"""The proof of a night: the front's designs rated again, and what was tried beside them, on the workers.

A stage is a list of ratings in a fixed order, driven like a search's designs: sent in generations, repeated when a
worker dies, ended by a signal, `stop` or the clock. What was rated is in `proof.parquet` when its generation
closes, and is not rated again.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pyarrow as pa

from boilerfront.jobs.driver import (
    Begin,
    CloseGeneration,
    Driver,
    Event,
    Finish,
    Instruction,
    Outcome,
    PlanGeneration,
    Planned,
    Store,
    StoreFault,
    Submit,
)
from boilerfront.jobs.listening import Listener
from boilerfront.jobs.means import SessionMeans, WorkerPool
from boilerfront.jobs.plan import Generations, Plan, by_kind
from boilerfront.jobs.ranges import reach_of
from boilerfront.jobs.reports import Reports
from boilerfront.jobs.sweep import Sweep
from boilerfront.jobs.work import Design, fault_row
from boilerfront.results.proof import FINER, NEIGHBOUR, ProofTable, Rated
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.schema import group_of

TASKS_A_WORKER = 2
"""A stage's generation is so many ratings for each worker: short, so that it ends in time."""


@dataclass(frozen=True)
class Rating:
    """One design to be rated, and what for."""

    rated: Rated
    design: Design


def finer_ratings(front: pa.Table) -> list[Rating]:
    """Return each design of the front as it is."""
    return [Rating(Rated(trial, FINER), design) for trial, design in _designs(front)]


def neighbour_ratings(front: pa.Table, sweep: Sweep) -> list[Rating]:
    """Return each design of the front with one open variable moved, down and up, as far as the sweep goes."""
    # The model's kernel is loaded here alone, where somebody wants neighbours.
    from boilerfront.model.sensitivity import neighbours

    reach = reach_of(sweep.variables)
    return [
        Rating(Rated(trial, NEIGHBOUR, f"{name} {_short(before)} → {_short(after)}"), {**design, name: after})
        for trial, design in _designs(front)
        for name, before, after in neighbours(design, reach)
        if name in reach and name in design and after != design[name]
    ]


class Stage:
    """One list of ratings of a run's proof, on workers that are there for it."""

    def __init__(
        self,
        run: RunFolder,
        table: ProofTable,
        *,
        means: SessionMeans,
        story: Callable[[str], None],
        show: Callable[[int, int], None],
    ) -> None:
        self._table = table
        self._clock = means.clock
        self.listener = Listener(run, means, story)
        self._show = show
        self._ratings: Sequence[Rating] = ()
        self._pending: deque[Event] = deque()
        self._done = 0

    def missing(self, ratings: Sequence[Rating]) -> frozenset[int]:
        """Return the places of the ratings that the table lacks."""
        known = self._table.keys
        return frozenset(place for place, each in enumerate(ratings) if each.rated.key not in known)

    def run(
        self, ratings: Sequence[Rating], workers: WorkerPool, reports: Reports, *, deadline: float | None
    ) -> Outcome:
        """Rate what is missing; return how it ended."""
        self._ratings = ratings
        done = frozenset(range(len(ratings))) - self.missing(ratings)
        self._done = len(done)
        size = TASKS_A_WORKER * max(1, workers.count)
        driver = Driver(Plan(Generations(size), len(ratings), done), deadline=deadline)
        self._pending.append(Begin(self._clock.now(), max(1, workers.count)))
        while True:
            event = self._pending.popleft() if self._pending else self.listener.next_event(reports, workers)
            for instruction in driver.handle(event):
                if isinstance(instruction, Finish):
                    self._table.write()
                    return instruction.outcome
                self._carry_out(instruction, workers)
            self._show(self._done, len(ratings))

    def _carry_out(self, instruction: Instruction, workers: WorkerPool) -> None:
        match instruction:
            case PlanGeneration(generation, missing):
                kinds = by_kind(missing, lambda place: self._ratings[place].design["architecture"])
                self._pending.append(Planned(generation, kinds))
            case Submit(task):
                workers.submit(task, [self._ratings[place].design for place in task.trials])
            case Store(_, rows):
                for row in rows:
                    self._take(int(row["trial"] or 0), row)
            case StoreFault(task, cause):
                place = task.trials[0]
                self._take(place, fault_row(place, self._ratings[place].design, f"worker ended: {cause}"))
            case CloseGeneration():
                self._table.write()
            case Finish():
                raise AssertionError("handled in the loop")

    def _take(self, place: int, row: Mapping[str, Any]) -> None:
        self._table.add(self._ratings[place].rated, row)
        self._done += 1


def _designs(front: pa.Table) -> Iterator[tuple[int, Design]]:
    names = group_of(front.schema, "variable")
    for row in front.select(["trial", *names]).to_pylist():
        yield row["trial"], {name: row[name] for name in names}


def _short(value: float | int | str | None) -> str:
    return f"{value:.4g}" if isinstance(value, float) else str(value)
