"""The search without any study around it: asks for genomes, is told their objectives and constraints.

What `ask` returns depends on the seed and on what was asked and told before, in that order, and on nothing
else; every draw comes from a generator keyed by (seed, genomes asked so far).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from scipy.stats import qmc
from threadpoolctl import ThreadpoolController

from boilerfront.search.archive import Archive, Indices, Rows
from boilerfront.search.branches import neglected, reserved
from boilerfront.search.coding import Coding, Floats
from boilerfront.search.credit import EVOLUTION, LEAST, SURROGATE, Credit, rewards
from boilerfront.search.evolution import children, parents
from boilerfront.search.proposal import proposed

Array = NDArray[np.generic]

POPULATION = 50
SHARES = ((0, 1.0), (960, 0.5), (2400, 0.15))
"""After how many designs the surrogate plans which share of the batches: its gain is in the first hundreds; later it
draws the search into single valleys where there are many, and takes time (`tests.bench.bench_ablation`)."""
_AWAITED, _AWAITED_LEAST = 4, 400  # batches, and rows, that are remembered until they are told
_BLAS = ThreadpoolController()
_SOBOL = 1  # tells the stream of the first designs from those of the batches


@dataclass(frozen=True)
class Options:
    """What a person may choose: the seed, the parents of evolution, how often a surrogate plans."""

    seed: int
    population: int = POPULATION
    surrogate: float = 1.0


@dataclass(frozen=True)
class Awaited:
    """Asked rows that nobody told yet: genomes, their serials in the order of asking, their sources."""

    genomes: Floats
    serial: Indices
    source: Indices

    def without(self, serials: Indices) -> Awaited:
        """Return the rows whose serial is not among `serials`."""
        return self._take(~np.isin(self.serial, serials))

    def joined(self, other: Awaited) -> Awaited:
        """Return `other`, the batch just asked, after the latest of these rows."""
        both = Awaited(
            np.vstack([self.genomes, other.genomes]),
            np.concatenate([self.serial, other.serial]),
            np.concatenate([self.source, other.source]),
        )
        most = max(_AWAITED * len(other.serial), _AWAITED_LEAST)
        return both._take(np.arange(len(both.serial)) >= len(both.serial) - most)

    def _take(self, index: NDArray[np.bool_]) -> Awaited:
        return Awaited(self.genomes[index], self.serial[index], self.source[index])


class Engine:
    """A bounded search over the unit cube of `coding`, for any number of minimised objectives."""

    def __init__(self, coding: Coding, options: Options) -> None:
        self.coding = coding
        self.options = options
        self.asked = 0
        self.told = 0
        self.credit = Credit.fresh()
        none = np.zeros(0, np.int64)
        self.archive = Archive(Rows(np.zeros((0, coding.size)), np.zeros((0, 0)), np.zeros((0, 0)), none))
        self.awaited = Awaited(np.zeros((0, coding.size)), none, none)

    def ask(self, count: int) -> Floats:
        """Return `count` genomes to evaluate; their serials run on from `asked`."""
        rng = np.random.default_rng([self.options.seed, self.asked])
        sources = self._sources(count)
        # With more threads BLAS adds in another order, and the last bits differ.
        with _BLAS.limit(limits=1):
            genomes = self._first(count) if sources[0] < 0 else self._guided(sources, rng)
        self._note(genomes, sources)
        return genomes

    def skip(self, genomes: Floats) -> None:
        """Go on as if `ask` had returned `genomes`: what a replay does instead of asking again."""
        self._note(genomes, self._sources(len(genomes)))

    def tell(self, genomes: Floats, objectives: Floats, constraints: Floats, *, serials: Indices) -> None:
        """Take in evaluated rows, in this order.

        Args:
            genomes: (n, d), canonical.
            objectives: (n, m), minimised; a row that is not finite ranks last and is never fitted.
            constraints: (n, c), held when <= 0; NaN where a row has no such constraint. A later call may
                have more columns, never another order of the old ones.
            serials: (n,) place in the order of asking, -1 for a row that was not asked for.
        """
        rows = Rows(genomes, objectives, constraints, self.told + np.arange(len(genomes)))
        if self.archive.feasible.any():
            earned = rewards(self.archive, rows, population=self.options.population)
            self.credit = self.credit.after(earned, self._source_of(serials))
        self.archive = self.archive.with_told(rows)
        self.awaited = self.awaited.without(serials)
        self.told += len(genomes)

    def forget(self, serials: Indices) -> None:
        """Await these asked rows no longer: their evaluation failed."""
        self.awaited = self.awaited.without(serials)

    def state(self) -> dict[str, Array]:
        """Return everything that later asks depend on, as arrays for an .npz file."""
        rows, awaited = self.archive.rows, self.awaited
        return {
            "counts": np.array([self.asked, self.told, self.options.seed, self.options.population]),
            "surrogate": np.array(self.options.surrogate),
            "credit": np.vstack([self.credit.reward, self.credit.count]),
            **{f"rows_{name}": value for name, value in vars(rows).items()},
            **{f"awaited_{name}": value for name, value in vars(awaited).items()},
        }

    @classmethod
    def from_state(cls, coding: Coding, state: Mapping[str, Array]) -> Engine:
        """Return the engine that `state` was taken of; it goes on bit for bit."""
        asked, told, seed, population = (int(value) for value in state["counts"])
        options = Options(seed=seed, population=population, surrogate=float(state["surrogate"]))
        engine = cls(coding, options)
        engine.asked, engine.told = asked, told
        engine.credit = Credit(*np.asarray(state["credit"], np.float64))
        engine.archive = Archive(Rows(**_part(state, "rows_")))
        engine.awaited = Awaited(**_part(state, "awaited_"))
        return engine

    def _sources(self, count: int) -> Indices:
        """Return the source of each row of the next batch: -1 while the cube is being filled.

        The last rows, -1 too, are for neglected branches; what they earn is nobody's merit.
        """
        if self.told < max(2 * (self.coding.size + 1), 30):
            return np.full(count, -1)
        share = self.credit.share() if self.archive.feasible.any() else LEAST
        surrogates = round(share * count) if self._is_with_surrogate(count) else 0
        sources = np.where(np.arange(count) < surrogates, SURROGATE, EVOLUTION)
        return np.where(np.arange(count) < count - reserved(self.coding, count), sources, -1)

    def _is_with_surrogate(self, count: int) -> bool:
        """Return whether the next batch is planned with the surrogate: evenly spaced, by what was asked alone.

        A batch costs the model about the same however few of its designs come from it: what saves time is a
        batch without it.
        """
        share = self.options.surrogate * [share for designs, share in SHARES if designs <= self.asked][-1]
        return math.floor(share * (self.asked + count) / count) > math.floor(share * self.asked / count)

    def _source_of(self, serials: Indices) -> Indices:
        known = dict(zip(self.awaited.serial.tolist(), self.awaited.source.tolist(), strict=True))
        return np.array([known.get(serial, -1) for serial in serials.tolist()], dtype=np.int64)

    def _first(self, count: int) -> Floats:
        sequence = qmc.Sobol(
            self.coding.size, rng=np.random.default_rng([self.options.seed, self.asked, _SOBOL])
        )
        # A power of two keeps the balance of the net, and the few behind `count` are dropped.
        return self.coding.canonical(sequence.random_base2((count - 1).bit_length())[:count])

    def _guided(self, sources: Indices, rng: Generator) -> Floats:
        rows, count = self.archive.rows, len(sources)
        seen = {genome.tobytes() for known in (rows.genomes, self.awaited.genomes) for genome in known}
        wanted = int((sources == SURROGATE).sum())
        found = proposed(self.archive, count=wanted, batch=count, coding=self.coding, rng=rng)
        genomes = _unseen(found, seen)
        mates = rows.genomes[parents(self.archive, self.options.population)]
        kept_free = int((sources < 0).sum())
        for _ in range(3):
            born = children(mates, count=count - kept_free - len(genomes), coding=self.coding, rng=rng)
            genomes = np.vstack([genomes, _unseen(born, seen)])
        if kept_free:
            awaited = self.awaited.genomes
            born = neglected(self.archive, awaited, count=kept_free, coding=self.coding, rng=rng)
            genomes = np.vstack([genomes, _unseen(born, seen)])
        # A small space may be used up: then anything, seen or not.
        rest = rng.random((count - len(genomes), self.coding.size))
        return np.vstack([genomes, self.coding.canonical(rest)])

    def _note(self, genomes: Floats, sources: Indices) -> None:
        serials = self.asked + np.arange(len(genomes))
        self.awaited = self.awaited.joined(Awaited(genomes, serials, sources))
        self.asked += len(genomes)


def _unseen(genomes: Floats, seen: set[bytes]) -> Floats:
    """Return those not in `seen`, each once, and add them to it."""
    fresh = []
    for k, genome in enumerate(genomes):
        key = genome.tobytes()
        if key not in seen:
            seen.add(key)
            fresh.append(k)
    return genomes[fresh]


def _part(state: Mapping[str, Array], prefix: str) -> dict[str, Any]:
    return {name.removeprefix(prefix): value for name, value in state.items() if name.startswith(prefix)}
