"""Workers, a clock and a disk in this process, in place of the real ones; the model is that of `toy`."""

from __future__ import annotations

import contextlib
import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from boilerfront.jobs.clock import Clock
from boilerfront.jobs.cluster import Where
from boilerfront.jobs.driver import Task
from boilerfront.jobs.launch import Means
from boilerfront.jobs.progress import Teller
from boilerfront.jobs.reports import Finished, Lost, Report, Reports
from boilerfront.jobs.work import Design, Evaluator, Row, Work
from tests.jobs.toy import prepare_nothing, toy


@dataclass
class FakeClock:
    """A clock that stands still unless told to go on."""

    time: float = 1_800_000_000.0
    step: float = 0.0

    def now(self) -> float:
        """Return seconds since the epoch; each look takes `step` seconds."""
        self.time += self.step
        return self.time

    def sleep(self, seconds: float) -> None:
        """Let time go by."""
        self.time += seconds


class InlinePool:
    """Workers in this process that hand tasks back in an order of their own."""

    dashboard = None

    def __init__(self, work: Work, reports: Reports, *, count: int, seed: int) -> None:
        self._count = count
        self._open = True
        self._work = work
        self._reports = reports
        self._draw = random.Random(seed)
        self._held: list[tuple[Task, list[Row]]] = []

    @property
    def count(self) -> int:
        """Return how many there are; as with real ones, nobody can tell any more once they are closed."""
        if not self._open:
            raise AttributeError("closed")
        return self._count

    def close(self) -> None:
        """Send all home."""
        self._open = False

    def submit(self, task: Task, designs: Sequence[Design]) -> None:
        """Evaluate at once and hand some task back."""
        self._held.append((task, self._work(task.trials, designs)))
        while self._held and (len(self._held) > self._count or self._draw.random() < 0.5):
            self._give(Finished(*self._held.pop(self._draw.randrange(len(self._held)))))

    def check(self) -> None:
        """Hand back what is held while nothing else happens."""
        for task, rows in self._held:
            self._give(Finished(task, rows))
        self._held.clear()

    def _give(self, report: Report) -> None:
        self._reports.put(report)


class LosingPool(InlinePool):
    """Workers that die on certain trials, by a cause."""

    def __init__(self, work: Work, reports: Reports, *, dies: Callable[[int], str | None]) -> None:
        super().__init__(work, reports, count=2, seed=1)
        self._dies = dies

    def submit(self, task: Task, designs: Sequence[Design]) -> None:
        """Evaluate a task, or lose it."""
        causes = [cause for trial in task.trials if (cause := self._dies(trial)) is not None]
        if causes:
            self._give(Lost(task, causes[0]))
        else:
            super().submit(task, designs)


@dataclass
class Bench:
    """Means for a session in this process."""

    workers: int = 2
    seed: int = 1
    evaluate: Evaluator = toy
    evaluate_finer: Evaluator = toy
    clock: Clock = field(default_factory=FakeClock)
    dies: Callable[[int], str | None] | None = None

    def means(self) -> Means:
        """Return what `start` and `resume` take."""
        teller = Teller(quiet=True)
        return Means(
            clock=self.clock,
            teller=teller,
            tick_s=0.005,
            evaluate=self.evaluate,
            evaluate_finer=self.evaluate_finer,
            prepare=prepare_nothing,
            open_workers=self._open,
        )

    @contextlib.contextmanager
    def _open(self, where: Where, work: Work, reports: Reports) -> Iterator[InlinePool]:
        pool = (
            InlinePool(work, reports, count=self.workers, seed=self.seed)
            if self.dies is None
            else LosingPool(work, reports, dies=self.dies)
        )
        try:
            yield pool
        finally:
            pool.close()
