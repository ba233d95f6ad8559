"""Which of many predicted designs to evaluate: a batch that together promises the most hypervolume.

The gain is measured along rays: from a point c in a random direction, how far the dominated region reaches
before a member of the set or the reference point cuts it. The mean of that length to the power of the number
of objectives stands for the hypervolume that c alone adds (K. Shang et al., 'R2-based hypervolume
contribution approximation', IEEE Trans. Evol. Comput. 24 (2020)), and each chosen design shortens the rays
of the others, so that a batch does not crowd one spot.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.random import Generator
from numpy.typing import NDArray

from boilerfront.search.archive import Indices
from boilerfront.search.coding import Floats
from boilerfront.search.kernels import improvement, spread_out

RAYS = 40
_REFERENCE = 1.1


def best_batch(points: Floats, members: Floats, *, count: int, rng: Generator) -> Indices:
    """Return the indices of `count` of `points` (n, m) that together add most to `members` (k, m)."""
    directions = np.abs(rng.standard_normal((RAYS, points.shape[1]))) + 1e-9
    directions /= np.linalg.norm(directions, axis=1)[:, None]
    lengths = _lengths(points, members, directions)
    taken = _greedy(points, directions, lengths, count)
    if len(taken) < min(count, len(points)):
        # No ray is left: whatever improves most, or lies least deep, spread out.
        rest = np.setdiff1d(np.arange(len(points)), taken)
        known = np.vstack([members, points[taken]])
        more = spread_out(points[rest], improvement(points[rest], known), count - len(taken))
        taken = np.concatenate([taken, rest[more]])
    return taken


@njit(cache=True)
def _cut(point: Floats, member: Floats, direction: Floats) -> float:
    """Return how far from `point` along `direction` `member` starts to dominate; negative if it does."""
    far = -np.inf
    for i in range(point.shape[0]):
        far = max(far, (member[i] - point[i]) / direction[i])
    return far


@njit(cache=True)
def _lengths(points: Floats, members: Floats, directions: Floats) -> Floats:
    """Return the length of each ray (points, directions), 0 where there is nothing to gain."""
    lengths = np.empty((points.shape[0], directions.shape[0]))
    for c in range(points.shape[0]):
        for r in range(directions.shape[0]):
            length = np.inf
            for i in range(points.shape[1]):
                length = min(length, (_REFERENCE - points[c, i]) / directions[r, i])
            for a in range(members.shape[0]):
                if length <= 0.0:
                    break
                length = min(length, _cut(points[c], members[a], directions[r]))
            lengths[c, r] = max(length, 0.0)
    return lengths


@njit(cache=True)
def _greedy(points: Floats, directions: Floats, lengths: Floats, count: int) -> NDArray[np.int64]:
    """Return the points with the longest rays, one after another; it stops when no ray is left."""
    size = points.shape[1]
    taken = np.empty(min(count, points.shape[0]), dtype=np.int64)
    for k in range(taken.shape[0]):
        best, most = -1, 0.0
        for c in range(points.shape[0]):
            total = 0.0
            for r in range(directions.shape[0]):
                total += lengths[c, r] ** size
            if total > most:
                best, most = c, total
        if best < 0:
            return taken[:k]
        taken[k] = best
        for c in range(points.shape[0]):
            for r in range(directions.shape[0]):
                if lengths[c, r] > 0.0:
                    lengths[c, r] = max(min(lengths[c, r], _cut(points[c], points[best], directions[r])), 0.0)
    return taken
