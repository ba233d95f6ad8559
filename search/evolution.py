"""New designs from old ones: parents in order of rank and spread, four mixed operators, repair.

Parents come best first, so that the lower of two random indices is a tournament. Operators: differential
evolution (R. Storn, K. Price, J. Glob. Optim. 11 (1997)), simulated binary crossover with polynomial
mutation (K. Deb, R. B. Agrawal, Complex Systems 9 (1995)), Gaussian steps of mixed sizes, one coordinate.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import moocore
import numpy as np
from numpy.random import Generator

from boilerfront.search.archive import Archive, Indices, spread
from boilerfront.search.coding import Coding, Floats

SHARES = (0.2, 0.5, 0.1, 0.2)
"""Of differential evolution, crossover, Gaussian steps, one coordinate."""


@dataclass(frozen=True)
class Mates:
    """Three parents of each child, arrays (children, coordinates)."""

    first: Floats
    second: Floats
    third: Floats


def parents(archive: Archive, count: int) -> Indices:
    """Return the `count` best rows, best first: the front spread out, fronts below it, least violated."""
    if len(archive.front) > count:
        return archive.front[spread(archive.front_points, count)]
    others = np.setdiff1d(np.flatnonzero(archive.feasible), archive.front)
    rank = moocore.pareto_rank(archive.rows.objectives[others]) if len(others) else np.zeros(0, np.int64)
    others = others[np.lexsort((-archive.depth[others], rank))]
    behind = archive.order()
    behind = behind[~archive.feasible[behind] & ~np.isin(behind, archive.front)]
    return np.concatenate([archive.front, others, behind])[:count]


def children(
    genomes: Floats, *, count: int, coding: Coding, rng: Generator, shares: tuple[float, ...] = SHARES
) -> Floats:
    """Return `count` canonical children of `genomes`, whose rows stand best first."""
    mates = Mates(*(genomes[_tournament(rng, len(genomes), count)] for _ in range(3)))
    operator = rng.choice(len(shares), size=count, p=shares)
    born = np.empty((count, coding.size))
    for k, operate in enumerate(_OPERATORS):
        rows = np.flatnonzero(operator == k)
        born[rows] = operate(Mates(mates.first[rows], mates.second[rows], mates.third[rows]), rng)
    return repaired(born, mates=mates, coding=coding, rng=rng)


def repaired(born: Floats, *, mates: Mates, coding: Coding, rng: Generator) -> Floats:
    """Return children inside the cube, on their levels, with choices and masks treated as such."""
    size = born.shape
    # Clipping matters as much as reflecting: many fronts lie on the faces of the box.
    reflected = 1.0 - np.abs(1.0 - np.abs(born))
    born = np.clip(np.where(rng.random((size[0], 1)) < 0.5, reflected, born), 0.0, 1.0)
    rare = 0.5 / coding.size
    if coding.stepped.any():
        step = rng.choice([-1.0, 1.0], size=size) / np.maximum(coding.levels, 1)
        born = np.where(coding.stepped & (rng.random(size) < rare), born + step, born)
    if coding.nominal.any():
        inherited = np.where(rng.random(size) < 0.5, mates.first, mates.second)
        chosen = np.where(rng.random(size) < rare, rng.random(size), inherited)
        born = np.where(coding.nominal, chosen, born)
    return coding.canonical(_awakened(born, mates=mates, coding=coding, rng=rng))


def _awakened(born: Floats, *, mates: Mates, coding: Coding, rng: Generator) -> Floats:
    """Return children whose newly active coordinates come from a mate that has them, else from anywhere."""
    if not any(axis.needs for axis in coding.axes):
        return born
    asleep = ~coding.active(mates.first)
    second = coding.active(mates.second)
    return np.where(asleep, np.where(second, mates.second, rng.random(born.shape)), born)


def _tournament(rng: Generator, size: int, count: int) -> Indices:
    return np.asarray(rng.integers(size, size=(2, count)).min(axis=0))


def _differential(mates: Mates, rng: Generator) -> Floats:
    count, size = mates.first.shape
    weight = rng.choice([0.3, 0.5, 0.9], size=(count, 1))
    moved = mates.first + weight * (mates.second - mates.third)
    take = rng.random((count, size)) < rng.choice([0.3, 0.9], size=(count, 1))
    take[np.arange(count), rng.integers(size, size=count)] = True
    born = np.where(take, moved, mates.first)
    return np.where(rng.random((count, 1)) < 0.3, _mutated(born, rng), born)


def _crossover(mates: Mates, rng: Generator, spread_index: float = 15.0) -> Floats:
    shape = mates.first.shape
    u = rng.random(shape)
    power = 1.0 / (spread_index + 1.0)
    is_near = u < 0.5
    beta = (2.0 * np.where(is_near, u, 1.0 - u)) ** np.where(is_near, power, -power)
    beta *= np.where(rng.random(shape) < 0.5, 1.0, -1.0)
    mixed = 0.5 * ((1.0 + beta) * mates.first + (1.0 - beta) * mates.second)
    return _mutated(np.where(rng.random(shape) < 0.5, mixed, mates.first), rng)


def _gaussian(mates: Mates, rng: Generator) -> Floats:
    count, size = mates.first.shape
    sigma = 10.0 ** rng.uniform(-3.5, -0.5, size=(count, 1))
    take = rng.random((count, size)).argsort(axis=1) < rng.integers(1, size + 1, size=(count, 1))
    return np.where(take, mates.first + sigma * rng.standard_normal((count, size)), mates.first)


def _one_coordinate(mates: Mates, rng: Generator) -> Floats:
    count, size = mates.first.shape
    row, column = np.arange(count), rng.integers(size, size=count)
    old = mates.first[row, column]
    fresh = np.select(
        [(kind := rng.random(count)) < 0.4, kind < 0.6],
        [rng.random(count), mates.second[row, column]],
        old + 0.1 * rng.standard_normal(count),
    )
    born = mates.first.copy()
    born[row, column] = fresh
    return born


def _mutated(born: Floats, rng: Generator, spread_index: float = 20.0) -> Floats:
    """Return `born` after polynomial mutation of one coordinate in the mean."""
    power = 1.0 / (spread_index + 1.0)
    drawn = rng.random(born.shape)
    take = rng.random(born.shape) < 1.0 / born.shape[1]
    u, old = drawn[take], born[take]
    # Both halves by one formula: how far it is to the end of the cube that the coordinate moves towards.
    is_down = u < 0.5
    tail = np.where(is_down, u, 1.0 - u)
    far = np.where(is_down, 1.0 - np.clip(old, 0.0, 1.0), np.clip(old, 0.0, 1.0))
    step = 1.0 - (2.0 * tail + (1.0 - 2.0 * tail) * far ** (spread_index + 1.0)) ** power
    mutated = born.copy()
    mutated[take] += np.where(is_down, -step, step)
    return mutated


_OPERATORS: tuple[Callable[[Mates, Generator], Floats], ...] = (
    _differential,
    _crossover,
    _gaussian,
    _one_coordinate,
)
