"""The trim: one offset for each design between its boiler set-point and what the user asks for.

The factory sets it so that the mean over exactly the scored shots hits the user's set-point; what is left of
it then enters the deviation only in second order.
"""

from __future__ import annotations

from dataclasses import dataclass, field

CLOSE_K = 0.02
MOST_RUNS = 4
MOST_RUNS_OVER_JUMPS = 8
JUMP_AT_K = 0.05
JUMP_K = 0.3
"""A bias that changes its sign within JUMP_AT_K of the offset jumps: the smaller one is taken, up to JUMP_K."""


@dataclass
class Trim:
    """The search for one design's offset: a secant between bounds, bisecting once the root is enclosed."""

    offset_K: float
    low_K: float
    high_K: float
    per_user_K: float = 1.0
    """How many kelvin of the boiler a kelvin of the shot is expected to take."""
    jumps: bool = False
    """Whether the bias may jump: a machine that is flushed or waits for its band does so a second more or less."""
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
        """Return whether the last run is close enough, or as close as a jump lets it come."""
        if not self.tried:
            return False
        return abs(self.bias_K) <= CLOSE_K or self._is_at_a_jump()

    @property
    def most_runs(self) -> int:
        """Return how many runs the trim may take."""
        return MOST_RUNS_OVER_JUMPS if self.jumps else MOST_RUNS

    def _is_at_a_jump(self) -> bool:
        if not self.jumps or abs(self.bias_K) > JUMP_K:
            return False
        other = [(o, b) for o, b in self.tried if b * self.bias_K < 0.0]
        return any(abs(o - self.tried[-1][0]) <= JUMP_AT_K and abs(b) >= abs(self.bias_K) for o, b in other)

    @property
    def given_up(self) -> bool:
        """Return whether no more runs are allowed, or the next would be the last one again: at a bound."""
        stuck = bool(self.tried) and self.offset_K == self.tried[-1][0]
        return not self.done and (len(self.tried) >= self.most_runs or stuck)

    def note(self, bias_K: float) -> None:
        """Note a run's bias at the present offset and move to the next."""
        self.tried.append((self.offset_K, bias_K))
        if not self.done and len(self.tried) < self.most_runs:
            self.offset_K = self._inside(self._next())

    def _next(self) -> float:
        offset, bias = self.tried[-1]
        if len(self.tried) == 1:
            return offset - bias * self.per_user_K
        before, bias_before = self.tried[-2]
        slope = (bias - bias_before) / (offset - before) if offset != before else 1.0
        guess = offset - bias / slope if slope > 0.0 else offset - bias
        below = max((o for o, b in self.tried if b < 0.0), default=self.low_K)
        above = min((o for o, b in self.tried if b > 0.0), default=self.high_K)
        enclosed = below > self.low_K and above < self.high_K
        return guess if not enclosed or below < guess < above else 0.5 * (below + above)

    def _inside(self, offset_K: float) -> float:
        return min(max(offset_K, self.low_K), self.high_K)
