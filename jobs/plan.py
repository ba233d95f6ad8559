"""What is still to do: generations of designs, a budget, and what the ledger already holds.

A first start and a resume are the same thing here; a first start merely has nothing done. Generations are
always planned at full size and the budget evaluates the first rows, so more budget later goes on exactly as
if it had been asked for at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from boilerfront.jobs.sweep import Sweep

EARLY_SIZE = 48
LATE_SIZE = 96
EARLY_TRIALS = 480
AHEAD_FROM = EARLY_TRIALS
"""Trials from which on a generation may be planned ahead: before, each result tells the search too much to do
without (measured: up to .07 of the front's hypervolume at 480 designs, nothing later).
"""
TASKS_A_WORKER = 2


@dataclass(frozen=True)
class Generations:
    """How trials are numbered into generations: one size, or small ones first when `size` is 0.

    The trials before `first` were taken from an earlier run: they belong to no generation.
    """

    size: int = 0
    first: int = 0

    def __post_init__(self) -> None:
        if self.size < 0:
            raise ValueError(f"size >= 0 must hold, but got size={self.size}")

    def trials(self, generation: int) -> range:
        """Return the trial numbers of a generation at its full size."""
        low, high = self._bounds(generation)
        return range(self.first + low, self.first + high)

    def generation_of(self, trial: int) -> int:
        """Return the generation that a trial belongs to."""
        place = trial - self.first
        if self.size:
            return place // self.size
        if place < EARLY_TRIALS:
            return place // EARLY_SIZE
        return EARLY_TRIALS // EARLY_SIZE + (place - EARLY_TRIALS) // LATE_SIZE

    @property
    def ahead_from(self) -> int:
        """Return the first generation that may be planned while the one before it still runs."""
        return self.generation_of(self.first + AHEAD_FROM)

    def size_after(self, asked: int) -> int:
        """Return how large the generation is that is asked after `asked` designs."""
        return len(self.trials(self.generation_of(self.first + asked)))

    def _bounds(self, generation: int) -> tuple[int, int]:
        if self.size:
            return generation * self.size, (generation + 1) * self.size
        early = EARLY_TRIALS // EARLY_SIZE
        if generation < early:
            return generation * EARLY_SIZE, (generation + 1) * EARLY_SIZE
        low = EARLY_TRIALS + (generation - early) * LATE_SIZE
        return low, low + LATE_SIZE


def generations_of(sweep: Sweep) -> Generations:
    """Return how the trials of a sweep's run are numbered."""
    return Generations(sweep.search.generation, sweep.run.taken if sweep.run else 0)


@dataclass(frozen=True)
class Plan:
    """The generations, how many trials they shall have in all, and which of them the ledger holds."""

    generations: Generations
    budget: int
    done: frozenset[int] = field(default_factory=frozenset)

    @property
    def last_generation(self) -> int:
        """Return the last generation of which the budget wants anything."""
        return self.generations.generation_of(self._stop - 1)

    def wanted(self, generation: int) -> range:
        """Return the trials of a generation that the budget wants."""
        trials = self.generations.trials(generation)
        return range(trials.start, min(trials.stop, self._stop))

    def missing(self, generation: int) -> tuple[int, ...]:
        """Return the wanted trials that the ledger does not hold."""
        return tuple(trial for trial in self.wanted(generation) if trial not in self.done)

    def is_whole(self, generation: int) -> bool:
        """Return whether the budget wants the generation at its full size, so that it can be told."""
        return self.wanted(generation) == self.generations.trials(generation)

    @property
    def finished(self) -> bool:
        """Return whether nothing is left to do."""
        return all(trial in self.done for trial in range(self.generations.first, self._stop))

    @property
    def _stop(self) -> int:
        return self.generations.first + self.budget


def by_kind(trials: Iterable[int], kind_of: Callable[[int], object]) -> list[list[int]]:
    """Return trials in groups of one kind (designs of one architecture share a kernel), in the order of the kinds."""
    groups: dict[str, list[int]] = {}
    for trial in trials:
        groups.setdefault(str(kind_of(trial)), []).append(trial)
    return [groups[kind] for kind in sorted(groups)]


def cut(groups: Sequence[Sequence[int]], *, workers: int) -> list[tuple[int, ...]]:
    """Return groups of trials as tasks: none of two groups, evenly cut, two a worker and no more unless groups ask.

    A task costs the driver and its worker time of its own, and a small one leaves the kernel's lanes empty while it
    trims: with four a worker, a generation that waits for its last task took longer (76 instead of 86 designs/s).
    """
    filled = [tuple(group) for group in groups if group]
    wanted = TASKS_A_WORKER * max(1, workers)
    pieces = [1] * len(filled)
    for _ in range(min(wanted, sum(map(len, filled))) - len(filled)):
        largest = max(range(len(filled)), key=lambda k: len(filled[k]) / pieces[k])
        pieces[largest] += 1
    return [task for group, count in zip(filled, pieces, strict=True) for task in _even(group, count)]


def _even(trials: tuple[int, ...], pieces: int) -> list[tuple[int, ...]]:
    bounds = [len(trials) * piece // pieces for piece in range(pieces + 1)]
    return [trials[low:high] for low, high in pairwise(bounds)]
