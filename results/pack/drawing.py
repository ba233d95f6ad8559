"""A sheet on which tags are drawn last, above all pipes, and where things stand on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from boilerfront.model.describe import Body, Description
from boilerfront.results.pack.sheet import TAG_RADIUS, Point, Sheet

WIDTH, HEIGHT = 1000.0, 680.0
FLOOR_Y = 470.0
"""Where bodies stand."""
MANIFOLD_Y = 580.0
"""Where cold water comes along."""
TALLEST, WIDEST = 230.0, 150.0
"""Of the largest body on the sheet: all have one scale."""
STEAM_X, BREW_X, GROUP_X = 400.0, 680.0, 900.0
TEE_X, RISE_X, WAND_X = 235.0, 545.0, 200.0
"""Of the branch to the refill, of the pipe up to a coil, of the wand."""
TOP_Y, OUT_Y = 60.0, 150.0
"""Of the steam line, and of the pipe to the group."""
BLOCK_TOP_Y, BLOCK_HALF = 240.0, 45.0
TAG_STEP = 2.0 * TAG_RADIUS + 4.0


@dataclass
class Drawing:
    """The sheet; `meanings` of all tags that may be drawn on it, `tags` those that were, in that order."""

    sheet: Sheet
    meanings: Mapping[str, str]
    tags: dict[str, str] = field(default_factory=dict)
    _at: dict[str, tuple[Point, Point | None]] = field(default_factory=dict)

    def tag(self, x: float, y: float, tag: str, *, to: Point | None = None) -> None:
        """Set a tag, tied to a point; a tag that has no meaning is none: `KeyError`."""
        self.tags[tag] = self.meanings[tag]
        self._at[tag] = ((x, y), to)

    def column(self, x: float, tags: list[tuple[str, float, Point]]) -> None:
        """Set tags one above the other near the heights that they ask for, from the lowest up, none on another."""
        floor = FLOOR_Y - TAG_RADIUS
        for tag, asked, to in tags:
            y = min(asked, floor)
            self.tag(x, y, tag, to=to)
            floor = y - TAG_STEP

    def draw_tags(self) -> None:
        """Draw all tags above what is there."""
        for tag, ((x, y), to) in self._at.items():
            self.sheet.tag(x, y, tag, to=to)


@dataclass(frozen=True)
class Placed:
    """Where a body stands on the sheet: its middle, half its width, its top."""

    body: Body
    x: float
    half: float
    top: float

    def at(self, share: float) -> float:
        """Return the height on the sheet of a share of the body's height, from its floor."""
        return FLOOR_Y - share * (FLOOR_Y - self.top)


def placed(machine: Description) -> dict[str, Placed]:
    """Return where the vessels stand."""
    if not machine.bodies:
        return {}
    scale = min(
        TALLEST / max(each.outer_height_mm for each in machine.bodies),
        WIDEST / max(each.outer_diameter_mm for each in machine.bodies),
    )
    return {
        body.name: Placed(
            body,
            BREW_X if body.name == "brew" else STEAM_X,
            0.5 * scale * body.outer_diameter_mm,
            FLOOR_Y - scale * body.outer_height_mm,
        )
        for body in machine.bodies
    }


def helix_shares(height_mm: float, vessel_mm: float) -> tuple[float, float]:
    """Return where a helix begins and ends, as shares of the vessel's height: it is centred, as it is simulated."""
    share = min(height_mm / vessel_mm, 1.0)
    return 0.5 * (1.0 - share), 0.5 * (1.0 + share)


def wet_share(height_mm: float, vessel_mm: float, level: float) -> float:
    """Return the part of a centred helix under the water line, a share of the vessel's height."""
    low, high = helix_shares(height_mm, vessel_mm)
    return min(max((level - low) / (high - low), 0.0), 1.0)
