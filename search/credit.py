"""How much of a batch each source of designs gets: by what its designs have lately been worth.

Reward and count of each source decay, so that the share follows the search from its first hundred trials,
where a surrogate earns most, to its late ones.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boilerfront.search.archive import Archive, Rows
from boilerfront.search.coding import Floats

SURROGATE, EVOLUTION = 0, 1
_DECAY = 0.9
_START = ((1.0, 0.25), (5.0, 5.0))  # reward and count of the two before anything was told
NEARLY = 0.05
"""What a row that would be among the better parents is worth, if it does not improve the front."""
LEAST, _MOST = 0.05, 0.6
"""Of the surrogate. The least is also its share while nothing is feasible: what it finds then crowds around the
least violated designs, and evolution starves there (`tests.bench.bench_ablation`)."""


@dataclass(frozen=True)
class Credit:
    """Decayed reward and count of the surrogate and of evolution, arrays of two."""

    reward: Floats
    count: Floats

    @classmethod
    def fresh(cls) -> Credit:
        """Return the credit at the start: the surrogate is trusted more."""
        return cls(*(np.array(values) for values in _START))

    def share(self) -> float:
        """Return the surrogate's share of the next batch."""
        rate = self.reward / (self.count + 1.0) + 1e-6
        return float(np.clip(rate[SURROGATE] / rate.sum(), LEAST, _MOST))

    def after(self, rewards: Floats, sources: NDArray[np.int64]) -> Credit:
        """Return the credit after rows of `sources` (-1: of neither) earned `rewards`."""
        known = sources >= 0
        gained = np.bincount(sources[known], weights=rewards[known], minlength=2)
        counted = np.bincount(sources[known], minlength=2)
        return Credit(_DECAY * self.reward + gained, _DECAY * self.count + counted)


def rewards(archive: Archive, rows: Rows, *, population: int) -> Floats:
    """Return what each of `rows` was worth to `archive` before they were told to it: how far it improves the front.

    A row that is not feasible is worth nothing.
    """
    gain = archive.improvement_of(rows)
    # Half the parents of evolution lie deeper than this; a row above it is worth a little too.
    best = np.sort(archive.depth)[::-1][:population]
    worth = np.sqrt(np.clip(gain, 0.0, 1.0)) + NEARLY * (gain > np.median(best))
    return np.where(archive.violation_of(rows) <= 0.0, worth, 0.0)
