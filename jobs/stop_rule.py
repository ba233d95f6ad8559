"""When a search ends because it finds nothing better: a function of the generations alone, never of time."""

from __future__ import annotations

from collections import deque

from boilerfront.jobs.sweep import Stop


class StopRule:
    """Watches the front's hypervolume, generation by generation; without `stop` it never speaks."""

    def __init__(self, stop: Stop | None) -> None:
        self._stop = stop
        self._volumes: deque[float] = deque(maxlen=stop.generations + 1 if stop else 0)

    def note(self, volume: float | None) -> bool:
        """Note how the front stands after one more generation; return whether the search shall end.

        `volume` is None while there is no front: then nothing is compared.
        """
        if self._stop is None or volume is None:
            return False
        self._volumes.append(volume)
        before = self._volumes[0]
        if len(self._volumes) <= self._stop.generations or before <= 0.0:
            return False
        return volume / before - 1.0 <= self._stop.no_better_than

    @property
    def words(self) -> str:
        """Return the rule as a person reads it."""
        if self._stop is None:
            return "no stop rule"
        count = self._stop.generations
        last = f"the last {count} generations" if count > 1 else "the last generation"
        return f"no better than {100 * self._stop.no_better_than:g} % in {last}"
