"""How well coefficients predict a log that they were not fitted to."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from boilerfront.model.fit.inputs import Case
from boilerfront.model.fit.problem import Problem
from boilerfront.model.fit.solve import FINE, ROBUST_FROM, minimum
from boilerfront.model.runs import Pool
from boilerfront.shared.shapes import Floats


@dataclass(frozen=True)
class Predicted:
    """One channel of a log: rms error of the prediction by the design's own coefficients and by the fitted ones [K].

    Errors of the instruments, as far as their spread allows, are taken out of both.
    """

    case: int
    channel: str
    before_rms_K: float
    after_rms_K: float
    noise_K: float


def predicted(pool: Pool, case: Case, number: int, values: Mapping[str, float]) -> list[Predicted]:
    """Return how the design's own and the fitted coefficients predict a case, channel by channel."""
    before, after = (_errors_K(pool, case, machine) for machine in ({}, values))
    return [
        Predicted(number, seen.channel, before[c], after[c], seen.noise_K)
        for c, seen in enumerate(case.observed)
    ]


def _errors_K(pool: Pool, case: Case, values: Mapping[str, float]) -> list[float]:
    """Return the rms of what given coefficients leave of each channel; only instruments are fitted."""
    problem = Problem(pool, [case], (), fixed=values)
    x, _ = minimum(problem, np.zeros(problem.size), robust_from=ROBUST_FROM, tolerance=FINE)
    rows = problem.rows
    left: Floats = problem.residuals(x)[: rows.place.size] * rows.noise_K
    return [float(np.sqrt(np.mean(left[rows.place == c] ** 2))) for c in range(len(case.observed))]


def held_back(
    pool: Pool,
    cases: Sequence[Case],
    refit: Callable[[Sequence[Case]], Mapping[str, float]],
) -> list[Predicted]:
    """Hold back every log once: `refit` gives the coefficients that the others ask for. None is left of one log."""
    if len(cases) < 2:
        return []
    found = []
    for k, case in enumerate(cases):
        found += predicted(pool, case, k, refit([other for other in cases if other is not case]))
    return found
