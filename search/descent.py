"""Steps down the surrogate: where it says which way is better, nothing is found sooner than by going there.

Crossed and mutated children come to a corner of a cube of thirty variables one coordinate at a time; the gradient
of a sum of cubes moves all at once and costs as much as a prediction.
"""

from __future__ import annotations

import numpy as np
from numpy.random import Generator

from boilerfront.search.coding import Floats
from boilerfront.search.surrogate import Surrogate

_SHORTEST = -2.5  # power of ten, of the cube; the longest step crosses it


def descended(genomes: Floats, model: Surrogate, *, objectives: int, rng: Generator) -> Floats:
    """Return `genomes` (n, d) after a step each, of a random length, down the model.

    Each goes down its own random mixture of the objectives, so that together they move towards the whole front; what
    would leave the cube does not count towards the length.
    """
    shares = rng.standard_exponential((len(genomes), objectives))
    slope = model.slope(genomes, shares / shares.sum(axis=1)[:, None])
    outward = np.where(slope > 0.0, genomes <= 0.0, genomes >= 1.0)
    slope = np.where(outward | ~model.coding.active(genomes), 0.0, slope)
    steepest = np.abs(slope).max(axis=1)[:, None]
    length = 10.0 ** rng.uniform(_SHORTEST, 0.0, size=(len(genomes), 1))
    return model.coding.canonical(genomes - length * slope / np.where(steepest > 0.0, steepest, 1.0))
