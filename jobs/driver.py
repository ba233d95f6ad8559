"""What to do next: events in, instructions out. No clock, no socket, no file; the shell carries it out.

Generations are planned in order, each from the rows told up to `lag` + 1 generations before it (the first ones
from all before them), whatever order tasks come back in: nothing depends on timing. A lost task is cut in two and
sent again until single designs are left; such a suspect then runs alone, with nothing else in flight, and is called
faulty only when it died three times running by the same cause of its own. A kill from outside costs a repeat and is
not held against it, until twelve workers running have ended with it alone for no cause that can be known, as a
cluster's may: then something is wrong with it or with every worker, and the run goes on without it.
"""

from __future__ import annotations

import statistics
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from boilerfront.jobs.plan import Plan, cut

DEATHS_OF_A_FAULTY_DESIGN = 3
UNEXPLAINED_DEATHS = 12
UNEXPLAINED = "killed, or of no known cause"
_GENERATIONS_IN_THE_MEDIAN = 5

Row = Mapping[str, float | int | bool | str | None]
Outcome = Literal["finished", "no_better", "stopped", "until"]


@dataclass(frozen=True)
class Task:
    """Some trials of one generation, evaluated together on one worker."""

    generation: int
    trials: tuple[int, ...]


# Events


@dataclass(frozen=True)
class Begin:
    """The run is open and the workers are there."""

    now: float
    workers: int


@dataclass(frozen=True)
class Planned:
    """A generation was asked; `groups` are its missing trials, those together that go well in one task."""

    generation: int
    groups: Sequence[Sequence[int]]


@dataclass(frozen=True)
class TaskDone:
    """A task came back with a row for each of its trials."""

    now: float
    task: Task
    rows: Sequence[Row]


@dataclass(frozen=True)
class TaskLost:
    """The worker that ran a task died; `cause` names a cause of its own, None a kill from outside."""

    now: float
    task: Task
    cause: str | None


@dataclass(frozen=True)
class WorkersChanged:
    """Workers came or went."""

    workers: int


@dataclass(frozen=True)
class StopAsked:
    """Somebody asked to stop: at the end of the generation, or (`at_once`) with the tasks in flight."""

    at_once: bool


@dataclass(frozen=True)
class NoBetter:
    """When this generation had closed, the front had not grown enough for the search to go on."""

    generation: int


@dataclass(frozen=True)
class Tick:
    """Time went by."""

    now: float


Event = Begin | Planned | TaskDone | TaskLost | WorkersChanged | StopAsked | NoBetter | Tick


# Instructions


@dataclass(frozen=True)
class PlanGeneration:
    """Ask the sampler for a generation at its full size, and say `Planned`; `missing` is to be evaluated."""

    generation: int
    missing: tuple[int, ...]


@dataclass(frozen=True)
class Submit:
    """Send a task to the workers."""

    task: Task


@dataclass(frozen=True)
class Store:
    """Write a finished task's rows."""

    task: Task
    rows: Sequence[Row]


@dataclass(frozen=True)
class StoreFault:
    """Write one trial that killed its worker again and again."""

    task: Task
    cause: str


@dataclass(frozen=True)
class CloseGeneration:
    """Merge a generation's tasks into one part; tell the sampler if `tell`."""

    generation: int
    tell: bool


@dataclass(frozen=True)
class Finish:
    """Nothing is in flight and nothing more is to be sent."""

    outcome: Outcome


Instruction = PlanGeneration | Submit | Store | StoreFault | CloseGeneration | Finish


@dataclass
class _Open:
    """A generation that was planned and is not closed."""

    missing: set[int]
    is_begun: bool = False
    started: float | None = None
    """The first moment known after it was begun: not every event has one."""


