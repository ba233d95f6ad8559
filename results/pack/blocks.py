"""What a printed page is made of, whoever prints it: the same blocks become HTML and PDF."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Heading:
    """A heading: level 1 is the page's own, 2 a section's, 3 one within it."""

    text: str
    level: int = 2


@dataclass(frozen=True)
class Text:
    """A paragraph."""

    text: str


@dataclass(frozen=True)
class Points:
    """A list of sentences."""

    items: tuple[str, ...]
    numbered: bool = False


@dataclass(frozen=True)
class Caution:
    """A paragraph that nobody may overlook."""

    text: str


@dataclass(frozen=True)
class Table:
    """A table of texts; `numbers` are the columns that stand to the right, `widths` their shares of the page."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: frozenset[int] = frozenset()
    widths: tuple[float, ...] = ()
    strong: frozenset[int] = field(default_factory=frozenset)
    """Rows that are sums."""


@dataclass(frozen=True)
class Picture:
    """A picture with what it shows in words: `svg` is a drawing, `png` a chart; its width is a share of the page."""

    alt: str
    caption: str
    svg: str = ""
    png: bytes = b""
    width: float = 1.0


Block = Heading | Text | Points | Caution | Table | Picture
