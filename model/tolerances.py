"""A design is a batch of machines in many kitchens: how inlet, flow, mains and coil scatter.

One scrambled Sobol set serves every design of a sweep, so that all are compared on the same machines
(common random numbers). The columns have a fixed order: a column that is added later changes none before it.
"""

from __future__ import annotations

import math
from typing import Annotated

import numpy as np
from pydantic import Field
from scipy.stats import qmc

from boilerfront.model.site import Site
from boilerfront.shared.schema import Section
from boilerfront.shared.shapes import Floats

COLUMNS = ("mains", "inlet", "flow", "coil_conductance", "coil_immersed")
"""The order of the Sobol dimensions."""

DIMENSIONS = 16
"""The set is drawn with room for more columns: the scramble of each depends on how many there are."""

NOMINAL = {"mains": 1.0, "inlet": 0.0, "flow": 1.0, "coil_conductance": 1.0, "coil_immersed": 1.0}


class Tolerances(Section):
    """Half-widths of uniform, independent scatter; `samples` = 0 rates the nominal machine alone."""

    samples: Annotated[int, Field(ge=0, le=4096)] = 8
    seed: Annotated[int, Field(ge=0)] = 1
    share: Annotated[float, Field(ge=0.5, le=1)] = 0.9
    """The robust value is the smallest that this share of the machines keeps."""
    inlet_K: Annotated[float, Field(ge=0, le=15)] = 6.0
    flow: Annotated[float, Field(ge=0, le=0.5)] = 0.20
    coil_conductance: Annotated[float, Field(ge=0, le=0.6)] = 0.25
    coil_immersed: Annotated[float, Field(ge=0, le=0.5)] = 0.10


def samples(tolerances: Tolerances, site: Site) -> dict[str, Floats]:
    """Return the machines of the batch: for each column an array [samples] of factors (inlet: kelvin added)."""
    count = tolerances.samples
    if count == 0:
        return {name: np.empty(0) for name in COLUMNS}
    sobol = qmc.Sobol(DIMENSIONS, scramble=True, rng=tolerances.seed)
    unit = 2.0 * sobol.random_base2(math.ceil(math.log2(count)))[:count] - 1.0
    half = {
        "mains": site.mains_tolerance,
        "inlet": tolerances.inlet_K,
        "flow": tolerances.flow,
        "coil_conductance": tolerances.coil_conductance,
        "coil_immersed": tolerances.coil_immersed,
    }
    return {name: NOMINAL[name] + half[name] * unit[:, column] for column, name in enumerate(COLUMNS)}


def _kept(share: float, count: int) -> int:
    """Return ceil(share x count), as if share were exact: 0.55 of 100 are 55."""
    return math.ceil(share * count - 1e-9)


def robust(values: Floats, share: float) -> float:
    """Return the ceil(share n)-th smallest of `values` [n]; a machine that never got ready counts as +inf."""
    return float(np.sort(values)[_kept(share, len(values)) - 1])


def robust_margin(values: Floats, share: float) -> float:
    """Return the margin that a `share` of the machines keeps: the (n - ceil(share n) + 1)-th smallest."""
    return float(np.sort(values)[len(values) - _kept(share, len(values))])
