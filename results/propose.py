"""A handful of designs that are good and different: which of a front to look at first."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyarrow as pa

from boilerfront.results.front import objective_values
from boilerfront.results.resolution import RESOLUTION, one_per_cell
from boilerfront.results.schema import group_of
from boilerfront.results.subset import hypervolume_subset, scaled_to_range
from boilerfront.shared.shapes import Floats

APART = 2.0
"""Picks differ by so many steps of the resolution in some objective: in steadiness that is 0.1 K."""


def proposed_rows(front: pa.Table, count: int) -> pa.Table:
    """Return at most `count` rows of a front, the steadiest first, with all their columns.

    Of designs that differ less than the table's resolution only the one is looked at whose batch strays least
    from its nominal machine. Every family (architecture) has one design, as far as `count` goes: the one that
    dominates most by itself. Each further one is what adds most to the objectives' space that all of them
    dominate, and is `APART` from each of them.
    """
    if not front.num_rows:
        return front
    cells, _ = one_per_cell(front.take(np.lexsort((front["trial"].to_numpy(), straying(front)))))
    values = objective_values(cells)
    chosen = _family_leaders(values, cells["architecture"].to_pylist())[:count]
    steps = np.array([RESOLUTION.get(name, np.inf) for name in group_of(front.schema, "objective")])
    while len(chosen) < count and (following := _next(values, chosen, steps)) is not None:
        chosen.append(following)
    return cells.take(sorted(chosen, key=lambda place: (values[place, 0], cells["trial"][place].as_py())))


def straying(table: pa.Table) -> Floats:
    """Return by how many steps of the resolution each row's objectives exceed its nominal machine's, at worst."""
    names = [name for name in group_of(table.schema, "objective") if name in RESOLUTION]
    gaps = [
        (_numbers(table, name) - _numbers(table, f"{name}_nominal")) / RESOLUTION[name]
        for name in names
        if f"{name}_nominal" in table.column_names
    ]
    return np.max(np.nan_to_num(gaps), axis=0) if gaps else np.zeros(table.num_rows)


def _next(values: Floats, chosen: list[int], steps: Floats) -> int | None:
    """Return the place of the row that adds most to the chosen ones, None where all are too near to them."""
    apart = np.abs(values[:, None] - values[chosen][None]) / steps  # [rows, chosen, objectives]
    is_apart = (apart.max(axis=2) >= APART).all(axis=1)
    places = np.array([*chosen, *np.flatnonzero(is_apart)])
    best = hypervolume_subset(values[places], len(chosen) + 1, always=range(len(chosen)))
    return int(places[best[-1]]) if len(best) > len(chosen) else None


def _numbers(table: pa.Table, name: str) -> Floats:
    return np.asarray(table[name].to_numpy(zero_copy_only=False), dtype=np.float64)


def _family_leaders(values: Floats, families: Sequence[str]) -> list[int]:
    """Return the place of each family's best row: what dominates most by itself first; ties by place."""
    own = np.prod(1.1 - scaled_to_range(values), axis=1)
    best: dict[str, int] = {}
    for place in np.argsort(-own, kind="stable").tolist():
        best.setdefault(families[place], place)
    return list(best.values())
