"""Random designs over the whole default ranges, for whatever architectures and variables there are."""

from __future__ import annotations

import numpy as np

from boilerfront.model import VARIABLES
from boilerfront.model.variables import Value

Design = dict[str, Value]

RANGES = {
    "brew_volume_mL": (150.0, 1200.0),
    "steam_volume_mL": (300.0, 2000.0),
    "brew_power_W": (300.0, 1500.0),
    "steam_power_W": (600.0, 2000.0),
    "coil_length_m": (0.1, 3.0),
    "coil_bore_mm": (3.0, 8.0),
    "insulation_mm": (0.0, 25.0),
    "steam_set_point_C": (112.0, 135.0),
}
"""Ranges a sweep would ask for; any other number is drawn between its physical bounds."""


def random_machine(architecture: str, seed: int, index: int) -> Design:
    """Return design `index` of a seed: the same however many are drawn. Every other group is heated."""
    rng = np.random.default_rng([seed, index])
    design: Design = {"architecture": architecture}
    for name, variable in VARIABLES.items():
        if name == "architecture":
            continue
        # Drawn even where the architecture lacks it, so that a family's sizes do not depend on its variables.
        if variable.kind == "choice":
            value: Value = str(rng.choice(variable.choices))
        elif name == "group_power_W":
            value = float(rng.uniform(80.0, 300.0)) if index % 2 == 0 else 0.0
        else:
            value = float(rng.uniform(*RANGES.get(name, (variable.low, variable.high))))
        if architecture in variable.architectures and variable.default is not None:
            design[name] = value
    return design
