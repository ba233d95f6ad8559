"""How fast the model is on one core: runs, evaluations, robust evaluations, and against the stiff solver."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from rich.table import Table

from boilerfront.model import ARCHITECTURES, evaluate_many
from boilerfront.model.brief import Brief
from boilerfront.model.kernel import layout as at
from boilerfront.model.tolerances import Tolerances
from tests.model.random_designs import NOMINAL, random_designs
from tests.model.stiff_reference import Reference
from tests.validate.machines import pool_of, untrimmed_requests

DESIGNS = 64
REPEATS = 5


@dataclass(frozen=True)
class Speed:
    """Seconds of processor time for one of what was counted, the median of the repeats."""

    seconds: float

    @property
    def a_second(self) -> float:
        """Return how many fit into a second."""
        return 1.0 / self.seconds


def timed(work: Callable[[], object], count: int, repeats: int = REPEATS) -> Speed:
    """Time `work`, which does `count` of something, after one warm-up."""
    work()
    times = []
    for _ in range(repeats):
        began = time.process_time()
        work()
        times.append(time.process_time() - began)
    return Speed(float(np.median(times)) / count)


def model_report() -> Table:
    """Measure all architectures; every figure names what it counts."""
    table = Table(title="Model, one core (processor time, median of 5)")
    for head in (
        "architecture",
        "runs/s",
        "evaluations/s",
        "robust evaluations/s",
        "steps a run",
        "ns a step",
    ):
        table.add_column(head, justify="left" if head == "architecture" else "right")
    table.add_column("stiff solver, s a run", justify="right")
    table.add_column("ratio", justify="right")
    robust = NOMINAL.model_copy(update={"tolerances": Tolerances()})
    for name in ARCHITECTURES:
        table.add_row(*_measured(name, robust))
    return table


def _measured(name: str, robust: Brief) -> tuple[str, ...]:
    """Return the row of an architecture."""
    designs = random_designs(DESIGNS, 41, architecture=name)
    pool = pool_of(*designs)
    requests = untrimmed_requests(pool, 93.0)
    steps = float(np.mean(pool.run(requests).out[:, at.O_STEPS]))
    run = timed(lambda: pool.run(requests), DESIGNS)
    plain = timed(lambda: evaluate_many(designs, NOMINAL), DESIGNS)
    full = timed(lambda: evaluate_many(designs, robust), DESIGNS, 3)
    one = pool_of(designs[0])
    stiff = timed(lambda: Reference(one, requests[0]).free(), 1, 3)
    return (
        name,
        f"{run.a_second:.0f}",
        f"{plain.a_second:.0f}",
        f"{full.a_second:.1f} ({robust.tolerances.samples} machines)",
        f"{steps:.0f}",
        f"{1e9 * run.seconds / steps:.0f}",
        f"{stiff.seconds:.2f}",
        f"{stiff.seconds / run.seconds:.0f}",
    )
