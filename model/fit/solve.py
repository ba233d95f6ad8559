"""Robust least squares from several starts, and what its answer is worth: intervals, correlations, whiteness."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import optimize, stats

from boilerfront.model.coefficients import COEFFICIENTS
from boilerfront.model.fit.inputs import Case
from boilerfront.model.fit.problem import Problem
from boilerfront.model.runs import Pool
from boilerfront.shared.shapes import Floats

STARTS = 3
SPREAD_OF_STARTS = 0.5
"""Spread of the logarithms from which the further starts begin."""
ROBUST_FROM = 3.0
"""Residuals beyond this many sigma count less and less (soft L1)."""
COARSE_FROM = 100.0
COARSE, FINE = 1e-2, 1e-6
"""Relative changes of the cost that end a coarse and a fine search."""
MOST_EVALUATIONS = 30
LEVEL = 0.95
BLOCKS_S = (30.0, 120.0, 480.0)
"""Lengths of the blocks whose sums tell how much residuals hang together [s]."""
WHITE_BLOCK_S = 30.0
WHITE_P, WHITE_K, WHITE_SIGMA = 1e-3, 0.02, 0.2
"""Residuals are called not white when chance would do it less often, and what hangs together is larger than 0.02 K
(what the kernel's own steps may leave) and than this part of the noise."""
TOLD_WITHIN = 0.35
"""A coefficient is told when its interval reaches no further than this (of a logarithm) from its value."""
AT_BOUND = 1e-3


@dataclass(frozen=True)
class Whiteness:
    """What hangs together in a channel's residuals: its rms [K], the noise [K], how often chance would do it."""

    case: int
    channel: str
    rms_K: float
    structured_K: float
    noise_K: float
    p: float

    @property
    def white(self) -> bool:
        """Return whether the residuals look like noise."""
        least = max(WHITE_K, WHITE_SIGMA * self.noise_K)
        return self.p > WHITE_P or self.structured_K < least


@dataclass(frozen=True)
class Found:
    """One coefficient: its value, the design's own, its interval at `LEVEL`, and what is to be said of it."""

    name: str
    value: float
    nominal: float
    low: float
    high: float
    told: bool
    at_bound: bool

    @property
    def sensible(self) -> bool:
        """Return whether the value lies in the physically sensible range."""
        low, high = COEFFICIENTS[self.name].sensible
        return low <= self.value <= high


class Fit:
    """The answer of a problem: the unknowns `x`, and everything that follows from residuals and slopes there."""

    def __init__(self, problem: Problem, x: Floats, costs: Sequence[float]) -> None:
        self.problem, self.x = problem, x
        self.costs = tuple(costs)
        """Of every start; far apart means several minima."""
        self.count = len(problem.names)
        self.residuals, self.slopes = problem.residuals(x), problem.slopes(x)
        self.readings = self.residuals.size - problem.size

    @cached_property
    def weights(self) -> Floats:
        """Return how much each residual counts: the slope of the robust loss."""
        return np.asarray(1.0 / np.sqrt(1.0 + (self.residuals / ROBUST_FROM) ** 2))

    @cached_property
    def covariance(self) -> Floats:
        """Return the covariance of the logarithms [coefficients, coefficients], the wider of two.

        The usual one, from the curvature; and the one that lets residuals hang together (the sandwich of Huber and
        of Newey and West, with sums over blocks of time in all channels), over the longest of several blocks that
        makes it wide. Correlations are those of the first, its spreads the wider.
        """
        J, w = self.slopes, self.weights
        curvature = J.T @ (w[:, None] * J)
        inverse = np.linalg.pinv(curvature, hermitian=True)
        scale = max(1.0, float(np.mean(w[: self.readings] * self.residuals[: self.readings] ** 2)))
        usual = inverse * scale
        spreads = np.sqrt(np.diag(usual))
        wider = spreads.copy()
        for block_s in BLOCKS_S:
            between = inverse @ self._between(block_s) @ inverse
            wider = np.maximum(wider, np.sqrt(np.maximum(np.diag(between), 0.0)))
        grown = (wider / spreads)[: self.count]
        return np.asarray(usual[: self.count, : self.count] * np.outer(grown, grown))

    def _between(self, block_s: float) -> Floats:
        """Return the covariance of the slope of the sum of squares, by the sums over blocks of time."""
        rows, count = self.problem.rows, self.readings
        pulls = (self.weights[:count] * self.residuals[:count])[:, None] * self.slopes[:count]
        label = rows.case * 100_000 + (rows.time_s // block_s).astype(int)
        _, block = np.unique(label, return_inverse=True)
        sums = np.zeros((int(block.max()) + 1, self.problem.size))
        np.add.at(sums, block, pulls)
        known = self.slopes[count:]
        fewer = max(len(sums) - self.count, 0.5 * len(sums))
        return np.asarray(sums.T @ sums * len(sums) / fewer + known.T @ known)

    @property
    def correlations(self) -> Floats:
        """Return the correlations of the coefficients."""
        spreads = np.sqrt(np.diag(self.covariance))
        return np.asarray(self.covariance / np.outer(spreads, spreads))

    @cached_property
    def singular(self) -> tuple[Floats, Floats]:
        """Return singular values, falling, and their directions among the coefficients [k, coefficients].

        Of the curvature that is left when the nuisances are free: a small one is a direction that no log tells.
        """
        J, w = self.slopes[: self.readings], self.weights[: self.readings]
        known = self.slopes[self.readings + self.count :]
        everything = np.vstack([np.sqrt(w)[:, None] * J, known])
        own, others = everything[:, : self.count], everything[:, self.count :]
        left = own - others @ np.linalg.lstsq(others, own, rcond=None)[0] if others.shape[1] else own
        _, values, directions = np.linalg.svd(left, full_matrices=False)
        return values, directions

    @cached_property
    def half_widths(self) -> Floats:
        """Return how far the intervals of the logarithms reach from their values."""
        blocks = len(np.unique(self.problem.rows.time_s // BLOCKS_S[1])) * len(self.problem.cases)
        t = stats.t.ppf(0.5 + 0.5 * LEVEL, max(blocks - self.count, 3))
        return np.asarray(t * np.sqrt(np.diag(self.covariance)))

    @cached_property
    def found(self) -> list[Found]:
        """Return every coefficient with its interval."""
        p, widths = self.problem, self.half_widths
        found = []
        for k, name in enumerate(p.names):
            value = float(p.nominal[k] * np.exp(self.x[k]))
            at_bound = bool(self.x[k] - p.lower[k] < AT_BOUND or p.upper[k] - self.x[k] < AT_BOUND)
            told = bool(widths[k] < TOLD_WITHIN) and not at_bound
            width = float(np.exp(min(float(widths[k]), 5.0)))
            low, high = value / width, value * width
            found.append(Found(name, value, float(p.nominal[k]), low, high, told, at_bound))
        return found

    @cached_property
    def whiteness(self) -> list[Whiteness]:
        """Return by channel whether its residuals are white: the variance of means over blocks against the noise."""
        rows = self.problem.rows
        found = []
        for place, (case, seen) in enumerate(self.problem.observed()):
            own = rows.place == place
            found.append(
                _whiteness(
                    case, seen.channel, self.residuals[: self.readings][own], rows.time_s[own], seen.noise_K
                )
            )
        return found

    @property
    def white(self) -> bool:
        """Return whether all channels' residuals look like noise."""
        return all(each.white for each in self.whiteness)


def _whiteness(case: int, channel: str, residuals: Floats, time_s: Floats, noise_K: float) -> Whiteness:
    residuals = np.clip(residuals, -3.0 * ROBUST_FROM, 3.0 * ROBUST_FROM) if residuals.size else residuals
    _, block = np.unique(time_s // WHITE_BLOCK_S, return_inverse=True)
    counts = np.bincount(block)
    means = np.bincount(block, residuals) / counts
    sizes = counts[counts >= 3]
    means = means[counts >= 3]
    rms_K = noise_K * float(np.sqrt(np.mean(residuals**2)))
    if means.size < 4:
        return Whiteness(case, channel, rms_K, 0.0, noise_K, 1.0)
    ratio = float(np.sum(sizes * means**2))
    structured = float(np.sqrt(max(float(np.mean(means**2) - np.mean(1.0 / sizes)), 0.0)))
    p = float(stats.chi2.sf(ratio, means.size))
    return Whiteness(case, channel, rms_K, noise_K * structured, noise_K, p)


def fit(
    pool: Pool,
    cases: Sequence[Case],
    names: Sequence[str],
    *,
    starts: int = STARTS,
    seed: int = 1,
    tell: Callable[[str], None] = lambda text: None,
) -> Fit:
    """Return the best fit of coefficients `names` over several starts, the first of which is the design's own.

    Each start is followed coarsely, as if residuals were outliers only far out; the best of them then to the end.
    """
    problem = Problem(pool, cases, names)
    rng = np.random.default_rng(seed)
    answers = []
    for k in range(starts):
        x0 = np.zeros(problem.size)
        if k > 0:
            x0[: len(names)] = SPREAD_OF_STARTS * rng.standard_normal(len(names))
        tell(f"fit: start {k + 1} of {starts}")
        answers.append(minimum(problem, x0, robust_from=COARSE_FROM, tolerance=COARSE))
    best = min(answers, key=lambda answer: answer[1])
    x, _ = minimum(problem, best[0], robust_from=ROBUST_FROM, tolerance=FINE)
    return Fit(problem, x, [cost for _, cost in answers])


def minimum(problem: Problem, x0: Floats, *, robust_from: float, tolerance: float) -> tuple[Floats, float]:
    """Return where the sum of squares is least, from x0 downhill, and what it is there."""
    lower, upper = problem.lower, problem.upper
    answer = optimize.least_squares(
        problem.residuals,
        np.clip(x0, lower + 1e-6, upper - 1e-6),
        problem.slopes,
        bounds=(lower, upper),
        method="dogbox",  # the reflective method crawls here: its scaling by the bounds hides the narrow valley
        loss="soft_l1",
        f_scale=robust_from,
        max_nfev=MOST_EVALUATIONS,
        xtol=1e-8,
        ftol=tolerance,
    )
    return np.asarray(answer.x), float(answer.cost)
