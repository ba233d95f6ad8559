"""The trim: one offset for each design between its boiler set-point and what the user asks for.

The factory sets it so that the mean over exactly the scored shots hits the user's set-point; what is left of
it then enters the deviation only in second order.
"""

from __future__ import annotations

from dataclasses import dataclass, field

CLOSE_K = 0.02
MOST_RUNS = 4


@dataclass
class Trim:
    """The search for one design's offset: a secant between bounds, bisecting once the root is enclosed."""

    offset_K: float
    low_K: float
    high_K: float
    tried: list[tuple[float, float]] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Start inside the bounds."""
        self.offset_K = self._inside(self.offset_K)

    @property
    def bias_K(self) -> float:
        """Return the mean shot error of the last run."""
        return self.tried[-1][1]

    @property
    def done(self) -> bool:
        """Return whether the last run is close enough."""
        return bool(self.tried) and abs(self.bias_K) <= CLOSE_K

    @property
    def given_up(self) -> bool:
        """Return whether no more runs are allowed, or the next would be the last one again: at a bound."""
        stuck = bool(self.tried) and self.offset_K == self.tried[-1][0]
        return not self.done and (len(self.tried) >= MOST_RUNS or stuck)

    def note(self, bias_K: float) -> None:
        """Note a run's bias at the present offset and move to the next."""
        self.tried.append((self.offset_K, bias_K))
        if not self.done and len(self.tried) < MOST_RUNS:
            self.offset_K = self._inside(self._next())

    def _next(self) -> float:
        offset, bias = self.tried[-1]
        if len(self.tried) == 1:
            return offset - bias
        before, bias_before = self.tried[-2]
        slope = (bias - bias_before) / (offset - before) if offset != before else 1.0
        guess = offset - bias / slope if slope > 0.0 else offset - bias
        below = max((o for o, b in self.tried if b < 0.0), default=self.low_K)
        above = min((o for o, b in self.tried if b > 0.0), default=self.high_K)
        enclosed = below > self.low_K and above < self.high_K
        return guess if not enclosed or below < guess < above else 0.5 * (below + above)

    def _inside(self, offset_K: float) -> float:
        return min(max(offset_K, self.low_K), self.high_K)
