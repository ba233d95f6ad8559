"""One check: a number that we compute beside one that we did not, and how far apart they may lie."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from math import isfinite
from typing import NamedTuple


class Kind(StrEnum):
    """What stands on the expected side."""

    PUBLISHED = "published"
    """A number printed in a release, a book or a table, or made once with a library."""
    LIBRARY = "library"
    """A library that is called now."""
    CLOSED = "closed form"
    """A closed form or arithmetic, worked out apart from our code."""
    RECALLED = "recalled"
    """A formula from memory, worked out apart from our code: holds or fails, but is not counted as published."""
    BAND = "band"
    """A range from memory: shown, and decides nothing."""
    PROOF = "proof"
    """Our model against a finer or another solution of the same equations, or a balance."""
    SHOWN = "shown"
    """As a proof, but too small a matter to decide anything."""


COUNTED = (Kind.PUBLISHED, Kind.LIBRARY)
UNDECIDED = (Kind.BAND, Kind.SHOWN)


@dataclass(frozen=True, kw_only=True)
class Allowed:
    """How far apart two numbers may lie: a part of the expected one, an absolute difference, or the sum of both.

    `at_least`: more than what is expected is never too much.
    """

    why: str
    relative: float = 0.0
    absolute: float = 0.0
    at_least: bool = False

    def of(self, expected: float) -> float:
        """Return the difference that is allowed beside `expected`."""
        return self.relative * abs(expected) + self.absolute


@dataclass(frozen=True, kw_only=True)
class Check:
    """One row of the table; `row` is its number in the reference sheet, empty where it has none."""

    group: str
    row: str
    what: str
    source: str
    expected: float
    computed: float
    allowed: Allowed
    unit: str
    kind: Kind

    @property
    def difference(self) -> float:
        """Return computed less expected."""
        return self.computed - self.expected

    @property
    def holds(self) -> bool:
        """Return whether the numbers lie close enough; what is not a number never does."""
        return isfinite(self.difference) and self.excess <= self.allowed.of(self.expected)

    @property
    def excess(self) -> float:
        """Return the size of the difference where it counts."""
        return max(-self.difference, 0.0) if self.allowed.at_least else abs(self.difference)

    @property
    def fails(self) -> bool:
        """Return whether this check alone makes the validation fail."""
        return self.kind not in UNDECIDED and not self.holds


class Value(NamedTuple):
    """What a check compares: the expected number, ours, its unit, its number in the reference sheet."""

    what: str
    expected: float
    computed: float
    unit: str = ""
    row: str = ""


class Band(NamedTuple):
    """A range from memory and our number."""

    what: str
    low: float
    high: float
    computed: float
    unit: str = ""
    row: str = ""


@dataclass
class Group:
    """Collects the checks of one subject."""

    name: str
    checks: list[Check] = field(default_factory=list)

    def add(
        self, values: Iterable[Value], *, source: str, allowed: Allowed, kind: Kind = Kind.PUBLISHED
    ) -> None:
        """Add checks that share source and allowance."""
        self.checks += [
            Check(
                group=self.name,
                row=value.row,
                what=value.what,
                source=source,
                expected=float(value.expected),
                computed=float(value.computed),
                allowed=allowed,
                unit=value.unit,
                kind=kind,
            )
            for value in values
        ]

    def bands(self, *bands: Band) -> None:
        """Add ranges from memory: the middle is shown as expected, half the width is allowed."""
        for band in bands:
            middle, half = 0.5 * (band.low + band.high), 0.5 * (band.high - band.low)
            self.add(
                [Value(band.what, middle, band.computed, band.unit, band.row)],
                source="from memory",
                allowed=Allowed(absolute=half * (1.0 + 1e-9), why="band"),
                kind=Kind.BAND,
            )


Groups = Callable[[], Iterator[Group]]
"""What a file of checks offers: its groups, worked out when they are asked for."""
