"""How upright bodies pack into the casing's cavity, and what slack is left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot

from boilerfront.model.machine import Casing


@dataclass(frozen=True)
class Packed:
    """What an upright vessel or block with its insulation takes in the casing."""

    width_m: float
    depth_m: float
    height_m: float
    volume_m3: float
    is_round: bool = True


def packing_slack_mm(bodies: Sequence[Packed], casing: Casing) -> float:
    """Return the smallest slack of the bodies in the casing's cavity [mm], negative where they do not fit.

    Slacks are those to the cavity's height, width and depth, and the gap between neighbours. Two round bodies
    stand in opposite corners of the floor, others in a row along the side that leaves the larger gap.
    """
    width, depth, height = (1e-3 * mm for mm in (casing.width_mm, casing.depth_mm, casing.height_mm))
    walls = min(
        height - max(body.height_m for body in bodies),
        width - max(body.width_m for body in bodies),
        depth - max(body.depth_m for body in bodies),
    )
    across = width - sum(body.width_m for body in bodies)
    along = depth - sum(body.depth_m for body in bodies)
    gap = max(across, along)
    if len(bodies) == 2 and all(body.is_round for body in bodies):
        gap = _corner_gap(bodies[0].width_m, bodies[1].width_m, width, depth)
    return 1e3 * min(walls, gap)


def _corner_gap(one_m: float, other_m: float, width_m: float, depth_m: float) -> float:
    """Return the gap between two circles pushed into opposite corners of a rectangle [m]."""
    mean = 0.5 * (one_m + other_m)
    return hypot(max(width_m - mean, 0.0), max(depth_m - mean, 0.0)) - mean
