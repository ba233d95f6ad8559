"""Hypervolume, non-dominated sets and the additive epsilon of the search."""

from __future__ import annotations

from collections.abc import Iterator
from math import gamma, pi

import moocore
import numpy as np
from pymoo.util.nds.non_dominated_sorting import NonDominatedSorting

from boilerfront.results.front import hypervolume
from boilerfront.search.archive import Archive, Rows
from boilerfront.search.kernels import improvement
from boilerfront.shared.shapes import Floats
from tests.validate.checks import Allowed, Group, Kind, Value

HAND = Allowed(absolute=1e-12, why="exact")
POINTS = 20_001


def front_groups() -> Iterator[Group]:
    """Make the groups of this file."""
    yield volumes()
    yield sets()


def volume(points: Floats, reference: list[float]) -> float:
    """Return the measure of what is dominated inside the box from 0: our share times the box."""
    return hypervolume(points, reference) * float(np.prod(reference))


def staircase(points: Floats) -> Allowed:
    """Return what points on a curve may miss: it stays inside the rectangles between neighbours."""
    rectangles = float(np.sum(np.abs(np.diff(points[:, 0]) * np.diff(points[:, 1]))))
    return Allowed(absolute=rectangles + 1e-9, why="steps between points of the curve")


def volumes() -> Group:
    """Hypervolume of hand cases and of fronts with closed forms."""
    group = Group("hypervolume")
    pair = np.array([(1.0, 2.0), (2.0, 1.0)])
    more = np.array([(1.0, 2.0), (2.0, 1.0), (2.0, 2.0), (5.0, 0.5)])
    three = np.array([(1.0, 2.0, 3.0), (2.0, 3.0, 1.0), (3.0, 1.0, 2.0)])
    steps = np.linspace(0.0, 1.0, 11)
    linear = np.column_stack([steps, 1.0 - steps])
    cases = [
        Value("two points", 3.0, volume(pair, [3.0, 3.0]), "", "O01"),
        Value("three points, three objectives", 13.0, volume(three, [4.0, 4.0, 4.0]), "", "O02"),
        Value("dominated and far points add nothing", 3.0, volume(more, [3.0, 3.0]), "", "O03"),
        Value("eleven points of a line", 0.45, volume(linear, [1.0, 1.0]), "", "O04"),
    ]
    group.add(cases, source="by hand", allowed=HAND, kind=Kind.CLOSED)
    f = np.linspace(0.0, 1.0, POINTS)
    quarter = 0.5 * pi * f
    zdt1, zdt2 = np.column_stack([f, 1.0 - np.sqrt(f)]), np.column_stack([f, 1.0 - f**2])
    circle, line = np.column_stack([np.cos(quarter), np.sin(quarter)]), 0.5 * np.column_stack([f, 1.0 - f])
    for row, name, points, reference, exact in (
        ("O05", "ZDT1", zdt1, 1.0, 2.0 / 3.0),
        ("O06", "ZDT1", zdt1, 1.1, 0.876666667),
        ("O07", "ZDT1", zdt1, 11.0, 120.666666667),
        ("O08", "ZDT2", zdt2, 1.0, 1.0 / 3.0),
        ("O09", "ZDT2", zdt2, 1.1, 0.543333333),
        ("O14", "DTLZ2, 2 objectives", circle, 1.1, 0.424601837),
        ("O20", "DTLZ1, 2 objectives", line, 0.55, 0.1775),
    ):
        value = Value(f"{name}, box {reference:g}", exact, volume(points, [reference, reference]), "", row)
        group.add([value], source="integral", allowed=staircase(points), kind=Kind.CLOSED)
    _bent(group)
    return group


def _bent(group: Group) -> None:
    """A front in three objectives and one of two arcs with different scales."""
    n = 60
    grid = np.array([(i, j, n - i - j) for i in range(n + 1) for j in range(n + 1 - i)], dtype=np.float64)
    sphere = grid / np.linalg.norm(grid, axis=1)[:, None]
    exact = 1.1**3 - pi**1.5 / (2.0**3 * gamma(2.5))
    sparse = Allowed(absolute=1.0 / n, why=f"lattice of {n} divisions for a surface")
    value = Value("DTLZ2, 3 objectives, box 1.1", exact, volume(sphere, [1.1, 1.1, 1.1]), "", "O15")
    group.add([value], source="volume of the octant", allowed=sparse, kind=Kind.CLOSED)
    x = np.concatenate([np.linspace(0.0, 3.0, POINTS), np.linspace(3.0, 5.0, POINTS)[1:]])
    y = np.minimum(x, 3.0)
    points = np.column_stack([4.0 * x**2 + 4.0 * y**2, (x - 5.0) ** 2 + (y - 5.0) ** 2])
    for row, box, area in (("O22", 140.0, 5285.333333), ("O23", 136.0, 5101.333333)):
        value = Value(f"BNH, box {box:g} x 50", area, volume(points, [box, 50.0]), "", row)
        group.add([value], source="integral", allowed=staircase(points), kind=Kind.CLOSED)


def sets() -> Group:
    """Which points are on the front, and by how much one set would have to gain to cover another."""
    group = Group("non-dominated sets")
    ours = np.array([(0.0, 1.1), (0.5, 0.6), (1.0, 0.1)])
    reference = np.array([(0.0, 1.0), (0.5, 0.5), (1.0, 0.0)])
    gap = Value("additive epsilon", 0.1, float(np.max(improvement(reference, ours))), "", "O32")
    group.add([gap], source="moocore, epsilon_additive", allowed=HAND)
    rng = np.random.default_rng(5)
    for rows, objectives in ((40, 2), (200, 3), (300, 4)):
        a, b = (rng.random((rows, objectives)) for _ in range(2))
        # of a set against single points: what the search takes for each new design
        there = np.array([float(moocore.epsilon_additive(a, ref=point[None])) for point in b])
        here = improvement(b, a)
        worst = int(np.argmax(np.abs(here - there)))
        what = f"additive epsilon against {rows} points, {objectives} objectives, worst"
        now = Value(what, there[worst], here[worst])
        group.add([now], source="moocore, epsilon_additive", allowed=HAND, kind=Kind.LIBRARY)
        a = np.round(a, 2)  # equal values and equal points
        member = set(NonDominatedSorting().do(a, only_non_dominated_front=True).tolist())
        found = set(front_of(a).tolist())
        there_too = _distinct(a, member) & _distinct(a, found)
        sizes = [
            Value(
                f"front of {rows} points, {objectives} objectives", len(_distinct(a, member)), len(there_too)
            ),
            Value(
                f"those that ours has besides, {objectives} objectives",
                0.0,
                len(_distinct(a, found) - there_too),
            ),
        ]
        same = Allowed(absolute=0.0, why="exact")
        group.add(sizes, source="pymoo, NonDominatedSorting", allowed=same, kind=Kind.LIBRARY)
    return group


def _distinct(points: Floats, members: set[int]) -> set[tuple[float, ...]]:
    """Return the members' values: of equal points the libraries keep one or all."""
    return {tuple(points[i].tolist()) for i in members}


def front_of(objectives: Floats) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Return the indices that our archive calls its front."""
    count = len(objectives)
    rows = Rows(np.zeros((count, 1)), objectives, np.zeros((count, 0)), np.arange(count))
    return Archive(rows).front
