"""The knee of a front: where leaving a design for any other loses more than it gains.

Each objective is scaled from 0 (the best of the rows) to 1 (the worst). The knee is the row farthest below
the plane on which the scaled objectives have one sum; of two objectives that plane is the chord between the
ends of the front (I. Das, "On characterizing the 'knee' of the Pareto curve based on normal-boundary
intersection", Structural Optimization 18, 1999, 107-115). How sharp it is says the least ratio of what is
lost to what is gained when it is left for another row (L. Rachmawati, D. Srinivasan, "Multiobjective
evolutionary algorithm with controllable focus on the knees of the Pareto front", IEEE Transactions on
Evolutionary Computation 13, 2009, 810-824): at the least sum, and there alone, no exchange pays, so both
name the same design. Both papers are quoted from memory.
"""

from __future__ import annotations

import numpy as np

from boilerfront.results.subset import scaled_to_range
from boilerfront.shared.shapes import Floats

LEAST_GAIN = 1e-9
"""What is gained at the least by an exchange, in shares of the objectives' ranges."""


def heights(values: Floats) -> Floats:
    """Return the sum of the scaled objectives [rows]: the lower, the farther below the plane."""
    return np.asarray(scaled_to_range(values).sum(axis=1))


def sharpness(values: Floats, place: int) -> float:
    """Return the least of lost to gained, scaled, when row `place` is left for another; infinite for none.

    A row that is better by less than `LEAST_GAIN` in all is no exchange: sums do not tell it from an equal one.
    """
    scaled = scaled_to_range(values)
    change = scaled - scaled[place]
    lost = np.maximum(change, 0.0).sum(axis=1)
    gained = np.maximum(-change, 0.0).sum(axis=1)
    is_exchange = gained > LEAST_GAIN
    return float((lost[is_exchange] / gained[is_exchange]).min()) if is_exchange.any() else float("inf")
