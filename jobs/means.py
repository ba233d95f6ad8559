"""What a session leans on: workers, time and the terminal; tests put other things in their place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

from boilerfront.jobs.clock import Clock, MachineClock
from boilerfront.jobs.driver import Task
from boilerfront.jobs.progress import Teller
from boilerfront.jobs.work import Design

TICK_S = 1.0
"""How long a report is waited for before stop file, workers and time are looked at."""


class WorkerPool(Protocol):
    """What the shell needs of workers; reports come on the queue."""

    @property
    def count(self) -> int:
        """Return how many tasks run at once."""
        ...

    @property
    def dashboard(self) -> str | None:
        """Return the address of a page of the pool's own, if there is one."""
        ...

    def submit(self, task: Task, designs: Sequence[Design]) -> None:
        """Send a task."""
        ...

    def check(self) -> None:
        """Raise `StoppedEarlyError` if the pool is gone."""
        ...


@dataclass(frozen=True)
class SessionMeans:
    """Time and the terminal, as a session sees them."""

    clock: Clock = field(default_factory=MachineClock)
    teller: Teller = field(default_factory=Teller)
    tick_s: float = TICK_S
