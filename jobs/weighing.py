"""How the search weighs what an objective gains: by ratio, above what may be called a difference.

A front across families is long: a block's shots deviate ten times as much as a dual boiler's. Weighed by difference,
a tenth of a kelvin is next to nothing, and a family whose only merit is to halve the steadiest design's deviation is
left early. Weighed by ratio it counts as much as half the warm-up does; below the resolution nothing is gained.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log1p
from typing import TYPE_CHECKING

from boilerfront.model.glossary import OBJECTIVES
from boilerfront.results.resolution import RESOLUTION

if TYPE_CHECKING:
    from boilerfront.jobs.sweep import Sweep


def weighs_by_ratio(sweep: Sweep) -> bool:
    """Return what the sweep says; else no for a run of before there was a choice, else yes."""
    stated = sweep.search.by_ratio
    return sweep.run is None if stated is None else stated


def weighed(values: Sequence[float]) -> list[float]:
    """Return the objectives of a design as the sampler is told them: in the same order, infinite stays infinite."""
    return [log1p(max(value, 0.0) / RESOLUTION[name]) for name, value in zip(OBJECTIVES, values, strict=True)]
