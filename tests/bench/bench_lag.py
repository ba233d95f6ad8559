"""What planning a generation ahead costs in hypervolume at the same number of designs.

    python -m tests.bench.bench_lag

Generations as a sweep has them (48 until 480 designs, then 96), each planned from all generations before it
(lag 0), from all but the one that still runs (lag 1), or the latter from 480 designs on (late). What it gains in
time is in `bench_workers`.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

import numpy as np
import optuna
from rich.console import Console
from rich.table import Table

from boilerfront.jobs.plan import EARLY_TRIALS, Generations
from boilerfront.search import Float, FrontSampler, Space
from boilerfront.search.distributions import optuna_distributions
from tests.bench.search_problems import Floats, Problem, problems

NAMES = ("zdt1", "dtlz2", "c2dtlz2", "osy")
BUDGETS = (480, 1056, 2016)
SEEDS = range(5)
WAYS = {"lag 0": BUDGETS[-1], "lag 1": 0, "late": EARLY_TRIALS}
"""The first design of a generation that is planned ahead."""


def shares(problem: Problem, *, seed: int, lag_from: int) -> list[float]:
    """Return the share of the true front's hypervolume at each budget, driven as a sweep is."""
    optuna.logging.set_verbosity(optuna.logging.WARNING)
    low, high = problem.bounds
    space = Space({f"x{j}": Float(a, b) for j, (a, b) in enumerate(zip(low, high, strict=True))})
    generations = Generations()
    sampler = FrontSampler(space, seed=seed, batch=generations.size_after)
    study = optuna.create_study(directions=["minimize"] * len(problem.ideal), sampler=sampler)
    distributions = optuna_distributions(space)
    waiting: list[list[optuna.Trial]] = []
    rows: list[tuple[Floats, Floats]] = []
    generation = 0
    while generations.trials(generation).stop <= BUDGETS[-1]:
        waiting.append([study.ask(distributions) for _ in generations.trials(generation)])
        generation += 1
        lags = generations.trials(generation).start >= lag_from
        while len(waiting) > lags:
            rows.append(_told(study, problem, waiting.pop(0)))
    rows += [_told(study, problem, trials) for trials in waiting]
    objectives, constraints = (np.vstack(part) for part in zip(*rows, strict=True))
    return [problem.share(objectives[:budget], constraints[:budget]) for budget in BUDGETS]


def _told(study: optuna.Study, problem: Problem, trials: Sequence[optuna.Trial]) -> tuple[Floats, Floats]:
    designs = np.array([list(trial.params.values()) for trial in trials])
    objectives, constraints = problem.evaluate(designs)
    for trial, values, bounds in zip(trials, objectives, constraints, strict=True):
        for j, bound in enumerate(bounds):
            trial.set_constraint(f"g{j}", float(bound))
        study.tell(trial, values.tolist())
    return objectives, constraints


def lag_report() -> Table:
    """Return medians over seeds side by side."""
    table = Table(
        title=f"Planning a generation ahead: share of the front's hypervolume, median of {len(SEEDS)} seeds"
    )
    for head in ("problem", *(f"{budget}: {way}" for budget in BUDGETS for way in WAYS)):
        table.add_column(head, justify="left" if head == "problem" else "right")
    for name in NAMES:
        found = {
            way: [shares(problems()[name], seed=seed, lag_from=lag_from) for seed in SEEDS]
            for way, lag_from in WAYS.items()
        }
        cells = [f"{median(each[k] for each in found[way]):.3f}" for k in range(len(BUDGETS)) for way in WAYS]
        table.add_row(name, *cells)
    return table


def main() -> None:
    Console(width=150).print(lag_report())


if __name__ == "__main__":
    main()
