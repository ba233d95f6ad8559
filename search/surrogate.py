"""A model of objectives and constraints that costs milliseconds: cubic radial basis functions.

Interpolation by r**3 with a linear tail over all targets at once, one dense solve (M. J. D. Powell, 'The
theory of radial basis function approximation in 1990', Advances in Numerical Analysis II). To r**3 comes the sum
of the cubed gaps along each coordinate: splines of single variables (G. Wahba, 'Spline Models for Observational
Data', SIAM (1990), chapter 10), as much of what a design does is the sum of what its variables do, and that much is
told by far fewer points than fill a cube. Targets are first brought to a shape in which an interpolant of a few
hundred points can be trusted near the front.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

from boilerfront.search.archive import FIRST, Archive, Indices
from boilerfront.search.coding import Coding, Flags, Floats
from boilerfront.search.kernels import own_cubes, own_slopes

POINTS = 400
_RIDGE = 1e-8
EXCESS = 10.0
"""What a unit of predicted excess over the constraints weighs against one of the objectives' ranges."""
MAIN_EFFECTS = 1.0
"""Weight of the coordinates' own cubes, over the root of their number. Both parts are then alike: two random points
of a cube of d coordinates are some (d / 6)**1.5 apart by r**3, d / 10 by the sum."""


class Interpolant:
    """Cubic radial basis functions through (n, d) points with (n, k) targets; raises LinAlgError."""

    def __init__(self, points: Floats, targets: Floats) -> None:
        self._points = points
        self._middle = targets.mean(axis=0)
        self._width = np.where((width := targets.std(axis=0)) > 0.0, width, 1.0)
        count, size = points.shape
        tail = np.hstack([np.ones((count, 1)), points])
        system = np.zeros((count + size + 1, count + size + 1))
        system[:count, :count] = self._kernel(points)
        system[count:, :count] = tail.T
        system[:count, count:] = tail
        system[np.diag_indices_from(system)] -= _RIDGE
        right = np.zeros((len(system), targets.shape[1]))
        right[:count] = (targets - self._middle) / self._width
        self._weights = np.linalg.solve(system, right)

    def basis(self, points: Floats) -> Floats:
        """Return what predictions at `points` (n, d) are sums of (n, points + 1 + d)."""
        return np.hstack([self._kernel(points), np.ones((len(points), 1)), points])

    def sums(self, basis: Floats) -> Floats:
        """Return the predictions (n, k) of a basis."""
        return np.asarray(basis @ self._weights * self._width + self._middle)

    def mixed(self, shares: Floats) -> Floats:
        """Return what a basis is to be weighted by (n, points + 1 + d) for sums of predictions by `shares` (n, k)."""
        return np.asarray(shares @ (self._weights * self._width).T)

    def slope(self, points: Floats, weights: Floats) -> Floats:
        """Return the gradients (n, d), at `points` (n, d), of their basis times `weights` (n, points + 1 + d)."""
        count = len(self._points)
        pull = 3.0 * weights[:, :count] * np.sqrt(_squares(points, self._points))
        slope = pull.sum(axis=1)[:, None] * points - pull @ self._points + weights[:, count + 1 :]
        return np.asarray(slope + self._own_weight * own_slopes(points, self._points, weights))

    @property
    def _own_weight(self) -> float:
        return MAIN_EFFECTS * math.sqrt(self._points.shape[1])

    def _kernel(self, points: Floats) -> Floats:
        # In place: arrays of a megabyte are had from the system and given back each time.
        square = _squares(points, self._points)
        square *= np.sqrt(square)
        square += self._own_weight * own_cubes(points, self._points)
        return square


