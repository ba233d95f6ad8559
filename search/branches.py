"""A share of each batch for the branches of a space that the search has all but left.

A branch is one combination of unordered choices: those that decide which other variables count, such as the family,
and others of few levels, such as the kind of control. Its designs compete with those of all others for being parents,
so that a branch whose first few designs are worse, or keep no constraint, is never tried again, although its good
designs may lie a few steps on: another control may ask for another element and another volume, and by itself looks
bad. The designs of this share have parents of their own branch alone.
"""

from __future__ import annotations

import numpy as np
from numpy.random import Generator

from boilerfront.search.archive import Archive, Indices
from boilerfront.search.coding import Coding, Floats
from boilerfront.search.evolution import children

SHARE = 0.1
PARENTS = 12
"""Of a branch, the best; few, as it has few."""
MOST = 24
"""Branches that a space is cut into at most by further choices: each of them needs some designs of its own."""


def reserved(coding: Coding, count: int) -> int:
    """Return how many designs of a batch of `count` go to neglected branches: none where a space has no branches."""
    return round(SHARE * count) if _deciding(coding) else 0


def neglected(archive: Archive, awaited: Floats, *, count: int, coding: Coding, rng: Generator) -> Floats:
    """Return `count` (>= 1) genomes, each of the branch that then has the fewest designs, told or `awaited`."""
    axes = _deciding(coding)
    order = archive.order()
    known = archive.rows.genomes[order][:, axes]
    branches, branch_of = np.unique(known, axis=0, return_inverse=True)
    asked = np.vstack([known, awaited[:, axes]])
    tried = np.array([(asked == branch).all(axis=1).sum() for branch in branches])
    wanted = np.zeros(len(branches), dtype=np.int64)
    for _ in range(count):
        wanted[np.argmin(tried + wanted)] += 1
    born = []
    for k in np.flatnonzero(wanted):
        best: Indices = order[branch_of.ravel() == k][:PARENTS]
        more = children(archive.rows.genomes[best], count=int(wanted[k]), coding=coding, rng=rng)
        more[:, axes] = branches[k]
        born.append(coding.canonical(more))
    return np.vstack(born)


def _deciding(coding: Coding) -> list[int]:
    """Return the axes whose combinations are the branches: those that others need, then choices, few levels first."""
    deciding = sorted({parent for axis in coding.axes for parent in axis.needs if coding.levels[parent] > 1})
    choices = [j for j in np.flatnonzero(coding.nominal & (coding.levels > 1)).tolist() if j not in deciding]
    count = int(np.prod(coding.levels[deciding]))
    for j in sorted(choices, key=lambda j: int(coding.levels[j])):
        count *= int(coding.levels[j])
        if count <= MOST:
            deciding.append(j)
    return sorted(deciding)
