"""A small invented model and workers in this process, in place of the real ones."""

from __future__ import annotations

import contextlib
import math
import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from boilerfront.jobs.clock import Clock
from boilerfront.jobs.cluster import Where
from boilerfront.jobs.driver import Task
from boilerfront.jobs.launch import Means
from boilerfront.jobs.progress import Teller
from boilerfront.jobs.reports import Finished, Lost, Report, Reports
from boilerfront.jobs.work import Design, Evaluator, Row, Work
from boilerfront.model.brief import Brief

STARTER = Path(__file__).parents[2] / "jobs" / "starters" / "compact-230v"
PRICES = STARTER / "prices.csv"

SWEEP = f"""
prices = "{PRICES}"

[variables]
architecture = {{ choices = ["dual_boiler", "dual_boiler_coil"] }}
brew_volume_mL = {{ low = 200, high = 800, log = true }}
brew_power_W = {{ choices = [700, 900, 1200] }}
coil_length_m = {{ low = 0.2, high = 1.6 }}
insulation_mm = {{ low = 0, high = 20, step = 2.5 }}

[search]
budget = 60
generation = 10
seed = 5
"""


def toy(designs: Sequence[Design], brief: Brief) -> list[Row]:
    """Return rows with trade-offs, an infeasible corner and designs that never get ready."""
    return [_toy(design) for design in designs]


def _toy(design: Design) -> Row:
    volume, power = float(design["brew_volume_mL"] or 0), float(design["brew_power_W"] or 0)
    insulation, coil = float(design["insulation_mm"] or 0), design.get("coil_length_m")
    if volume > 700 and power < 800:
        return {"feasible": False, "reason": "not ready", "shortfall": volume / 700 - 1}
    shock = 1.0 if coil is None else abs(float(coil) - 0.7)
    row: Row = {
        "shot_deviation_K": 0.1 + shock * math.exp(-volume / 400),
        "warm_up_s": 100 + 4 * volume / power * 100,
        "energy_kWh_day": 0.3 + volume / 2000 - insulation / 200,
        "part_cost": 80 + volume / 20 + power / 100 + insulation / 2 + (0 if coil is None else 12),
        "margin_mains_A": 9.0 - power / 230,
        "margin_coil_fit_mm": None if coil is None else 1.3 - float(coil),
        "shortfall": 0.0,
    }
    margins = [row["margin_mains_A"], row["margin_coil_fit_mm"]]
    return {**row, "feasible": all(margin is None or margin >= 0 for margin in margins)}


def prepare_nothing(brief: Brief, designs: Sequence[Design]) -> None:
    """The toy needs no compiler."""


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
