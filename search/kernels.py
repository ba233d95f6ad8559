"""The two loops over pairs of objective vectors that are worth compiling.

Like those of `choice` they let other threads of Python run: while a driver plans, tasks still go to its workers.

Both rest on the additive epsilon of a point c against a set A, min over a in A of max_i (a_i - c_i):
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
    for p in range(points.shape[0]):
        for a in range(members.shape[0]):
            gap = -np.inf
            for i in range(points.shape[1]):
                gap = max(gap, members[a, i] - points[p, i])
                if gap >= result[p]:
                    break
            result[p] = min(result[p], gap)
    return result


@njit(cache=True, nogil=True)
def spread_out(points: Floats, start: Floats, count: int) -> NDArray[np.int64]:
    """Return the indices of `count` of `points`, each time the one that improves most on those taken.

    `start` (n,) is the improvement before any is taken; inf makes sure of a point.
    """
    score = start.copy()
    taken = np.empty(min(count, points.shape[0]), dtype=np.int64)
    for k in range(taken.shape[0]):
        best = np.argmax(score)
        taken[k] = best
        for p in range(points.shape[0]):
            gap = -np.inf
            for i in range(points.shape[1]):
                gap = max(gap, points[best, i] - points[p, i])
            score[p] = min(score[p], gap)
        score[best] = -np.inf
    return taken
