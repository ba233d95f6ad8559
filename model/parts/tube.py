"""Copper tube that can be bought."""

from __future__ import annotations

from collections.abc import Iterable

EN_1057_MM: dict[float, tuple[float, ...]] = {
    6.0: (0.6, 0.8, 1.0),
    8.0: (0.6, 0.8, 1.0),
    10.0: (0.6, 0.8, 1.0),
    12.0: (0.6, 0.8, 1.0),
    15.0: (0.7, 0.8, 1.0),
    18.0: (0.8, 1.0),
}
"""Outside diameters and walls of EN 1057 in the sizes of a coil (from memory; a mill may not have each wall)."""
ALIKE_MM = 0.05


def unlisted_bores_mm(bores_mm: Iterable[float]) -> list[float]:
    """Return those of the bores that no tube of EN 1057 has."""
    listed = [outer - 2.0 * wall for outer, walls in EN_1057_MM.items() for wall in walls]
    return [bore for bore in bores_mm if all(abs(bore - one) > ALIKE_MM for one in listed)]
