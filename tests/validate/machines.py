"""Random designs over the whole default ranges, of whatever architectures and variables there are."""

from __future__ import annotations

from zlib import crc32

import numpy as np

from boilerfront.model import ARCHITECTURES, VARIABLES
from boilerfront.model.brief import Brief
from boilerfront.model.design import read_design
from boilerfront.model.rating import Batch
from boilerfront.model.runs import Pool, Request
from boilerfront.model.tolerances import NOMINAL as MACHINE
from boilerfront.model.variables import Value
from tests.model.random_designs import NOMINAL

Design = dict[str, Value]

SEED = 5
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
"""Ranges that a sweep would ask for; any other number is drawn between its physical bounds."""
GROUP_W = (80.0, 300.0)


def random_machine(architecture: str, index: int) -> Design:
    """Return design `index`: the same however many are drawn. Every other group is heated."""
    design: Design = {"architecture": architecture}
    for name, variable in VARIABLES.items():
        if name == "architecture" or architecture not in variable.architectures or variable.default is None:
            continue
        rng = np.random.default_rng([SEED, index, crc32(name.encode())])  # a new variable moves no other
        if variable.kind == "choice":
            design[name] = str(rng.choice(variable.choices))
        elif name == "group_power_W":
            design[name] = float(rng.uniform(*GROUP_W)) if index % 2 == 0 else 0.0
        else:
            design[name] = float(rng.uniform(*RANGES.get(name, (variable.low, variable.high))))
    return design


def pool_of(*designs: Design, brief: Brief = NOMINAL) -> Pool:
    """Return the pool of designs of one architecture; on the default site and duty, without a batch."""
    build = ARCHITECTURES[str(designs[0]["architecture"])].build
    return Pool([build(read_design(design, brief.machine), brief) for design in designs], brief)


def untrimmed_requests(pool: Pool, user_C: float, hotter_K: float = 0.0) -> list[Request]:
    """Return the nominal machine's run of every plant at the offset that a trim begins with, or so much hotter."""
    return [
        Request(i, user_C, plant.setting.first_K(user_C) + hotter_K, MACHINE)
        for i, plant in enumerate(pool.plants)
    ]


def nominal_requests(pool: Pool) -> list[Request]:
    """Return the nominal machine's run of every plant at the default set-point, trimmed as far as it lets itself."""
    batch = Batch(pool)
    trims, _ = batch.trimmed()
    offsets_K = [trim.tried[-1][0] if trim.tried else trim.offset_K for trim in trims]
    return [Request(plant, batch.user_C, offset_K, MACHINE) for plant, offset_K in enumerate(offsets_K)]


def nominal_request(pool: Pool) -> Request:
    """Return the run of the first plant."""
    return nominal_requests(pool)[0]
