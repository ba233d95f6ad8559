"""Convergence with the pieces of the coil: eight, the kernel's twelve, eighteen."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from math import log

import numpy as np

from boilerfront.model import runs
from boilerfront.shared.shapes import Floats
from tests.model.random_designs import random_designs
from tests.validate.checks import Allowed, Group, Kind, Value
from tests.validate.machines import nominal_requests, pool_of
from tests.validate.steps import quantities

ARCHITECTURE = "dual_boiler_coil"
COUNTS = (8, 12, 18)
RATIO = 1.5
DESIGNS = 2
UNITS = {"shots before steaming": "K", "slug": "mL"}
NAME = "SEGMENTS"
ORDER = Allowed(absolute=0.5, why="mixed cells: first order, eight are few", at_least=True)
DISTANCE = {
    "shots before steaming": Allowed(absolute=0.1, why="the least that a text may call a difference"),
    "slug": Allowed(absolute=0.5, why="a third of a second of a shot"),
}


@contextmanager
def segments(count: int) -> Iterator[None]:
    """Build coils of so many pieces meanwhile."""
    holders = [
        module
        for name, module in sys.modules.items()
        if name.startswith("boilerfront.model.") and hasattr(module, NAME)
    ]
    before = [getattr(module, NAME) for module in holders]
    kinds = dict(runs._TOPOLOGIES)
    try:
        for module in holders:
            setattr(module, NAME, count)
        runs._TOPOLOGIES.clear()
        yield
    finally:
        for module, value in zip(holders, before, strict=True):
            setattr(module, NAME, value)
        runs._TOPOLOGIES.clear()
        runs._TOPOLOGIES.update(kinds)


def cut(count: int) -> dict[str, Floats]:
    """Return what designs of a compact machine do with coils of `count` pieces, [designs, values] by name."""
    designs = random_designs(DESIGNS, 3, architecture=ARCHITECTURE)
    requests = nominal_requests(pool_of(*designs))  # one trim for all counts
    with segments(count):
        pool = pool_of(*designs)
        pieces = sum(name.startswith("coil_") for name in pool.topology.names)
        if pieces != count + 2:
            raise ValueError(
                f"a coil of {count} pieces and two headers was asked for, and has {pieces} nodes"
            )
        ran = pool.run(requests)
    each = [quantities(out, shots) for out, shots in zip(ran.out, ran.shots, strict=True)]
    return {name: np.array([one[name] for one in each]) for name in UNITS}


def segment_group(found: dict[int, dict[str, Floats]]) -> Group:
    """Return the checks: observed order, and how far twelve pieces lie from ever more."""
    group = Group("pieces of the coil")
    few, kernel, many = (found[count] for count in COUNTS)
    for design in range(DESIGNS):
        for name, unit in UNITS.items():
            a, b, c = (one[name][design] for one in (few, kernel, many))
            order = log(float(np.linalg.norm(a - b)) / float(np.linalg.norm(b - c))) / log(RATIO)
            value = Value(f"order of {name}, compact design {design}", 1.0, order)
            group.add([value], source="8, 12, 18 pieces", allowed=ORDER, kind=Kind.PROOF)
            limit = c + (c - b) / (RATIO - 1.0)
            worst = int(np.argmax(np.abs(b - limit)))
            value = Value(f"{name}, compact design {design}", limit[worst], b[worst], unit)
            group.add([value], source="limit of more pieces", allowed=DISTANCE[name], kind=Kind.PROOF)
    return group
