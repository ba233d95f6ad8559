"""The loops over pairs of objective vectors, and of points, that are worth compiling.

Like those of `choice` they let other threads of Python run: while a driver plans, tasks still go to its workers.

The first two rest on the additive epsilon of a point c against a set A, min over a in A of max_i (a_i - c_i):
positive when c improves the set (by how much everything in A would have to gain to cover it), zero for a
member, negative by how deep c lies below the set. E. Zitzler et al., 'Performance assessment of
multiobjective optimizers', IEEE Trans. Evol. Comput. 7 (2003).
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from boilerfront.search.coding import Floats


@njit(cache=True, nogil=True)
def improvement(points: Floats, members: Floats) -> Floats:
    """Return the additive epsilon of each of `points` (n, m) against `members` (k, m); inf if k is 0."""
    result = np.full(points.shape[0], np.inf)
    gap = np.empty(points.shape[0])
    columns = np.ascontiguousarray(points.T)
    for a in range(members.shape[0]):
        _gaps(columns, members[a], gap)
        for p in range(len(gap)):
            result[p] = min(result[p], gap[p])
    return result


@njit(cache=True, nogil=True)
def spread_out(points: Floats, start: Floats, count: int) -> NDArray[np.int64]:
    """Return the indices of `count` of `points`, each time the one that improves most on those taken.

    `start` (n,) is the improvement before any is taken; inf makes sure of a point.
    """
    score = start.copy()
    taken = np.empty(min(count, points.shape[0]), dtype=np.int64)
    gap = np.empty(points.shape[0])
    columns = np.ascontiguousarray(points.T)
    for k in range(taken.shape[0]):
        best = np.argmax(score)
        taken[k] = best
        _gaps(columns, points[best], gap)
        for p in range(len(gap)):
            score[p] = min(score[p], gap[p])
        score[best] = -np.inf
    return taken


@njit(cache=True, nogil=True)
def _gaps(columns: Floats, member: Floats, gap: Floats) -> None:
    """Put into `gap` (n,) how much `member` (m,) would have to gain to cover each point of `columns` (m, n).

    The points run innermost, so that the processor takes several at once: six times as fast.
    """
    gap[:] = member[0] - columns[0]
    for i in range(1, columns.shape[0]):
        for p in range(len(gap)):
            gap[p] = max(gap[p], member[i] - columns[i, p])


@njit(cache=True, nogil=True)
def own_cubes(one: Floats, other: Floats) -> Floats:
    """Return the sums over coordinates of the cubed gaps between two sets of points, (n, d) and (k, d): (n, k)."""
    result = np.zeros((one.shape[0], other.shape[0]))
    columns = np.ascontiguousarray(other.T)
    for p in range(one.shape[0]):
        for i in range(one.shape[1]):
            for q in range(other.shape[0]):
                gap = abs(one[p, i] - columns[i, q])
                result[p, q] += gap * gap * gap
    return result


@njit(cache=True, nogil=True)
def own_slopes(points: Floats, known: Floats, weights: Floats) -> Floats:
    """Return the gradients at `points` (n, d) of `own_cubes` to `known` (k, d), times `weights` (n, k)."""
    result = np.zeros(points.shape)
    for p in range(points.shape[0]):
        for q in range(known.shape[0]):
            for i in range(points.shape[1]):
                gap = points[p, i] - known[q, i]
                result[p, i] += 3.0 * weights[p, q] * gap * abs(gap)
    return result
