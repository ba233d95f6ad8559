"""A design is a batch of machines in many kitchens: how parts, sensors, mains, water and rooms scatter.

One scrambled Sobol set serves every design of a sweep, so that all are compared on the same machines
(common random numbers). The columns have a fixed order: a column that is added later changes none before it.
"""

from __future__ import annotations

import math
from typing import Annotated, Literal

import numpy as np
from pydantic import Field, field_validator

from boilerfront.model.site import Site
from boilerfront.shared.schema import Section
from boilerfront.shared.shapes import Floats

COLUMNS = (
    "mains",
    "inlet",
    "flow",
    "coil_conductance",
    "coil_immersed",
    "brew_power",
    "group_power",
    "steam_power",
    "brew_sensor",
    "group_sensor",
    "steam_sensor",
    "insulation",
    "ambient",
    "scale",
)
"""The order of the Sobol dimensions."""

DIMENSIONS = 16
"""The set is drawn with room for more columns: the scramble of each depends on how many there are."""

FEWEST = 8
"""Machines of a batch at least: the best coil is narrower than anyone's knowledge of the coil."""

NOMINAL = {
    "mains": 1.0,
    "inlet": 0.0,
    "flow": 1.0,
    "coil_conductance": 1.0,
    "coil_immersed": 1.0,
    "brew_sensor": 0.0,
    "group_sensor": 0.0,
    "steam_sensor": 0.0,
    "insulation": 1.0,
    "ambient": 0.0,
    "scale": 0.0,
}
"""The machine as designed. Without a power's column an element has its rated power: where that lies between the
ends of its band depends on the rating."""

POWERS = ("brew_power", "group_power", "steam_power")

TEXTS = {
    "mains": "mains voltage",
    "inlet": "inlet water",
    "flow": "flow of the shots",
    "coil_conductance": "coil: heat transfer",
    "coil_immersed": "coil: immersed share",
    "brew_power": "power of the brew element",
    "group_power": "power of the group's heater",
    "steam_power": "power of the steam element",
    "brew_sensor": "brew sensor's error",
    "group_sensor": "group sensor's error",
    "steam_sensor": "steam sensor's error",
    "insulation": "heat loss of the vessels",
    "ambient": "room temperature",
    "scale": "limescale on elements and coil",
}
"""What each column is, for people."""


class TrimRule(Section):
    """Who sets the offset between boiler and user's set-point."""

    by: Literal["unit", "model"] = "unit"
    """unit: the factory trims each machine, its sensors keep a small error; model: one offset for all."""


class Tolerances(Section):
    """Half-widths of uniform, independent scatter; `samples` = 0 rates the nominal machine alone."""

    samples: Annotated[int, Field(ge=0, le=4096)] = 32
    seed: Annotated[int, Field(ge=0)] = 1
    share: Annotated[float, Field(ge=0.5, le=1)] = 0.9
    """The robust value is the smallest that this share of the machines keeps."""
    inlet_K: Annotated[float, Field(ge=0, le=15)] = 6.0
    flow: Annotated[float, Field(ge=0, le=0.5)] = 0.20
    coil_conductance: Annotated[float, Field(ge=0, le=0.6)] = 0.25
    coil_immersed: Annotated[float, Field(ge=0, le=0.5)] = 0.10
    element_power: bool = True
    """Whether each element's power scatters as far as IEC 60335-1, clause 10 allows (from memory)."""
    sensor_unit_K: Annotated[float, Field(ge=0, le=3)] = 0.15
    """Error that each sensor keeps where the factory trims each machine [K]."""
    sensor_model_K: Annotated[float, Field(ge=0, le=3)] = 0.5
    """Error of each sensor where one offset serves all machines [K]."""
    insulation: Annotated[float, Field(ge=0, le=0.6)] = 0.20
    """Of the heat loss of each vessel; the conductivity of insulation alone is known to 25 %."""
    ambient_K: Annotated[float, Field(ge=0, le=15)] = 6.0
    scale_mm: Annotated[float, Field(ge=0, le=2)] = 0.1
    """Thickest limescale, from 0, on elements and coil: an owner who descales (our judgement) [mm]."""
    scale_conductivity_W_mK: Annotated[float, Field(ge=0.1, le=5)] = 1.0
    """Of limescale: 0.5 to 2 W/mK for layers rich in calcium carbonate (from memory)."""

    @field_validator("samples")
    @classmethod
    def _enough(cls, samples: int) -> int:
        if 0 < samples < FEWEST:
            raise ValueError(f"0 (the nominal machine alone) or at least {FEWEST}")
        return samples


def ends(tolerances: Tolerances, site: Site, trim: TrimRule) -> dict[str, tuple[float, float]]:
    """Return the lowest and the highest value of each column that scatters, in the order of `COLUMNS`.

    Factors (mains, flow, coil_conductance, coil_immersed, insulation), kelvin added (inlet, sensors, ambient),
    the place in an element's band of power from -1 to 1, the resistance of limescale [m2K/W].
    """
    sensor_K = tolerances.sensor_unit_K if trim.by == "unit" else tolerances.sensor_model_K
    half = {
        "mains": site.mains_tolerance,
        "inlet": tolerances.inlet_K,
        "flow": tolerances.flow,
        "coil_conductance": tolerances.coil_conductance,
        "coil_immersed": tolerances.coil_immersed,
        "brew_sensor": sensor_K,
        "group_sensor": sensor_K,
        "steam_sensor": sensor_K,
        "insulation": tolerances.insulation,
        "ambient": tolerances.ambient_K,
    }
    found = {name: (NOMINAL[name] - width, NOMINAL[name] + width) for name, width in half.items()}
    found["scale"] = (0.0, 1e-3 * tolerances.scale_mm / tolerances.scale_conductivity_W_mK)
    if tolerances.element_power:
        found |= dict.fromkeys(POWERS, (-1.0, 1.0))
    return {name: found[name] for name in COLUMNS if name in found}


def samples(tolerances: Tolerances, site: Site, trim: TrimRule) -> dict[str, Floats]:
    """Return the machines of the batch: for each column that scatters an array [samples], see `ends`."""
    count = tolerances.samples
    limits = ends(tolerances, site, trim)
    if count == 0:
        return {name: np.empty(0) for name in limits}
    from scipy.stats import qmc  # takes a second to import, and most who read a sweep draw nothing

    sobol = qmc.Sobol(DIMENSIONS, scramble=True, rng=tolerances.seed)
    unit = 2.0 * sobol.random_base2(math.ceil(math.log2(count)))[:count] - 1.0
    return {
        name: 0.5 * (low + high) + 0.5 * (high - low) * unit[:, COLUMNS.index(name)]
        for name, (low, high) in limits.items()
    }


def _kept(share: float, count: int) -> int:
    """Return ceil(share x count), as if share were exact: 0.55 of 100 are 55."""
    return math.ceil(share * count - 1e-9)


def robust(values: Floats, share: float) -> float:
    """Return the ceil(share n)-th smallest of `values` [n]; a machine that never got ready counts as +inf."""
    return float(np.sort(values)[_kept(share, len(values)) - 1])


def robust_margin(values: Floats, share: float) -> float:
    """Return the margin that a `share` of the machines keeps: the (n - ceil(share n) + 1)-th smallest."""
    return float(np.sort(values)[len(values) - _kept(share, len(values))])
