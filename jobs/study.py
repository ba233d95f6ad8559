"""Optuna's study as a window: the driver asks it, while the ledger alone remembers.

A study holds one segment of trials in memory and is then replaced by an empty one; the sampler is carried
over. The sampler is told the ledger's rows, those of a run under way like those of an earlier one: telling each trial
of the study its result and fourteen constraints took half a millisecond of the driver's two and a half a design.
Generations that the ledger holds already are not asked again; the sampler skips them, which leaves it as it was.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import optuna

from boilerfront.jobs.effort import surrogate_share
from boilerfront.jobs.plan import generations_of
from boilerfront.jobs.ranges import Completion, columns, search_space
from boilerfront.jobs.sweep import Sweep
from boilerfront.jobs.weighing import weighed, weighs_by_ratio
from boilerfront.model.glossary import MARGINS, OBJECTIVES
from boilerfront.search import FrontSampler, Told

SEGMENT = 20_000
"""Trials of one study: it keeps about 3 kB a trial."""
NOT_READY = "not_ready"

Design = dict[str, float | str | None]
Row = Mapping[str, Any]


class StudyWindow:
    """Asks a sweep's designs generation by generation, and is told their rows."""

    def __init__(self, sweep: Sweep, *, taken: Iterable[Row] = ()) -> None:
        """Open a window on the sweep's search; `taken` are rows of an earlier run, told before all."""
        optuna.logging.set_verbosity(optuna.logging.WARNING)
        self._completion = Completion(sweep.variables)
        self._space = search_space(sweep.variables)
        self._by_ratio = weighs_by_ratio(sweep)
        generations = generations_of(sweep)
        self._first = generations.first
        self._batch = generations.size_after
        self.sampler = FrontSampler(
            self._space, seed=sweep.search.seed, batch=self._batch, surrogate=surrogate_share(sweep)
        )
        self.sampler.tell_rows([self._told(row, number=-1) for row in taken])
        self._planned_before: dict[int, Design] = {}
        self._segments = 0
        self._in_segment = 0
        self._study = self._new_study()

    def restore(self, state: Mapping[str, Any]) -> None:
        """Go on from what `sampler.state` gave: generations planned by then are not planned again.

        Raises `InputError` if it is of another space.
        """
        self.sampler = FrontSampler.from_state(state, space=self._space, batch=self._batch)
        self._planned_before = {
            self._first + place: self._completion(params) for place, params in self.sampler.awaited().items()
        }
        self._study = self._new_study()

    def plan(self, trials: range, known: Mapping[int, Row]) -> dict[int, Design]:
        """Return a design for each of a generation's trials.

        `known` holds the ledger's rows: if they cover the generation, they are taken as they are; where they
        cover a part, the rest is asked again and the ledger's are left alone.
        """
        if trials.start in self._planned_before:
            before = {trial: self._planned_before.pop(trial) for trial in trials}
            return {trial: design for trial, design in before.items() if trial not in known}
        if all(trial in known for trial in trials):
            rows = [known[trial] for trial in trials]
            self.sampler.skip([{name: row.get(name) for name in self._space.names} for row in rows])
            return {}
        designs = {trial: self._ask() for trial in trials}
        # The ledger's parameters are told, never those asked again.
        return {trial: design for trial, design in designs.items() if trial not in known}

    def tell(self, rows: Iterable[Row]) -> None:
        """Tell a whole generation."""
        self.sampler.tell_rows([self._told(row, number=int(row["trial"]) - self._first) for row in rows])

    def _told(self, row: Row, *, number: int) -> Told:
        """Return a row of a ledger as the sampler takes it, at its place in the order of asking."""
        params = {name: row.get(name) for name in self._space.names}
        values, constraints = outcome(row)
        if values is not None and self._by_ratio:
            values = weighed(values)
        return Told(number, params, values, constraints)

    def _ask(self) -> Design:
        if self._in_segment == SEGMENT:
            self._study = self._new_study()
        # The design is taken from the trial at once: to have it suggest each variable would cost ten times as much.
        trial = self._study.ask()
        self._in_segment += 1
        return self._completion(trial.relative_params)

    def _new_study(self) -> optuna.Study:
        self._segments += 1
        self._in_segment = 0
        return optuna.create_study(
            study_name=f"segment-{self._segments}",
            directions=["minimize"] * len(OBJECTIVES),
            sampler=self.sampler,
        )


def outcome(row: Row) -> tuple[Sequence[float] | None, dict[str, float]]:
    """Return what the sampler is told of a row: objectives and constraints, feasible when <= 0.

    Only what the ledger keeps is used, so that a replay tells the same. The sign of the margins turns here
    and nowhere else. A row with a fault has no values: it counts as missing.
    """
    if row.get("fault") is not None:
        return None, {}
    values = [_number(row.get(name)) for name in OBJECTIVES]
    constraints = {name: -float(margin) for name in MARGINS if (margin := row.get(name)) is not None}
    if row.get("reason") is not None:
        constraints[NOT_READY] = max(float(row.get("shortfall") or 0.0), 1e-6)
    return values, constraints


def outcome_columns(sweep: Sweep) -> list[str]:
    """Return the columns of the ledger that `plan` and `tell` need."""
    return ["trial", *columns(sweep.variables), *OBJECTIVES, *MARGINS, "reason", "shortfall", "fault"]


def _number(value: Any) -> float:
    return float("inf") if value is None else float(value)
