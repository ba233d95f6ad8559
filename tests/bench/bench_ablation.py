"""What each idea of the search is worth: the hypervolume with it turned off, beside that of the whole search.

    python -m tests.bench.bench_ablation          # to 10,000 designs, ten seeds; hours
    make bench                                    # a short form of it

On problems on which numbers of the search may be chosen, never on those for judging. An idea that no column shows
to pay has no place in the search.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from functools import partial
from typing import Any
from unittest import mock

import numpy as np
from rich.console import Console
from rich.table import Table

from boilerfront.jobs.plan import Generations
from boilerfront.search import archive, choice, credit, engine, evolution, proposal, surrogate
from boilerfront.search.coding import Axis, Coding
from boilerfront.search.engine import Engine, Options
from tests.bench.search_problems import Floats, problems

BASE = "the whole search"


@dataclass(frozen=True)
class Case:
    """A problem, how many designs, and how many of them the first batch has: 0 for as many as a sweep's, 48."""

    problem: str
    budget: int
    first: int = 0

    def __str__(self) -> str:
        """Return the head of its column."""
        return f"{self.problem} {self.budget:,}" + (f", first {self.first}" if self.first else "")

    def batch(self, asked: int) -> int:
        """Return the size of the batch that comes after so many designs."""
        return self.first if self.first and not asked else Generations().size_after(asked)


SHORT = (
    Case("zdt1", 500),
    Case("dtlz2", 500),
    Case("c2dtlz2", 500),
    Case("osy", 500),
    Case("mw6", 2000),
    Case("dtlz2", 1000, first=480),
)
FULL = (
    *(Case(name, budget) for name in ("zdt1", "dtlz2", "c2dtlz2", "osy") for budget in (500, 2000)),
    *(Case(name, 4000) for name in ("mw6", "mw10")),
    *(Case(name, 10_000, first) for name in ("zdt4", "dtlz1") for first in (0, 480)),
    *(Case(name, 1000, first=480) for name in ("zdt1", "dtlz2", "c2dtlz2")),
)


def _without(module: Any, **changed: Any) -> Callable[[], AbstractContextManager[Any]]:
    return lambda: mock.patch.multiple(module, **changed)


def _operators(shares: tuple[float, ...]) -> Callable[[], AbstractContextManager[Any]]:
    """Of differential evolution, crossover, Gaussian steps, one coordinate: those of evolution, not of the model."""
    return _without(engine, children=partial(evolution.children, shares=shares))


def _evenly(points: Any, members: Any, *, rng: Any) -> Any:
    """Stand in for the rays: no ray is ever left, so that the batch is spread out by improvement alone."""
    rays = choice.Rays(points, members, rng=rng)
    rays._lengths[:] = 0.0
    return rays


def _unflattened(values: Any, start: float) -> Any:
    return values


IDEAS: Mapping[str, tuple[Callable[[], AbstractContextManager[Any]], Mapping[str, float]]] = {
    BASE: (nullcontext, {}),
    "no surrogate": (nullcontext, {"surrogate": 0.0}),
    "a surrogate in half of the batches": (nullcontext, {"surrogate": 0.5}),
    "a surrogate in all batches, late too": (_without(engine, SHARES=((0, 1.0),)), {}),
    "a surrogate in half of them to the end": (_without(engine, SHARES=((0, 1.0), (960, 0.5))), {}),
    "surrogate's share fixed, not earned": (_without(credit, LEAST=0.4, _MOST=0.4), {}),
    "more of it while nothing is feasible": (_without(engine, LEAST=0.6), {}),
    "its batch spread out, not by rays": (_without(proposal, Rays=_evenly), {}),
    "its targets as they are": (_without(surrogate, _flattened=_unflattened), {}),
    "its kernel by distance alone": (_without(surrogate, MAIN_EFFECTS=0.0), {}),
    "children only, no step down it": (_without(proposal, CHILDREN=400, DOWNHILL=0), {}),
    "its share of a batch at most .8, not .6": (_without(credit, _MOST=0.8), {}),
    "4 inner generations, not 12": (_without(proposal, GENERATIONS=4), {}),
    "no tournament": (_without(evolution, _tournament=lambda rng, size, n: rng.integers(size, size=n)), {}),
    "100 parents, not 50": (nullcontext, {"population": 100}),
    "no differential evolution": (_operators((0.0, 0.7, 0.1, 0.2)), {}),
    "no crossover": (_operators((0.7, 0.0, 0.1, 0.2)), {}),
    "no Gaussian steps": (_operators((0.25, 0.55, 0.0, 0.2)), {}),
    "no step along one coordinate": (_operators((0.3, 0.6, 0.1, 0.0)), {}),
    "no reward for coming near the front": (_without(credit, NEARLY=0.0), {}),
    "the front kept to 100, not 600": (_without(archive, FRONT=100), {}),
}
"""What is turned off, and options of the search that go with it."""


def share(case: Case, *, seed: int, options: Mapping[str, float]) -> float:
    """Return the share of the true front's hypervolume that the search finds."""
    return problems()[case.problem].share(*searched(case, seed=seed, options=options))


def searched(case: Case, *, seed: int, options: Mapping[str, float]) -> tuple[Floats, Floats]:
    """Return objectives and constraints of all designs that the search tries."""
    problem = problems()[case.problem]
    coding = Coding([Axis(float(low), float(high)) for low, high in zip(*problem.bounds, strict=True)])
    searching = Engine(coding, Options(seed=seed, **options))  # type: ignore[arg-type]
    found = []
    while searching.asked < case.budget:
        count = case.batch(searching.asked)
        serials = searching.asked + np.arange(count)
        genomes = searching.ask(count)
        found.append(problem.evaluate(coding.decode(genomes)))
        searching.tell(genomes, *found[-1], serials=serials)
    objectives, constraints = (np.vstack(part)[: case.budget] for part in zip(*found, strict=True))
    return objectives, constraints


def ablation_report(*, cases: tuple[Case, ...] = SHORT, seeds: int = 2) -> Table:
    """Return the mean share without each idea as a ratio to the whole search's, whose own share comes first."""
    table = Table(
        title=f"Search without one of its ideas: ratio of hypervolume to the whole search's (mean, {seeds} seeds)"
    )
    table.add_column("without")
    for case in cases:
        table.add_column(str(case), justify="right")
    whole: list[float] = []
    for idea, (turned_off, options) in IDEAS.items():
        with turned_off():
            means = [
                float(np.mean([share(case, seed=seed, options=options) for seed in range(seeds)]))
                for case in cases
            ]
        whole = whole or means
        ratios = [f"{mean / base:.3f}" if base else "" for mean, base in zip(means, whole, strict=True)]
        table.add_row(idea, *([f"{mean:.3f}" for mean in means] if idea == BASE else ratios))
    return table


def main() -> None:
    """Print the long form."""
    Console(width=220).print(ablation_report(cases=FULL, seeds=10))


if __name__ == "__main__":
    main()
