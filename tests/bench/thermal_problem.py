"""Our own model as one of the problems: all architectures of a starter, nominal machines, four objectives.

A searcher that knows only a box gets the unit cube of the sweep's space, each choice as a cell of one coordinate;
one of optuna gets the space itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache, cached_property
from pathlib import Path
from typing import Any

import numpy as np

from boilerfront.jobs.ranges import Completion, search_space
from boilerfront.jobs.study import NOT_READY, outcome
from boilerfront.jobs.sweep import Sweep, load_sweep
from boilerfront.jobs.work import Work, model_evaluator
from boilerfront.model.glossary import MARGINS, OBJECTIVES
from boilerfront.search import Space
from tests.bench.search_problems import Floats, Problem

STARTER = Path("jobs/starters/compact-230v")


class Thermal(Problem):
    """Designs are genomes of the sweep's space; a margin that an architecture lacks counts as held."""

    @cached_property
    def sweep(self) -> Sweep:
        """Return the starter's sweep, each design rated once without its batch."""
        sweep = load_sweep(STARTER)
        return sweep.model_copy(
            update={"tolerances": sweep.tolerances.model_copy(update={"samples": 0}), "name": self.name}
        )

    @cached_property
    def space(self) -> Space:
        """Return the open variables of all architectures."""
        return search_space(self.sweep.variables)

    @property
    def bounds(self) -> tuple[Floats, Floats]:
        """Return the ends of the unit cube."""
        return np.zeros(len(self.space)), np.ones(len(self.space))

    def designs(self, params: Sequence[Mapping[str, Any]]) -> Floats:
        """Return the genomes of what a study chose."""
        return self.space.encode(params)

    def evaluate(self, designs: Floats) -> tuple[Floats, Floats]:
        """Return objectives (n, 4), infinite where a design does not get ready, and constraints."""
        completion = Completion(self.sweep.variables)
        chosen = [completion(row) for row in self.space.decode(self.space.coding.canonical(designs))]
        rows = Work(model_evaluator, self.sweep.brief())(range(len(chosen)), chosen)
        objectives, constraints = [], []
        for row in rows:
            values, limits = outcome(row)
            objectives.append([np.inf] * len(OBJECTIVES) if values is None else list(values))
            held = {NOT_READY: 1.0 if values is None else -1.0, **dict.fromkeys(MARGINS, -1.0)}
            constraints.append([(held | limits)[name] for name in held])
        return np.array(objectives), np.array(constraints)


@cache
def thermal() -> Thermal:
    """Return the problem; it is evaluated at some 8 ms a design."""
    count = len(OBJECTIVES)
    return Thermal("thermal", (0.0,) * count, (1.0,) * count, np.nan)
