"""What the search remembers: a bounded pool of told rows, the front in it, and the scale of the objectives.

Kept for ever are the first rows (they know the whole cube); then the front, thinned evenly when it is too
large, the rows that lie least deep below it, and the latest. Everything else is derived from the pool, so
that the pool alone is the state.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import moocore
import numpy as np
from numpy.typing import NDArray

from boilerfront.search.coding import Flags, Floats
from boilerfront.search.kernels import improvement, spread_out

Indices = NDArray[np.int64]

FIRST, FRONT, NEAR, LATEST = 100, 600, 500, 500
_FAILED = 1e6  # violation of a row without finite objectives: behind every other
_FEW = 20  # rows that stand in for the front while nothing is feasible


@dataclass(frozen=True)
class Rows:
    """Told rows: genomes (n, d), objectives (n, m) to be minimised, constraints (n, c), serial (n,).

    A constraint holds when it is <= 0; NaN says that the row has no such constraint. Serials count the
    told rows.
    """

    genomes: Floats
    objectives: Floats
    constraints: Floats
    serial: Indices

    def __len__(self) -> int:
        """Return the number of rows."""
        return len(self.serial)

    def take(self, index: Indices | Flags) -> Rows:
        """Return some of the rows."""
        return Rows(*(getattr(self, item.name)[index] for item in fields(self)))

    def joined(self, other: Rows) -> Rows:
        """Return these rows and `other`'s; a constraint that one of them does not know is NaN there."""
        if not len(self):
            return other
        count = max(self.constraints.shape[1], other.constraints.shape[1])
        return Rows(
            np.vstack([self.genomes, other.genomes]),
            np.vstack([self.objectives, other.objectives]),
            np.vstack([_widened(self.constraints, count), _widened(other.constraints, count)]),
            np.concatenate([self.serial, other.serial]),
        )


class Archive:
    """The pool with its front, scale and order; a new one is made at each tell."""

    def __init__(self, rows: Rows) -> None:
        self.rows = rows
        self.finite: Flags = np.asarray(np.isfinite(rows.objectives).all(axis=1))
        self._limits = _violation_scale(rows)
        self.violation = self.violation_of(rows)
        self.feasible = self.violation <= 0.0
        eligible = self._eligible()
        front = moocore.is_nondominated(rows.objectives[eligible]) if len(eligible) else np.zeros(0, np.bool_)
        self.front: Indices = eligible[front]
        self.low, self.span = self._scale()
        self.scaled = self.scale(rows.objectives)
        if len(self.front) > FRONT:
            self.front = self.front[spread(self.scaled[self.front], FRONT)]
        self.depth = improvement(self.scaled, self.front_points)
        """Additive epsilon of each row against the front: 0 for its members, less below it."""

    @property
    def front_points(self) -> Floats:
        """Return the scaled objectives of the front."""
        return np.asarray(self.scaled[self.front])

    def scale(self, objectives: Floats) -> Floats:
        """Return `objectives` with the front's range at 0 to 1; not finite becomes very large."""
        return np.nan_to_num((objectives - self.low) / self.span, nan=1e12, posinf=1e12, neginf=1e12)

    def violation_of(self, rows: Rows) -> Floats:
        """Return how far each row is from feasible, 0 if it is; a failed one is behind every other."""
        finite = np.isfinite(rows.objectives).all(axis=1)
        scaled = np.clip(rows.constraints, 0.0, None) / _widened(
            self._limits[None], rows.constraints.shape[1], 1.0
        )
        return np.asarray(np.nansum(scaled, axis=1) + np.where(finite, 0.0, _FAILED))

    def improvement_of(self, rows: Rows) -> Floats:
        """Return the additive epsilon of `rows` against the front: positive for what improves it."""
        return np.asarray(improvement(self.scale(rows.objectives), self.front_points))

    def order(self) -> Indices:
        """Return all rows, best first: feasible by depth below the front, then the rest by violation."""
        return np.lexsort((-self.depth, self.violation))

    def with_told(self, rows: Rows) -> Archive:
        """Return the archive after `rows` were told, bounded again."""
        told = Archive(self.rows.joined(rows))
        if len(told.rows) <= FIRST + FRONT + NEAR + LATEST:
            return told
        serial = told.rows.serial
        keep = (serial < FIRST) | (serial >= serial.max() + 1 - LATEST)
        keep[told.front] = True
        rest = told.order()
        keep[rest[~keep[rest]][:NEAR]] = True
        return Archive(told.rows.take(keep))

    def _eligible(self) -> Indices:
        if self.feasible.any():
            return np.flatnonzero(self.feasible)
        finite = np.flatnonzero(self.finite)
        return finite[np.argsort(self.violation[finite], kind="stable")[:_FEW]]

    def _scale(self) -> tuple[Floats, Floats]:
        """Return the lower end and the width of the front's range in each objective."""
        count = self.rows.objectives.shape[1]
        if not len(self.front):
            return np.zeros(count), np.ones(count)
        points = self.rows.objectives[self.front]
        low, high = points.min(axis=0), points.max(axis=0)
        if len(self.front) < 10:
            # A lonely feasible point would give a range of nothing: borrow one from the rows nearby.
            finite = np.flatnonzero(self.finite)
            near = finite[np.argsort(self.violation[finite], kind="stable")[:50]]
            lower, upper = np.quantile(self.rows.objectives[near], [0.1, 0.9], axis=0)
            high = np.maximum(high, low + 0.3 * (upper - lower))
        span = high - low
        return low, np.where(span > 1e-12 * (1.0 + np.abs(low)), span, 1.0)


def spread(points: Floats, count: int) -> Indices:
    """Return the indices of `count` of `points`, evenly over the front, its ends first."""
    start = np.full(len(points), 1e300)
    start[np.argmin(points, axis=0)] = np.inf
    return np.asarray(spread_out(np.ascontiguousarray(points), start, count))


def _violation_scale(rows: Rows) -> Floats:
    """Return the largest violation of each constraint among the first rows that violate it."""
    result = np.ones(rows.constraints.shape[1])
    for j in range(len(result)):
        violated = np.flatnonzero(rows.constraints[:, j] > 0.0)
        first = violated[np.argsort(rows.serial[violated], kind="stable")[:FIRST]]
        if len(first):
            result[j] = rows.constraints[first, j].max()
    return np.where(np.isfinite(result), result, 1.0)


def _widened(constraints: Floats, count: int, fill: float = np.nan) -> Floats:
    return np.pad(constraints, ((0, 0), (0, count - constraints.shape[1])), constant_values=fill)
