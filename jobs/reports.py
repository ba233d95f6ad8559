"""What reaches a session from outside: a task came back, was lost with its worker, raised; a worker was
refused; or a signal."""

from __future__ import annotations

import queue
from dataclasses import dataclass

from boilerfront.jobs.driver import Task
from boilerfront.jobs.work import Row


@dataclass(frozen=True)
class Finished:
    """A task came back."""

    task: Task
    rows: list[Row]


@dataclass(frozen=True)
class Lost:
    """A task's worker died; `cause` is None for a kill from outside."""

    task: Task
    cause: str | None


@dataclass(frozen=True)
class Broken:
    """A task raised where it should have given rows."""

    task: Task
    error: BaseException


@dataclass(frozen=True)
class Refused:
    """A worker was sent away before it worked; `why` is a sentence."""

    why: str


@dataclass(frozen=True)
class Interrupt:
    """A signal asked to stop."""

    name: str


Report = Finished | Lost | Broken | Refused | Interrupt
Reports = queue.SimpleQueue[Report]
