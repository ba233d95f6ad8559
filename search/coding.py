"""The unit cube: each variable of a space is one coordinate of a genome.

Floats are scaled linearly or in the logarithm. A variable of L levels (integers, stepped floats, choices)
takes L cells of equal width and is coded at the middle of its cell, so that a uniform draw is uniform over
the levels. Coordinates are multiples of 2**-32: a genome survives decoding and encoding bit for bit, and
two genomes are the same design exactly when they are equal. A masked coordinate stands at its middle, so
that it never tells two designs apart.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_GRID = 2.0**32
_ONE_HOT = 0.7  # two different choices are then 0.7 * sqrt(2), about one, apart


@dataclass(frozen=True)
class Axis:
    """One coordinate: `levels` is 0 for a continuous one; a level k stands for `low + k * step`."""

    low: float
    high: float
    log: bool = False
    levels: int = 0
    step: float = 1.0
    nominal: bool = False
    """True when the levels have no order, so that nothing may be interpolated between them."""
    integer: bool = False
    """True for a continuous axis whose values are rounded (integers in the logarithm)."""
    needs: Mapping[int, tuple[int, ...]] = field(default_factory=dict)
    """Index of a parent axis -> its levels for which this axis is active."""


class Coding:
    """Between values (one column per axis; a choice by its index) and genomes in the unit cube."""

    def __init__(self, axes: Sequence[Axis]) -> None:
        self.axes = tuple(axes)
        self.size = len(self.axes)
        self.levels = np.array([_levels(axis) for axis in self.axes], dtype=np.int64)
        self.nominal = np.array([axis.nominal for axis in self.axes], dtype=np.bool_)
        self.stepped = (self.levels > 1) & ~self.nominal
        self._cells = np.maximum(self.levels, 1).astype(np.float64)
        self._middle = _on_grid(np.where(self.levels > 0, (self._cells // 2 + 0.5) / self._cells, 0.5))
        self._conditions = [(j, _conditions(self.axes[j], self.levels)) for j in _parents_first(self.axes)]
        self._columns = [self.levels[j] if self.nominal[j] else 1 for j in range(self.size)]

    def encode(self, values: Floats) -> Floats:
        """Return genomes of `values` (rows, axes); NaN stands for 'no value' and becomes the middle."""
        genomes = np.empty_like(values)
        for j, axis in enumerate(self.axes):
            genomes[:, j] = _encoded(axis, values[:, j])
        genomes = np.where(np.isnan(genomes), self._middle, genomes)
        return self.canonical(genomes)

    def decode(self, genomes: Floats) -> Floats:
        """Return values of `genomes`; a masked coordinate gives the value of its middle."""
        values = np.empty_like(genomes)
        for j, axis in enumerate(self.axes):
            values[:, j] = _decoded(axis, genomes[:, j])
        return values

    def canonical(self, genomes: Floats) -> Floats:
        """Return `genomes` clipped to the cube, on the grid, on their levels, masked ones at the middle."""
        genomes = _on_grid(np.clip(genomes, 0.0, 1.0))
        cells = np.minimum(np.floor(genomes * self._cells), self._cells - 1.0)
        genomes = np.where(self.levels > 0, _on_grid((cells + 0.5) / self._cells), genomes)
        for j, axis in enumerate(self.axes):
            if axis.integer:
                genomes[:, j] = _on_grid(_encoded(axis, _decoded(axis, genomes[:, j])))
        return np.where(self.active(genomes), genomes, self._middle)

    def active(self, genomes: Floats) -> Flags:
        """Return which coordinates count: all whose parents are active and stand at a wanted level."""
        mask = np.ones(genomes.shape, dtype=np.bool_)
        levels: dict[int, NDArray[np.int64]] = {}
        for j, conditions in self._conditions:
            for parent, wakes in conditions:
                if parent not in levels:
                    levels[parent] = self._level(genomes, parent)
                mask[:, j] &= mask[:, parent] & wakes[levels[parent]]
        return mask

    def features(self, genomes: Floats) -> Floats:
        """Return what a model may measure distances in: nominal coordinates become one column a level."""
        if not self.nominal.any():
            return genomes
        columns = []
        for j in range(self.size):
            if self.nominal[j]:
                level = self._level(genomes, j)
                columns.append(_ONE_HOT * (level[:, None] == np.arange(self.levels[j])))
            else:
                columns.append(genomes[:, j : j + 1])
        return np.hstack(columns)

    def along_axes(self, slopes: Floats) -> Floats:
        """Return the columns of `slopes`, which are along features, that are coordinates; 0 along nominal ones."""
        if not self.nominal.any():
            return slopes
        firsts = np.cumsum([0, *self._columns[:-1]])
        return np.where(self.nominal, 0.0, slopes[:, firsts])

    def _level(self, genomes: Floats, axis: int) -> NDArray[np.int64]:
        """Return the level of each genome on one axis."""
        cell = np.minimum(genomes[:, axis] * self._cells[axis], self._cells[axis] - 1.0)
        return np.asarray(cell.astype(np.int64))


def _levels(axis: Axis) -> int:
    return 1 if axis.levels == 0 and axis.low == axis.high else axis.levels


def _conditions(axis: Axis, levels: NDArray[np.int64]) -> list[tuple[int, Flags]]:
    """Return each parent of an axis, and for each of its levels whether it wakes the axis."""
    return [
        (parent, np.isin(np.arange(max(levels[parent], 1)), wanted)) for parent, wanted in axis.needs.items()
    ]


def _on_grid(genomes: Floats) -> Floats:
    return np.asarray(np.rint(genomes * _GRID) / _GRID)


def _ends(axis: Axis) -> tuple[float, float]:
    """Return the ends on the scale of the coordinate; rounded axes reach half a step past them."""
    half = 0.5 if axis.integer else 0.0
    low, high = axis.low - half, axis.high + half
    return (float(np.log(low)), float(np.log(high))) if axis.log else (low, high)


def _encoded(axis: Axis, values: Floats) -> Floats:
    levels = _levels(axis)
    if levels:
        return np.asarray((np.rint((values - axis.low) / axis.step) + 0.5) / levels)
    low, high = _ends(axis)
    return np.asarray(((np.log(values) if axis.log else values) - low) / (high - low))


def _decoded(axis: Axis, coordinates: Floats) -> Floats:
    levels = _levels(axis)
    if levels:
        values = axis.low + np.minimum(np.floor(coordinates * levels), levels - 1) * axis.step
        return np.asarray(np.minimum(values, axis.high))
    low, high = _ends(axis)
    scaled = low + coordinates * (high - low)
    values = np.exp(scaled) if axis.log else scaled
    return np.asarray(np.clip(np.rint(values) if axis.integer else values, axis.low, axis.high))


def _parents_first(axes: Sequence[Axis]) -> list[int]:
    """Return the conditional axes so that each comes after its parents."""
    order: list[int] = []
    waiting = [j for j, axis in enumerate(axes) if axis.needs]
    while waiting:
        ready = [j for j in waiting if not any(parent in waiting for parent in axes[j].needs)]
        if not ready:
            raise ValueError("conditions must not depend on one another in a circle")
        order += ready
        waiting = [j for j in waiting if j not in ready]
    return order
