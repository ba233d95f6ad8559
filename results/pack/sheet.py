"""A sheet to draw pipes and parts on, in plain SVG that browsers and PDF writers understand."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

Point = tuple[float, float]

INK, COLD, HOT, STEAM, HEAT, SIGNAL = "#222222", "#1f6fb2", "#b8860b", "#c0392b", "#d35400", "#555555"
_FONT = "sans-serif"
TAG_RADIUS = 17.0


class Sheet:
    """Shapes in the order in which they were drawn; y grows downwards."""

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height = width, height
        self._shapes: list[str] = []

    def svg(self, title: str) -> str:
        """Return the drawing; `title` is read aloud where pictures are not seen."""
        shapes = "\n".join(self._shapes)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.width:g} {self.height:g}" role="img" '
            f'aria-label="{escape(title)}">\n{shapes}\n</svg>\n'
        )

    def line(self, *points: Point, colour: str = INK, width: float = 1.5, dashes: str = "") -> None:
        """Draw straight strokes through points."""
        way = " ".join(f"{'L' if k else 'M'} {x:g} {y:g}" for k, (x, y) in enumerate(points))
        self._path(way, colour=colour, width=width, dashes=dashes)

    def arrow(self, x: float, y: float, *, towards: str, colour: str) -> None:
        """Draw the head of an arrow with its tip at a point; `towards` is right, left, up or down."""
        dx, dy = {"right": (1, 0), "left": (-1, 0), "up": (0, -1), "down": (0, 1)}[towards]
        back = (x - 9 * dx, y - 9 * dy)
        corners = [(x, y), (back[0] + 4 * dy, back[1] + 4 * dx), (back[0] - 4 * dy, back[1] - 4 * dx)]
        self.shape(corners, fill=colour, colour=colour)

    def shape(self, corners: Sequence[Point], *, fill: str, colour: str = INK, width: float = 1.2) -> None:
        """Draw a closed polygon."""
        way = " ".join(f"{'L' if k else 'M'} {x:g} {y:g}" for k, (x, y) in enumerate(corners))
        self._path(way + " Z", colour=colour, width=width, fill=fill)

    def box(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        *,
        fill: str = "#ffffff",
        colour: str = INK,
        round_: float = 0,
    ) -> None:
        """Draw a rectangle from its upper left corner."""
        self._shapes.append(
            f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" rx="{round_:g}" fill="{fill}" '
            f'stroke="{colour}" stroke-width="1.4"/>'
        )

    def circle(self, x: float, y: float, radius: float, *, fill: str = "#ffffff", colour: str = INK) -> None:
        """Draw a circle."""
        self._shapes.append(
            f'<circle cx="{x:g}" cy="{y:g}" r="{radius:g}" fill="{fill}" stroke="{colour}" stroke-width="1.3"/>'
        )

    def zigzag(
        self, start: Point, end: Point, *, turns: int, reach: float, colour: str, width: float
    ) -> None:
        """Draw a coil seen from the side, from one point down or up to another."""
        (x0, y0), (x1, y1) = start, end
        points = [start]
        for k in range(1, 2 * turns):
            share = k / (2 * turns)
            side = reach if k % 2 else -reach
            points.append((x0 + (x1 - x0) * share + side, y0 + (y1 - y0) * share))
        self.line(*points, end, colour=colour, width=width)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float = 15,
        side: str = "middle",
        colour: str = INK,
        bold: bool = False,
    ) -> None:
        """Write a line; `side` is the end of it that stands at the point: start, middle or end."""
        weight = ' font-weight="bold"' if bold else ""
        self._shapes.append(
            f'<text x="{x:g}" y="{y:g}" font-size="{size:g}" font-family="{_FONT}" text-anchor="{side}" '
            f'fill="{colour}"{weight}>{escape(text)}</text>'
        )

    def valve(self, x: float, y: float, *, upright: bool = False) -> None:
        """Draw a valve in a pipe: two triangles, tip to tip."""
        for side in (-1, 1):
            corners = (
                [(x, y), (x - 6, y + 10 * side), (x + 6, y + 10 * side)]
                if upright
                else [(x, y), (x + 10 * side, y - 6), (x + 10 * side, y + 6)]
            )
            self.shape(corners, fill="#ffffff")

    def tag(self, x: float, y: float, text: str, *, to: Point | None = None, colour: str = SIGNAL) -> None:
        """Draw a sensor or switch as a circle with its tag, tied to a point by a thin line."""
        if to is not None:
            self.line((x, y), to, colour=colour, width=0.9, dashes="3 2")
        self.circle(x, y, TAG_RADIUS, colour=colour)
        self.text(x, y + 4.5, text, size=13, colour=colour)

    def _path(self, way: str, *, colour: str, width: float, dashes: str = "", fill: str = "none") -> None:
        dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
        self._shapes.append(
            f'<path d="{way}" fill="{fill}" stroke="{colour}" stroke-width="{width:g}" '
            f'stroke-linejoin="round" stroke-linecap="round"{dashed}/>'
        )
