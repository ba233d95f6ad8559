"""A search on the surrogate: children of the front and of each other, and steps downhill, judged by it alone."""

from __future__ import annotations

import numpy as np
from numpy.random import Generator

from boilerfront.search.archive import Archive
from boilerfront.search.choice import Rays
from boilerfront.search.coding import Coding, Floats
from boilerfront.search.descent import descended
from boilerfront.search.evolution import children
from boilerfront.search.kernels import improvement, spread_out
from boilerfront.search.surrogate import EXCESS, Surrogate, fitted

GENERATIONS, CHILDREN, DOWNHILL, KEPT, PARENTS = 12, 300, 100, 200, 300
BEGIN = 400
"""So many children of known rows, and as many designs anywhere in the cube, are there before the first generation."""
_EVEN = (0.25, 0.25, 0.25, 0.25)


def proposed(archive: Archive, *, count: int, batch: int, coding: Coding, rng: Generator) -> Floats:
    """Return up to `count` genomes that the model of `archive` promises most of."""
    model = fitted(archive, latest=min(2 * batch, 100), coding=coding, rng=rng) if count else None
    if model is None:
        return np.zeros((0, coding.size))
    members = archive.front_points
    members = members[rng.permutation(len(members))[:PARENTS]]
    genomes, scaled, excess = _candidates(archive, model, coding=coding, rng=rng)
    rays = Rays(scaled, members, rng=rng)
    rays.take(excess <= 0.0, count)
    # Where too few keep the constraints by the model, those that miss them least.
    rays.take(np.argsort(np.argsort(excess, kind="stable")) < 2 * count, count - len(rays.taken))
    return np.asarray(genomes[rays.taken])


def _candidates(
    archive: Archive, model: Surrogate, *, coding: Coding, rng: Generator
) -> tuple[Floats, Floats, Floats]:
    """Return genomes, predicted objectives and predicted excess of the best that the model knows of."""
    front = archive.front[rng.permutation(len(archive.front))[:PARENTS]]
    known = archive.rows.genomes[front]
    members = archive.front_points
    kept, scaled, excess = np.zeros((0, coding.size)), np.zeros((0, members.shape[1])), np.zeros(0)
    worth = np.zeros(0)
    genomes = _anything(archive, coding=coding, rng=rng)
    for generation in range(GENERATIONS):
        if generation:
            pool = np.vstack([known, kept])[rng.permutation(len(known) + len(kept))]
            born = children(pool, count=CHILDREN, coding=coding, rng=rng, shares=_EVEN)
            lower = descended(pool[:DOWNHILL], model, objectives=members.shape[1], rng=rng)
            genomes = np.vstack([born, lower])
        more_scaled, more_excess = model(genomes)
        kept, scaled = np.vstack([kept, genomes]), np.vstack([scaled, more_scaled])
        excess = np.concatenate([excess, more_excess])
        worth = np.concatenate([worth, improvement(more_scaled, members) - EXCESS * more_excess])
        best = spread_out(scaled, worth, KEPT)
        kept, scaled, excess, worth = kept[best], scaled[best], excess[best], worth[best]
    return kept, scaled, excess


def _anything(archive: Archive, *, coding: Coding, rng: Generator) -> Floats:
    """Return what the search on the model begins with: children of any known rows, and anything at all."""
    rows = archive.rows.genomes[rng.permutation(len(archive.rows))[:PARENTS]]
    born = children(rows, count=BEGIN, coding=coding, rng=rng, shares=_EVEN)
    return np.vstack([born, coding.canonical(rng.random((BEGIN, coding.size)))])
