"""When a search ends because it finds nothing better: a function of the generations alone, never of time."""

from __future__ import annotations

from collections import deque

from boilerfront.jobs.sweep import Stop


class StopRule:
    """Watches the front's hypervolume, generation by generation; without `stop` it never speaks."""

    def __init__(self, stop: Stop | None) -> None:
        self._stop = stop
        self._volumes: deque[tuple[int, float]] = deque()

    def note(self, generation: int, volume: float | None) -> bool:
        """Note how the front stands after a generation; return whether the search shall end.

        `volume` is None where there is no front yet, or it was not looked at: then nothing is compared.
        """
        if self._stop is None or volume is None:
            return False
        self._volumes.append((generation, volume))
        before = generation - self._stop.generations
        while len(self._volumes) > 1 and self._volumes[1][0] <= before:
            self._volumes.popleft()
        since, first = self._volumes[0]
        return since <= before and first > 0.0 and volume / first - 1.0 <= self._stop.no_better_than

    @property
    def words(self) -> str:
        """Return the rule as a person reads it."""
        if self._stop is None:
            return "no stop rule"
        count = self._stop.generations
        last = f"the last {count} generations" if count > 1 else "the last generation"
        return f"no better than {100 * self._stop.no_better_than:g} % in {last}"
