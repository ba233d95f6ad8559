"""Which operations solve a sparse linear system of a fixed pattern, worked out once.

A thermal network is nearly a tree: solved in a good order its matrix fills in little. `plan` returns that
order as a list of elementary operations on slots (one slot for each matrix entry that is ever non-zero);
a kernel carries the list out, for many machines side by side. No pivoting: the matrices are diagonally
dominant M-matrices, for which elimination in any order is stable (Golub and Van Loan, Matrix Computations,
4th ed., section 4.1).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from boilerfront.shared.shapes import Ints

INVERT, SCALE, UPDATE = 0, 1, 2
"""Operations: A[x] = 1 / A[x]; A[x] *= A[y]; A[x] -= A[y] A[z]."""


@dataclass(frozen=True)
class Elimination:
    """The plan: `factor` [operations, 4] of (operation, x, y, z) in slots.

    `forward` [n, 3] of (row i, slot of (i, k), row k): b[i] -= A[ik] b[k]. `backward` [n, 3]: the same, and
    where the slot is the diagonal of row i, b[i] *= A[ii] (inverted) once all other terms are subtracted.
    """

    slots: dict[tuple[int, int], int]
    factor: Ints
    forward: Ints
    backward: Ints


def plan(size: int, entries: Iterable[tuple[int, int]]) -> Elimination:
    """Plan the elimination of a `size` x `size` matrix with non-zero off-diagonal `entries` (row, column)."""
    pattern = {(i, i) for i in range(size)} | set(entries)
    slots = {entry: slot for slot, entry in enumerate(sorted(pattern))}
    left = set(range(size))
    factor: list[tuple[int, int, int, int]] = []
    forward: list[tuple[int, int, int]] = []
    backward: list[tuple[int, int, int]] = []
    while left:
        k = min(left, key=lambda node: (_fill(node, left, slots), node))
        left.remove(k)
        rows = sorted(i for i in left if (i, k) in slots)
        columns = sorted(j for j in left if (k, j) in slots)
        factor.append((INVERT, slots[k, k], 0, 0))
        for i in rows:
            factor.append((SCALE, slots[i, k], slots[k, k], 0))
            forward.append((i, slots[i, k], k))
            for j in columns:
                slot = slots.setdefault((i, j), len(slots))
                factor.append((UPDATE, slot, slots[i, k], slots[k, j]))
        backward.append((k, slots[k, k], k))
        backward.extend((k, slots[k, j], j) for j in columns)
    return Elimination(slots, _table(factor, 4), _table(forward, 3), _table(backward[::-1], 3))


def _fill(node: int, left: set[int], slots: dict[tuple[int, int], int]) -> int:
    """Return how many entries the elimination of `node` would update (Markowitz count)."""
    rows = sum((i, node) in slots for i in left if i != node)
    columns = sum((node, j) in slots for j in left if j != node)
    return rows * columns


def _table(rows: Sequence[tuple[int, ...]], width: int) -> Ints:
    return np.array(rows, dtype=np.int64).reshape(-1, width)
