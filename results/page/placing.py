"""Where the letters of picked designs stand beside their points, so that none hides another."""

from __future__ import annotations

from collections.abc import Sequence

LETTER_PX = (15.0, 17.0)
"""Width and height that a letter takes."""
BESIDE_PX = tuple((x, y) for y in (-5.0, 12.0, -22.0, 29.0, -39.0, 46.0) for x in (7.0, -22.0))
"""Places of a letter's lower left corner from its point, right and down positive, the best first."""

Pixels = tuple[float, float]


def places_px(points_px: Sequence[Pixels], frame_px: Pixels) -> list[Pixels]:
    """Return for each point the offset of its letter [px, right and down], the first that is free.

    Points lie in a frame of that width and height [px, right and down from its upper left corner]. Where no place
    is free the first one is taken.
    """
    taken: list[Pixels] = []
    found = []
    for x, y in points_px:
        corners = [(x + dx, y + dy) for dx, dy in BESIDE_PX]
        free = [k for k, corner in enumerate(corners) if _is_free(corner, taken, frame_px)]
        best = free[0] if free else 0
        taken.append(corners[best])
        found.append(BESIDE_PX[best])
    return found


def _is_free(corner: Pixels, taken: Sequence[Pixels], frame_px: Pixels) -> bool:
    x, y = corner
    width, height = LETTER_PX
    is_inside = 0.0 <= x <= frame_px[0] - width and height <= y <= frame_px[1]
    return is_inside and all(
        abs(x - other_x) >= width or abs(y - other_y) >= height for other_x, other_y in taken
    )
