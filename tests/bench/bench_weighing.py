"""What the sampler is told of objectives: by ratio against by difference, on our own model with all families.

    python -m tests.bench.bench_weighing          # eight seeds, five minutes
    make bench                                    # two seeds

Both searches are judged by the hypervolume of objectives as they are and of their logarithms, as shares of what all
runs together found, and by the steadiest design of each family.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

import moocore
import numpy as np
from rich.console import Console
from rich.table import Table

from boilerfront.jobs.plan import Generations
from boilerfront.jobs.weighing import weighed
from boilerfront.search.engine import Engine, Options
from tests.bench.search_problems import Floats
from tests.bench.thermal_problem import thermal

DESIGNS = 2_400
REFERENCE = 1.1
FAR = 0.99
"""Beyond this part of the common front a long tail no longer stretches the scale."""
WAYS: Mapping[str, Callable[[Sequence[float]], Sequence[float]]] = {
    "by difference": lambda values: values,
    "by ratio": weighed,
}


class Found(NamedTuple):
    """What one search found that keeps every constraint: objectives [designs, 4], and each design's family."""

    objectives: Floats
    families: np.ndarray[tuple[int], np.dtype[np.str_]]


def searched(way: Callable[[Sequence[float]], Sequence[float]], *, seed: int) -> Found:
    """Search the compact starter's families with nominal machines."""
    problem, generations = thermal(), Generations()
    engine = Engine(problem.space.coding, Options(seed=seed))
    objectives, kept, families = [], [], []
    while engine.asked < DESIGNS:
        serials = engine.asked + np.arange(generations.size_after(engine.asked))
        genomes = engine.ask(len(serials))
        params = problem.space.decode(genomes)
        values, constraints = problem.evaluate(problem.designs(params))
        engine.tell(genomes, np.array([way(row) for row in values.tolist()]), constraints, serials=serials)
        objectives.append(values)
        kept.append((constraints <= 0.0).all(axis=1) & np.isfinite(values).all(axis=1))
        families += [str(row["architecture"]) for row in params]
    held = np.concatenate(kept)
    return Found(np.vstack(objectives)[held], np.array(families)[held])


def weighing_report(*, seeds: int = 2) -> Table:
    """Return mean (least) shares of the hypervolume and each family's steadiest design (median over the seeds)."""
    runs = {name: [searched(way, seed=seed) for seed in range(1, seeds + 1)] for name, way in WAYS.items()}
    everything = np.vstack([run.objectives for ran in runs.values() for run in ran])
    front = everything[moocore.is_nondominated(everything)]
    families = sorted({str(family) for ran in runs.values() for run in ran for family in run.families})
    table = Table(title=f"What the sampler is told of objectives, {DESIGNS:,} designs, {seeds} seeds")
    for column in ("", "hypervolume", "of logarithms", *(f"steadiest {name}" for name in families)):
        table.add_column(column, justify="right" if column else "left")
    for name, ran in runs.items():
        shares = [[_share(run.objectives, front, log=log) for run in ran] for log in (False, True)]
        steadiest = [_median([_steadiest(run, family) for run in ran]) for family in families]
        table.add_row(name, *(f"{np.mean(each):.4f} ({min(each):.4f})" for each in shares), *steadiest)
    return table


def _share(objectives: Floats, front: Floats, *, log: bool) -> float:
    low, high = front.min(axis=0), np.quantile(front, FAR, axis=0)

    def scaled(points: Floats) -> Floats:
        if log:
            return np.asarray(np.log(points / low) / np.log(high / low))
        return np.asarray((points - low) / (high - low))

    reference = np.full(front.shape[1], REFERENCE)
    found, best = (moocore.hypervolume(scaled(points), ref=reference) for points in (objectives, front))
    return float(found / best)


def _steadiest(run: Found, family: str) -> float:
    own = run.objectives[run.families == family, 0]
    return float(own.min()) if len(own) else np.inf


def _median(deviations_K: Sequence[float]) -> str:
    return f"{np.median(deviations_K):.3f} K"


if __name__ == "__main__":
    Console(width=160).print(weighing_report(seeds=8))
