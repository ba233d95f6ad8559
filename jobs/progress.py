"""Progress in the words of a design lead: designs, rate, time left, size of the front and how it grew."""

from __future__ import annotations

import contextlib
import os
import sys
from collections import deque
from dataclasses import dataclass, field
from typing import TextIO

from boilerfront.jobs.state import State

WINDOW_S = 600.0
"""Rate and growth are those of the last ten minutes."""
_PLENTY = 1_000
"""Columns of a terminal that does not tell how many it has."""
_PAUSE_TERMINAL_S = 1.0
_PAUSE_PLAIN_S = 30.0


@dataclass
class Meter:
    """Rate of evaluation and growth of the front, from what is noted with its time."""

    _trials: deque[tuple[float, int]] = field(default_factory=deque)
    _volumes: deque[tuple[float, float]] = field(default_factory=deque)

    def note_trials(self, now: float, trials: int) -> None:
        """Note how many trials are done in all."""
        self._trials.append((now, trials))
        _forget(self._trials, now)

    def note_volume(self, now: float, volume: float | None) -> None:
        """Note the front's hypervolume."""
        if volume is not None:
            self._volumes.append((now, volume))
            _forget(self._volumes, now)

    @property
    def rate_per_s(self) -> float | None:
        """Return designs a second over the window, None until two moments are known."""
        if len(self._trials) < 2:
            return None
        (start, before), (end, after) = self._trials[0], self._trials[-1]
        return (after - before) / (end - start) if end > start and after > before else None

    @property
    def growth(self) -> tuple[float | None, float]:
        """Return the front's relative growth and the seconds that it took, (None, 0) while unknown."""
        if len(self._volumes) < 2 or not self._volumes[0][1]:
            return None, 0.0
        (start, before), (end, after) = self._volumes[0], self._volumes[-1]
        return after / before - 1.0, end - start


def _forget(moments: deque[tuple[float, int]] | deque[tuple[float, float]], now: float) -> None:
    while len(moments) > 2 and moments[1][0] <= now - WINDOW_S:
        moments.popleft()


def words(state: State) -> str:
    """Return a running run's progress as one line."""
    parts = [f"{state.trials:,} of {state.budget:,} designs"]
    if state.rate_per_s:
        parts.append(f"{state.rate_per_s:.3g} a second")
    if state.time_left_s is not None:
        parts.append(f"{duration(state.time_left_s)} left")
    parts.append(f"{state.front:,} on the front" if state.front else "no feasible design yet")
    if state.growth is not None and state.growth_over_s >= 1.0:
        grew = f"{100 * state.growth:.1f} %" if state.growth < 1.0 else f"{1.0 + state.growth:.1f}-fold"
        parts.append(f"the front grew {grew} in the last {duration(state.growth_over_s)}")
    return ", ".join(parts)


def duration(seconds: float) -> str:
    """Return a time span as a person says it."""
    if seconds < 100:
        return f"{seconds:.0f} s"
    if seconds < 100 * 60:
        return f"{seconds / 60:.0f} min"
    return f"{seconds / 3600:.1f} h"


@dataclass
class Teller:
    """What the terminal shows: one changing line on a terminal, now and then a plain line elsewhere."""

    stream: TextIO | None = field(default_factory=lambda: sys.stderr)
    """None where standard error is closed, as under some service managers."""
    quiet: bool = False
    _last: float | None = None
    _shown: int = 0

    def say(self, text: str) -> None:
        """Print a sentence of its own."""
        if not self.quiet:
            self._write(self._wiped() + text + "\n")
            self._shown = 0

    def progress(self, now: float, text: str) -> None:
        """Show progress, unless it was shown a moment ago."""
        terminal = self.stream is not None and self.stream.isatty()
        pause = _PAUSE_TERMINAL_S if terminal else _PAUSE_PLAIN_S
        if self.quiet or (self._last is not None and now - self._last < pause):
            return
        self._last = now
        text = _cut(text, self._width()) if terminal else text
        self._write(self._wiped() + text + ("" if terminal else "\n"))
        self._shown = len(text) if terminal else 0

    def clear(self) -> None:
        """Take the changing line away, for whoever prints next."""
        self._write(self._wiped())
        self._shown = 0

    def _width(self) -> int:
        """Return the terminal's columns, plenty where it does not tell."""
        try:
            return os.get_terminal_size(self.stream.fileno() if self.stream else -1).columns or _PLENTY
        except (OSError, ValueError):
            return _PLENTY

    def _wiped(self) -> str:
        return "\r" + " " * self._shown + "\r" if self._shown else ""

    def _write(self, text: str) -> None:
        if self.stream is None:
            return
        # The terminal may be gone after a hang-up: the run goes on without it.
        with contextlib.suppress(OSError, ValueError):
            self.stream.write(text)
            self.stream.flush()


def _cut(text: str, width: int) -> str:
    """Return a text that leaves a column free: a line that wraps cannot be wiped."""
    return text if len(text) < width else text[: width - 2] + "…"
