"""Our search against optuna's and pymoo's samplers: same problems, same seeds, same budget, in one run."""

from __future__ import annotations

import sys
import time
import warnings
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import optuna
from pymoo.algorithms.moo.age import AGEMOEA
from pymoo.algorithms.moo.nsga2 import NSGA2
from pymoo.algorithms.moo.nsga3 import NSGA3
from pymoo.core.problem import Problem as PymooProblem
from pymoo.optimize import minimize
from pymoo.util.ref_dirs import get_reference_directions
from rich.console import Console
from rich.table import Table

from boilerfront.search import FrontSampler
from boilerfront.search.distributions import optuna_distributions
from tests.bench.search_problems import Floats, Problem, problems

GENERATION = 48
QUICK = (("zdt1", "dtlz2", "c2dtlz2", "osy"), (500, 2000), 2)
FULL = (("zdt1", "zdt4", "dtlz1", "dtlz2", "c2dtlz2", "bnh", "osy"), (500, 2000, 10_000), 5)
_NO_OBJECTIVE = 1e9
_SLOW_BUDGET = 1000  # TPE grows with the square of the trials


@dataclass(frozen=True)
class Told:
    """All rows of one search in the order of evaluation, and its own milliseconds a trial."""

    objectives: Floats
    constraints: Floats
    own_ms: float


Search = Callable[[Problem, int, int], Told]


def in_study(problem: Problem, *, budget: int, sampler: optuna.samplers.BaseSampler) -> Told:
    """Return what `sampler` found in a study asked and told in generations."""
    distributions = optuna_distributions(problem.space)
    study = optuna.create_study(directions=["minimize"] * len(problem.ideal), sampler=sampler)
    found: list[tuple[Floats, Floats]] = []
    evaluating, started = 0.0, time.perf_counter()
    while len(found) * GENERATION < budget:
        trials = [study.ask(distributions) for _ in range(GENERATION)]
        before = time.perf_counter()
        designs = problem.designs([trial.params for trial in trials])
        found.append(problem.evaluate(designs))
        evaluating += time.perf_counter() - before
        for trial, values, limits in zip(trials, *found[-1], strict=True):
            for k, limit in enumerate(limits):
                trial.set_constraint(f"g{k}", limit)
            study.tell(trial, values.tolist())
    own_ms = (time.perf_counter() - started - evaluating) / (len(found) * GENERATION) * 1e3
    return Told(np.vstack([f for f, _ in found])[:budget], np.vstack([g for _, g in found])[:budget], own_ms)


class _Counted(PymooProblem):  # type: ignore[misc]
    """A problem that keeps every row that pymoo's algorithms evaluate."""

    def __init__(self, problem: Problem) -> None:
        low, high = problem.bounds
        self._problem = problem
        self.found: list[tuple[Floats, Floats]] = []
        count = problem.evaluate(low[None])[1].shape[1]
        super().__init__(n_var=len(low), n_obj=len(problem.ideal), n_ieq_constr=count, xl=low, xu=high)

    def _evaluate(self, x: Floats, out: dict[str, Floats], *args: object, **kwargs: object) -> None:
        objectives, out["G"] = self._problem.evaluate(x)
        out["F"] = np.nan_to_num(objectives, posinf=_NO_OBJECTIVE)  # pymoo's distances take nothing infinite
        self.found.append((out["F"], out["G"]))


def in_pymoo(problem: Problem, *, budget: int, seed: int, name: str) -> Told:
    """Return what an algorithm of pymoo found, with its own defaults."""
    if name == "NSGA-III":
        directions = get_reference_directions(
            "das-dennis", len(problem.ideal), n_partitions=_partitions(problem)
        )
        algorithm = NSGA3(ref_dirs=directions)
    else:
        algorithm = {"NSGA-II": NSGA2, "AGE-MOEA": AGEMOEA}[name](pop_size=100)
    counted = _Counted(problem)
    started = time.perf_counter()
    minimize(counted, algorithm, ("n_eval", budget), seed=seed, verbose=False)
    own_ms = (time.perf_counter() - started) / budget * 1e3
    return Told(
        np.vstack([f for f, _ in counted.found])[:budget],
        np.vstack([g for _, g in counted.found])[:budget],
        own_ms,
    )


def _partitions(problem: Problem) -> int:
    """Return what gives about a hundred directions."""
    return {2: 99, 3: 12}.get(len(problem.ideal), 7)


def searches(*, budget: int) -> dict[str, Search]:
    """Return the searches to compare at `budget`, ours first."""
    listed: dict[str, Search] = {
        "FrontSampler": lambda p, b, s: in_study(p, budget=b, sampler=FrontSampler(seed=s)),
        "FrontSampler, no surrogate": lambda p, b, s: in_study(
            p, budget=b, sampler=FrontSampler(seed=s, surrogate=False)
        ),
        "optuna NSGA-II": lambda p, b, s: in_study(
            p, budget=b, sampler=optuna.samplers.NSGAIISampler(seed=s)
        ),
        "optuna NSGA-III": lambda p, b, s: in_study(
            p, budget=b, sampler=optuna.samplers.NSGAIIISampler(seed=s)
        ),
        "optuna TPE": lambda p, b, s: in_study(p, budget=b, sampler=optuna.samplers.TPESampler(seed=s)),
    }
    if budget > _SLOW_BUDGET:
        del listed["optuna TPE"]
    for name in ("NSGA-II", "NSGA-III", "AGE-MOEA"):
        listed[f"pymoo {name}"] = _of_pymoo(name)
    return listed


def _of_pymoo(name: str) -> Search:
    return lambda p, b, s: in_pymoo(p, budget=b, seed=s, name=name)


def search_report(quick: bool) -> Table:
    """Return shares of the true front's hypervolume: mean and worst seed of each search, problem and budget.

    `quick` takes about a minute: four problems and two seeds to 2,000 evaluations, without the slow peers.
    """
    names, budgets, seeds = QUICK if quick else FULL
    table = Table(title="Search: share of the true front's hypervolume (worst seed)")
    table.add_column("problem")
    table.add_column("search")
    for budget in budgets:
        table.add_column(f"{budget:,}", justify="right")
    table.add_column("own ms a trial", justify="right")
    for name in names:
        for label, search in _compared(quick, budgets).items():
            table.add_row(name, label, *_row(problems()[name], search, budgets=budgets, seeds=seeds))
        table.add_section()
    return table


def _compared(quick: bool, budgets: tuple[int, ...]) -> dict[str, Search]:
    listed = searches(budget=max(budgets))
    if quick:
        # Its reading of the whole study would take most of the minute; the full form has it.
        del listed["optuna NSGA-III"]
    return listed


def _row(problem: Problem, search: Search, *, budgets: tuple[int, ...], seeds: int) -> list[str]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", optuna.exceptions.ExperimentalWarning)
        told = [search(problem, max(budgets), seed) for seed in range(seeds)]
    shares = np.array([[problem.share(t.objectives[:b], t.constraints[:b]) for b in budgets] for t in told])
    cells = [
        f"{mean:.3f} ({least:.3f})"
        for mean, least in zip(shares.mean(axis=0), shares.min(axis=0), strict=True)
    ]
    return [*cells, f"{np.mean([t.own_ms for t in told]):.2f}"]


if __name__ == "__main__":
    optuna.logging.set_verbosity(optuna.logging.ERROR)
    Console(width=120).print(search_report(quick="--full" not in sys.argv))
