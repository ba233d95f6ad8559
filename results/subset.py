"""A few designs that stand for many: those that together dominate most of the objectives' space."""

from __future__ import annotations

import heapq
from collections.abc import Iterable

import moocore
import numpy as np

from boilerfront.shared.shapes import Floats, Ints

PORTION = 20_000
"""Rows among which is chosen at once; more are first cut portion by portion, which keeps the time linear."""
_BEYOND_WORST = 0.1
"""How far the reference lies beyond the worst value, so that the ends of the front count as well."""


def hypervolume_subset(values: Floats, count: int, *, always: Iterable[int] = ()) -> Ints:
    """Return the places of at most `count` rows of `values` [rows, objectives], ascending.

    Greedy: always the row next that adds most to the hypervolume of those taken. The hypervolume is
    submodular, so this keeps at least 1 - 1/e of the best choice's (Nemhauser, Wolsey and Fisher 1978), in
    practice nearly all. Each objective is scaled to its range; the reference lies a tenth beyond the worst.
    The rows `always` are taken first. More rows than `PORTION` are cut in portions of every k-th row. Ties go
    to the row that stands first.
    """
    scaled = scaled_to_range(values)
    first = sorted(set(always))
    rest = np.setdiff1d(np.arange(len(values)), first)
    portions = -(-len(rest) // PORTION)
    if portions > 1:
        cut = [_greedy(scaled, first, rest[start::portions], count) for start in range(portions)]
        rest = np.setdiff1d(np.concatenate(cut), first)
    return np.sort(_greedy(scaled, first, rest, count))


def scaled_to_range(values: Floats) -> Floats:
    """Return `values` [rows, objectives] with each column from 0 (best) to 1 (worst); a constant one is 0."""
    if not len(values):
        return values
    best = values.min(axis=0)
    span = values.max(axis=0) - best
    return np.asarray((values - best) / np.where(span > 0.0, span, 1.0))


def _greedy(scaled: Floats, first: list[int], rest: Ints, count: int) -> Ints:
    reference = np.full(scaled.shape[1], 1.0 + _BEYOND_WORST)
    taken = first[:count]
    rows = np.empty((count, scaled.shape[1]))
    rows[: len(taken)] = scaled[taken]
    # A gain only shrinks while more is taken, so an old gain is a bound: only the largest is computed anew.
    bounds = np.prod(reference - scaled[rest], axis=1)
    heap = [(-bound, place, -1) for bound, place in zip(bounds.tolist(), rest.tolist(), strict=True)]
    heapq.heapify(heap)
    while heap and len(taken) < count:
        _, place, known_at = heapq.heappop(heap)
        if known_at == len(taken):
            rows[len(taken)] = scaled[place]
            taken.append(place)
        else:
            gain = _gain(rows[: len(taken)], scaled[place], reference)
            heapq.heappush(heap, (-gain, place, len(taken)))
    return np.asarray(taken, dtype=np.int64)


def _gain(taken: Floats, row: Floats, reference: Floats) -> float:
    """Return what `row` [objectives] adds to the hypervolume of the rows `taken`."""
    own = float(np.prod(reference - row))
    return own - float(moocore.hypervolume(np.maximum(taken, row), ref=reference)) if len(taken) else own
