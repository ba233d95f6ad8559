"""What a sweep will take before it is started: how many runs, how long, how large, and how fast at best.

The time is measured on designs of the sweep itself, on this machine, in one process.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

from boilerfront.jobs.equipment import cores
from boilerfront.jobs.plan import Generations
from boilerfront.jobs.ranges import ChoiceList, one_of_each
from boilerfront.jobs.study import StudyWindow
from boilerfront.jobs.sweep import Sweep
from boilerfront.jobs.tables import sweep_schema
from boilerfront.jobs.work import Evaluator, Work, model_evaluator
from boilerfront.model.bounds import shortest_warm_up_s
from boilerfront.model.glossary import at_site
from boilerfront.model.sensitivity import neighbours
from boilerfront.results.ledger import part_bytes
from boilerfront.results.schema import Provenance, table_of

PROBED = 16
"""Designs that are evaluated to measure the time."""


@dataclass(frozen=True)
class Probe:
    """What a few designs of the sweep took, and what came of them."""

    designs: int
    seconds: float
    came_through: int
    feasible: int
    bytes_a_part: int

    @property
    def seconds_a_design(self) -> float:
        """Return the time of one design in one process."""
        return self.seconds / self.designs


def explained_designs(sweep: Sweep) -> int:
    """Return about how many designs `explain` rates for one: itself and every neighbour."""
    return 1 + max(len(neighbours(design)) for design in one_of_each(sweep.variables))


def probe(sweep: Sweep, *, evaluate: Evaluator = model_evaluator) -> Probe:
    """Evaluate a few designs of the sweep's first generation and time them, compilation left out."""
    first = Generations(sweep.search.generation).trials(0)
    designs = StudyWindow(sweep).plan(first, {})
    trials = list(first)[:PROBED]
    work = Work(evaluate, sweep.brief())
    chosen = [designs[trial] for trial in trials]
    evaluate(one_of_each(sweep.variables), sweep.brief())  # each architecture has a step to compile
    began = time.perf_counter()
    rows = work(trials, chosen)
    seconds = time.perf_counter() - began
    schema = sweep_schema(sweep, Provenance("probe", "0" * 64))
    return Probe(
        designs=len(rows),
        seconds=seconds,
        came_through=sum(row.get("reason") is None and row.get("fault") is None for row in rows),
        feasible=sum(bool(row["feasible"]) for row in rows),
        bytes_a_part=len(part_bytes(table_of([{**row, "generation": 0} for row in rows], schema))),
    )


def sweep_seconds(sweep: Sweep, seconds_a_design: float, *, workers: int | None = None) -> float:
    """Return about how long the sweep takes on this machine."""
    return sweep.search.budget * seconds_a_design / (workers or cores())


def sweep_bytes(sweep: Sweep, measured: Probe) -> float:
    """Return about how large the ledger becomes: part by part, and rows by their number."""
    generations = Generations(sweep.search.generation)
    parts = generations.generation_of(sweep.search.budget - 1) + 1
    return parts * measured.bytes_a_part * max(1.0, sweep.search.budget / parts / measured.designs / 2)


def warm_up_bound_s(sweep: Sweep) -> float:
    """Return a time that no warm-up in these ranges can beat: the smallest machine, all that the socket gives [s].

    Of several sites the slowest counts, or their mean by weight.
    """
    bounds = {}
    for site, brief in sweep.brief().by_site().items():
        smallest = {
            name: _lowest(sweep, name, site)
            for name in ("brew_volume_mL", "steam_volume_mL", "steam_set_point_C", "group_power_W")
        }
        bounds[site] = min(
            shortest_warm_up_s({**smallest, "material": material}, brief) for material in _materials(sweep)
        )
    weights = sweep.markets.weights
    if not weights:
        return max(bounds.values())
    return sum(weights[site] * bound for site, bound in bounds.items()) / sum(weights.values())


def _materials(sweep: Sweep) -> tuple[str, ...]:
    """Return what vessels of the sweep may be made of."""
    listed = sweep.variables["material"]
    return tuple(map(str, listed.choices)) if isinstance(listed, ChoiceList) else ()


def _lowest(sweep: Sweep, name: str, site: str) -> float:
    each = sweep.variables.get(at_site(name, site)) or sweep.variables[name]
    return min(float(choice) for choice in each.choices) if isinstance(each, ChoiceList) else each.low