@dataclass(frozen=True)
class Surrogate:
    """Predicts the scaled objectives of genomes and how far they are from feasible, as a sum of excesses."""

    coding: Coding
    objectives: Interpolant
    constraints: Interpolant | None
    shared: Indices
    """Which columns of the constraints' basis are the objectives': a row without objectives is in the former only."""

    def __call__(self, genomes: Floats) -> tuple[Floats, Floats]:
        """Return scaled objectives (n, m) and the predicted excess over the constraints (n,)."""
        features = self.coding.features(genomes)
        if self.constraints is None:
            return self.objectives.sums(self.objectives.basis(features)), np.zeros(len(genomes))
        # One basis serves both: it takes three quarters of the time.
        basis = self.constraints.basis(features)
        excess = np.clip(self.constraints.sums(basis), 0.0, None).sum(axis=1)
        own = basis if len(self.shared) == basis.shape[1] else basis[:, self.shared]
        return self.objectives.sums(own), excess

    def slope(self, genomes: Floats, shares: Floats) -> Floats:
        """Return the gradients (n, d) of the objectives weighted by `shares` (n, m) plus `EXCESS` times the excess.

        Along coordinates without an order they are 0.
        """
        features = self.coding.features(genomes)
        weights = self.objectives.mixed(shares)
        if self.constraints is None:
            return self.coding.along_axes(self.objectives.slope(features, weights))
        missed = self.constraints.sums(self.constraints.basis(features)) > 0.0
        both = self.constraints.mixed(np.where(missed, EXCESS, 0.0))
        both[:, self.shared] += weights
        return self.coding.along_axes(self.constraints.slope(features, both))


def fitted(archive: Archive, *, latest: int, coding: Coding, rng: Generator) -> Surrogate | None:
    """Return a model of the archive around its front, or None where there is too little to fit."""
    chosen = _training(archive, latest=latest, rng=rng)
    finite = chosen[archive.finite[chosen]]
    features = coding.features(archive.rows.genomes)
    if len(finite) < features.shape[1] + 2:
        return None
    limits = _excess(archive, chosen)
    try:
        objectives = Interpolant(features[finite], _flattened(archive.scaled[finite], 1.2))
        constraints = Interpolant(features[chosen], limits) if limits.shape[1] else None
    except np.linalg.LinAlgError:
        return None
    tail = len(chosen) + np.arange(features.shape[1] + 1)
    shared = np.concatenate([np.flatnonzero(archive.finite[chosen]), tail])
    return Surrogate(coding, objectives, constraints, shared)


def _training(archive: Archive, *, latest: int, rng: Generator) -> Indices:
    """Return which rows to fit: all while few, then the first, the latest, the front and those near it."""
    serial = archive.rows.serial
    if len(serial) <= POINTS:
        return _different(archive, np.arange(len(serial)))
    take: Flags = np.logical_or(serial < FIRST, serial >= serial.max() + 1 - latest)
    take[rng.permutation(archive.front)[:160]] = True
    rest = archive.order()
    rest = rest[~take[rest]]
    missing = max(POINTS - int(take.sum()), 0)
    near = round(0.7 * missing)
    take[rest[:near]] = True
    take[rng.permutation(rest[near:])[: missing - near]] = True
    return _different(archive, np.flatnonzero(take))


def _different(archive: Archive, index: Indices) -> Indices:
    """Return `index` with each genome once: twice the same would make the system singular."""
    first = np.unique(archive.rows.genomes[index], axis=0, return_index=True)[1]
    return index[np.sort(first)]


def _flattened(values: Floats, start: float) -> Floats:
    """Return `values` with what is above `start` in the logarithm: far away only the order counts."""
    return np.where(values > start, start + np.log1p(np.maximum(values - start, 0.0)), values)


def _excess(archive: Archive, chosen: Indices) -> Floats:
    """Return constraint targets in units of their usual size, large ones flattened.

    One more column tells rows without objectives from the others, where there are any. A constraint that a
    row does not have counts as held with room; in a row without objectives nothing is known of it: 0.
    """
    values = np.clip(archive.rows.constraints[chosen], -1e300, 1e300)
    failed = ~archive.finite[chosen]
    known = ~np.isnan(values)
    size = np.array(
        [
            np.median(np.abs(column[k])) if k.any() else 0.0
            for column, k in zip(values.T, known.T, strict=True)
        ]
    )
    values = values / np.where(size > 0.0, size, 1.0)
    values = np.where(known, values, np.where(failed, 0.0, -1.0)[:, None])
    values = np.sign(values) * _flattened(np.abs(values), 3.0)
    if failed.any():
        values = np.column_stack([values, np.where(failed, 1.0, -1.0)])
    return values


def _squares(one: Floats, other: Floats) -> Floats:
    """Return the squared distances between two sets of points."""
    square = np.add((one**2).sum(axis=1)[:, None], (other**2).sum(axis=1))
    square -= 2.0 * one @ other.T
    return np.asarray(np.maximum(square, 0.0, out=square))