@dataclass
class Driver:
    """The state of one run. `handle` is the only way in."""

    plan: Plan
    lag: int = 1
    ahead_from: int = 0
    """The first generation to which `lag` applies; those before it wait for all that went before."""
    deadline: float | None = None  # seconds since the epoch, or never
    begin: int = 0
    """The first generation that is looked at: all before it are closed."""
    _workers: int = 1
    _open: dict[int, _Open] = field(default_factory=dict)
    _planned: int = 0  # generations planned so far
    _planning: bool = False  # one is being asked for
    _closed: int = 0  # generations closed so far
    _waiting: deque[Task] = field(default_factory=deque)
    _suspects: deque[Task] = field(default_factory=deque)
    _in_flight: set[Task] = field(default_factory=set)
    _deaths: dict[int, tuple[str, int]] = field(default_factory=dict)
    _durations: deque[float] = field(default_factory=lambda: deque(maxlen=_GENERATIONS_IN_THE_MEDIAN))
    _ending: Outcome | None = None
    _end_after: int = 0  # when ending: the generation that is still brought to its end
    _sending: bool = True
    _finished: bool = False

    def __post_init__(self) -> None:
        self._planned = self._closed = self.begin

    def lag_of(self, generation: int) -> int:
        """Return how many generations may still run when this one is planned."""
        return self.lag if generation >= self.ahead_from else 0

    def handle(self, event: Event) -> list[Instruction]:
        """Return what to do, in this order, now that `event` has happened."""
        if self._finished:
            return []
        now: float | None = None
        instructions: list[Instruction] = []
        match event:
            case Begin(now, workers):
                self._workers = workers
            case Planned(generation, groups):
                self._planning = False
                self._waiting.extend(Task(generation, each) for each in cut(groups, workers=self._workers))
            case TaskDone(now, task, rows):
                instructions += self._done(task, rows)
            case TaskLost(now, task, cause):
                instructions += self._lost(task, cause)
            case WorkersChanged(workers):
                self._workers = workers
            case StopAsked(at_once):
                self._end_with("stopped")
                self._sending = self._sending and not at_once
            case NoBetter(generation):
                self._end_no_better(generation)
            case Tick(now):
                pass
        instructions += self._advance(now)
        instructions += self._send(now)
        instructions += self._end()
        return instructions

    # What events mean

    def _done(self, task: Task, rows: Sequence[Row]) -> Iterator[Instruction]:
        if task not in self._in_flight:
            return  # it was given up for lost and has been sent again
        self._in_flight.discard(task)
        self._open[task.generation].missing.difference_update(task.trials)
        yield Store(task, rows)

    def _lost(self, task: Task, cause: str | None) -> Iterator[Instruction]:
        if task not in self._in_flight:
            return
        self._in_flight.discard(task)
        if len(task.trials) > 1:
            half = len(task.trials) // 2
            for trials in (task.trials[half:], task.trials[:half]):
                self._requeue(Task(task.generation, trials))
            return
        most = UNEXPLAINED_DEATHS if cause is None else DEATHS_OF_A_FAULTY_DESIGN
        if self._count_death(task.trials[0], cause or UNEXPLAINED) >= most:
            self._open[task.generation].missing.discard(task.trials[0])
            yield StoreFault(task, cause or UNEXPLAINED)
            return
        self._requeue(task)

    def _requeue(self, task: Task) -> None:
        if len(task.trials) == 1:
            self._suspects.append(task)
        else:
            self._waiting.appendleft(task)

    def _count_death(self, trial: int, cause: str) -> int:
        before, times = self._deaths.get(trial, (cause, 0))
        self._deaths[trial] = (cause, times + 1 if before == cause else 1)
        return self._deaths[trial][1]

    # Generations

    def _advance(self, now: float | None) -> Iterator[Instruction]:
        """Plan what may be planned, then close what is complete, oldest first.

        Planning goes first, so that a generation is always planned from the same told rows, even if the one
        before it has come back already.
        """
        while not self._planning:
            if self._may_plan():
                yield self._plan_next()
            elif self._closed < self._planned and not self._open[self._closed].missing:
                yield self._close(now)
            else:
                return

    def _close(self, now: float | None) -> CloseGeneration:
        generation = self._closed
        started = self._open.pop(generation).started
        if started is not None and now is not None:
            self._durations.append(now - started)
        self._closed += 1
        return CloseGeneration(generation, tell=self.plan.is_whole(generation))

    def _may_plan(self) -> bool:
        return (
            self._ending is None
            and self._planned <= self.plan.last_generation
            and self._planned <= self._closed + self.lag_of(self._planned)
        )

    def _plan_next(self) -> PlanGeneration:
        generation = self._planned
        missing = self.plan.missing(generation)
        self._open[generation] = _Open(set(missing))
        self._planned += 1
        self._planning = True
        return PlanGeneration(generation, missing)

    # Tasks

    def _send(self, now: float | None) -> Iterator[Instruction]:
        """Send what may be sent: a suspect alone, else two tasks a worker so that none waits for us."""
        if now is not None and self.deadline is not None and now >= self.deadline:
            self._end_with("until")
            self._sending = False
        while (task := self._next(now)) is not None:
            opened = self._open[task.generation]
            opened.is_begun = True
            opened.started = now if opened.started is None else opened.started
            self._in_flight.add(task)
            yield Submit(task)

    def _next(self, now: float | None) -> Task | None:
        """Return the task to send now, taken from its queue, or None."""
        if not self._sending:
            return None
        suspects = any(self._may_send(task) for task in self._suspects)
        if self._in_flight and (suspects or len(self._in_flight) >= 2 * self._workers):
            return None
        queue = self._suspects if suspects else self._waiting
        for task in queue:
            if self._may_send(task) and self._may_start(task.generation, now):
                queue.remove(task)
                return task
        return None

    def _may_send(self, task: Task) -> bool:
        """Return whether a task is of a generation that is to be brought to its end."""
        if self._ending is None:
            return True
        if self._ending == "no_better":
            return task.generation <= self._end_after
        return task.generation <= self._end_after and self._open[task.generation].is_begun

    def _may_start(self, generation: int, now: float | None) -> bool:
        """Return whether a generation runs already, or would probably end before the deadline."""
        if self._open[generation].is_begun or now is None or self.deadline is None:
            return True
        if self._durations and now + statistics.median(self._durations) > self.deadline:
            self._end_with("until")
            return False
        return True

    def _end_with(self, outcome: Outcome) -> None:
        """Bring the running generation to its end and start no other."""
        if self._ending in (None, "no_better"):
            self._ending, self._end_after = outcome, self._closed

    def _end_no_better(self, generation: int) -> None:
        """End with what is planned from results up to `generation` less one, begun or not: no timing decides."""
        if self._ending is None:
            self._ending, self._end_after = "no_better", generation + self.lag_of(generation + 1)

    def _end(self) -> Iterator[Instruction]:
        if self._in_flight or self._planning:
            return
        if self._closed > self.plan.last_generation:
            self._finished = True
            yield Finish("finished")
        elif self._ending is not None and not self._could_send():
            self._finished = True
            yield Finish(self._ending)

    def _could_send(self) -> bool:
        return self._sending and any(map(self._may_send, (*self._suspects, *self._waiting)))
