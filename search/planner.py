"""Designs by name in batches: the queue in front of the engine, and the results that wait for the next plan.

It takes in what was told only when it plans, sorted by the place in the order of asking; so neither the
order of results within a batch nor the moment at which they came can matter.
"""

from __future__ import annotations

import json
import math
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from boilerfront.search.coding import Floats
from boilerfront.search.engine import Array, Engine, Options
from boilerfront.search.space import Space, Value
from boilerfront.shared.errors import Fault, InputError

Batch = int | Callable[[int], int] | None


@dataclass(frozen=True)
class Told:
    """One evaluated design, as a study or a ledger knows it.

    Attributes:
        number: its place in the order of asking, from 0; -1 for a design that was not asked for.
        params: value of each variable; None or absent where masked.
        values: one for each objective, to be minimised, infinite where there is none; None for a design
            whose evaluation failed: it counts as missing.
        constraints: value by name; held when <= 0.
        order: place among those that were not asked for.
    """

    number: int
    params: Mapping[str, Value]
    values: Sequence[float] | None
    constraints: Mapping[str, float] = field(default_factory=dict)
    order: Sequence[int] = ()


class Planner:
    """The engine's batches as a queue of designs in `space`; `batch` is as `FrontSampler` describes it."""

    def __init__(self, space: Space, *, options: Options, batch: Batch = None) -> None:
        self.space = space
        self._batch = batch
        self._engine = Engine(space.coding, options)
        self._queue: deque[tuple[int, dict[str, Value]]] = deque()
        self._told: list[Told] = []
        self._constraints: list[str] = []

    @property
    def empty(self) -> bool:
        """Return whether the next design needs a new plan."""
        return not self._queue

    def next(self) -> tuple[int, dict[str, Value]]:
        """Return the place in the order of asking and the values of the next design."""
        if not self._queue:
            self._flush()
            first = self._engine.asked
            self._enqueue(self._engine.ask(self._batch_size()), first=first)
        return self._queue.popleft()

    def tell(self, told: Told) -> None:
        """Keep a result for the next plan."""
        self._told.append(told)

    def skip(self, designs: Sequence[Mapping[str, Value]]) -> None:
        """Go on as if the next batch had been planned and taken, and were these designs.

        Raises `InputError` unless they are one whole batch and no other has been begun.
        """
        size = self._batch_size()
        if self._queue or len(designs) != size:
            raise InputError([Fault("designs", f"{len(designs)}", f"one whole batch, here of {size}")])
        self._flush()
        self._engine.skip(self.space.encode(designs))

    def awaited(self) -> dict[int, dict[str, Value]]:
        """Return the designs that were taken and not told, by their place in the order of asking."""
        awaited = self._engine.awaited
        done = {number for number, _ in self._queue} | {told.number for told in self._told}
        rows = zip(awaited.serial.tolist(), self.space.decode(awaited.genomes), strict=True)
        return {number: params for number, params in rows if number not in done}

    def state(self) -> dict[str, Array]:
        """Return everything that later designs depend on, as arrays for an .npz file."""
        told = [
            [row.number, dict(row.params), row.values, dict(row.constraints), row.order] for row in self._told
        ]
        return {
            **self._engine.state(),
            "queued": np.array(len(self._queue)),
            "constraints": np.array(self._constraints, dtype=np.str_),
            "waiting": np.array(json.dumps(told)),
        }

    @classmethod
    def from_state(cls, state: Mapping[str, Array], *, space: Space, batch: Batch = None) -> Planner:
        """Return the planner that `state` was taken of, with the `space` and `batch` it had."""
        engine = Engine.from_state(space.coding, state)
        planner = cls(space, options=engine.options, batch=batch)
        planner._engine = engine
        planner._constraints = [str(name) for name in state["constraints"]]
        planner._told = [Told(*fields) for fields in json.loads(str(state["waiting"]))]
        queued = int(str(state["queued"]))
        waiting = engine.awaited.genomes[len(engine.awaited.serial) - queued :]
        planner._enqueue(waiting, first=engine.asked - queued)
        return planner

    @property
    def options(self) -> Options:
        """Return the options of the engine."""
        return self._engine.options

    def _batch_size(self) -> int:
        asked = self._engine.asked
        if callable(self._batch):
            return self._batch(asked)
        return self._batch or (48 if asked < 480 else 96)

    def _enqueue(self, genomes: Floats, *, first: int) -> None:
        self._queue.extend(enumerate(self.space.decode(genomes), start=first))

    def _flush(self) -> None:
        """Tell the engine what waits, those first that nobody asked for."""
        told = sorted(self._told, key=lambda row: (row.number, tuple(row.order)))
        self._told = []
        self._engine.forget(np.array([row.number for row in told if row.values is None], dtype=np.int64))
        told = [row for row in told if row.values is not None]
        if not told:
            return
        for row in told:
            self._constraints += [name for name in sorted(row.constraints) if name not in self._constraints]
        constraints = [[row.constraints.get(name, math.nan) for name in self._constraints] for row in told]
        self._engine.tell(
            self.space.encode([row.params for row in told]),
            np.array([row.values for row in told], dtype=np.float64),
            np.array(constraints, dtype=np.float64).reshape(len(told), len(self._constraints)),
            serials=np.array([row.number for row in told], dtype=np.int64),
        )
