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

from boilerfront.search.coding import Flags, Floats
from boilerfront.search.kernels import improvement, spread_out

RAYS = 40
REFERENCE = 2.0  # in ranges of the front: at 1.1 a batch cannot lengthen the front at its ends


class Rays:
    """What each of `points` (n, m) would still add to `members` (k, m) and to the points taken so far."""

    def __init__(self, points: Floats, members: Floats, *, rng: Generator) -> None:
        directions = np.abs(rng.standard_normal((RAYS, points.shape[1]))) + 1e-9
        self._inverse = np.ascontiguousarray((np.linalg.norm(directions, axis=1)[:, None] / directions).T)
        self._points = points
        self._members = members
        self._lengths = _lengths(points, members, self._inverse)
        self.taken = np.zeros(0, np.int64)

    def take(self, allowed: Flags, count: int) -> None:
        """Add to `taken` the indices of up to `count` of the allowed points, the most gainful first."""
        free = allowed.copy()
        free[self.taken] = False
        found = _greedy(self._points, self._inverse, self._lengths, free, count)
        free[found] = False
        self.taken = np.concatenate([self.taken, found])
        rest = np.flatnonzero(free)
        if len(found) < count and len(rest):
            # No ray is left: whatever improves most, or lies least deep, spread out.
            known = np.vstack([self._members, self._points[self.taken]])
            more = spread_out(self._points[rest], improvement(self._points[rest], known), count - len(found))
            self.taken = np.concatenate([self.taken, rest[more]])


@njit(cache=True, nogil=True)
def _shorten(lengths: Floats, point: Floats, member: Floats, inverse: Floats, far: Floats) -> None:
    """Cut the rays of one point where `member` starts to dominate; to 0 if it dominates the point.

    `far` (rays,) is for it to write in. The rays run innermost, so that the processor takes several at once.
    """
    far[:] = (member[0] - point[0]) * inverse[0]
    for i in range(1, point.shape[0]):
        gap = member[i] - point[i]
        for r in range(len(far)):
            far[r] = max(far[r], gap * inverse[i, r])
    for r in range(len(far)):
        lengths[r] = max(min(lengths[r], far[r]), 0.0)


@njit(cache=True, nogil=True)
def _lengths(points: Floats, members: Floats, inverse: Floats) -> Floats:
    """Return the length of each ray (points, rays), 0 where there is nothing to gain."""
    lengths = np.full((points.shape[0], inverse.shape[1]), np.inf)
    far = np.empty(inverse.shape[1])
    for c in range(points.shape[0]):
        for r in range(inverse.shape[1]):
            for i in range(points.shape[1]):
                lengths[c, r] = min(lengths[c, r], (REFERENCE - points[c, i]) * inverse[i, r])
        for a in range(members.shape[0]):
            _shorten(lengths[c], points[c], members[a], inverse, far)
            if not lengths[c].any():
                break
    return lengths


@njit(cache=True, nogil=True)
def _greedy(points: Floats, inverse: Floats, lengths: Floats, free: Flags, count: int) -> NDArray[np.int64]:
    """Return the free points with the longest rays, one after another; it stops when no ray is left."""
    size = points.shape[1]
    score = np.zeros(points.shape[0])
    far = np.empty(inverse.shape[1])
    taken = np.empty(min(count, points.shape[0]), dtype=np.int64)
    for k in range(taken.shape[0]):
        best, most = -1, 0.0
        for c in range(points.shape[0]):
            if free[c]:
                score[c] = _volume(lengths[c], size)
                if score[c] > most:
                    best, most = c, score[c]
        if best < 0:
            return taken[:k]
        taken[k] = best
        free[best] = False
        for c in range(points.shape[0]):
            _shorten(lengths[c], points[c], points[best], inverse, far)
    return taken


@njit(cache=True, nogil=True)
def _volume(lengths: Floats, size: int) -> float:
    """Return the sum of the lengths (rays,) to the power of `size`.

    Written out: for `**` numba would make a helper that compiled functions of the model share, with other options.
    """
    total = 0.0
    for length in lengths:
        power, square, left = 1.0, length, size
        while left > 0:
            if left & 1:
                power *= square
            square *= square
            left >>= 1
        total += power
    return total
