"""`FrontSampler`: the engine as an optuna sampler for studies with 2 to 6 objectives.

The study is never read in the loop: results come through `after_trial`, designs leave from a queue that is
planned a batch at a time. Trials that never passed through here (added by hand, or another process's) show
up as gaps in the numbers and are looked up once.
"""

from __future__ import annotations

import json
import threading
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from optuna.distributions import BaseDistribution, distribution_to_json, json_to_distribution
from optuna.samplers import BaseSampler
from optuna.study import Study, StudyDirection
from optuna.trial import FrozenTrial, TrialState

from boilerfront.search.distributions import optuna_distributions, space_of
from boilerfront.search.engine import POPULATION, Array, Options
from boilerfront.search.planner import Batch, Planner, Told
from boilerfront.search.space import Space, Value
from boilerfront.search.watch import Watch
from boilerfront.shared.errors import Fault, InputError

__all__ = ["FrontSampler", "Told"]


class FrontSampler(BaseSampler):
    """A sampler for Pareto fronts: give it to `optuna.create_study(directions=[...], sampler=...)`.

    Without a `space` names and distributions are collected as they are suggested, drawn one by one until
    the first trial is told, and frozen then; a name that comes later is drawn at random. Conditions need a
    declared `space`. Constraints are `trial.set_constraint(name, value)`, feasible when <= 0.

    **Batches.** When the queue is empty, all that was told since the last time is taken in, sorted by its
    place in the order of asking, and the next batch is planned from it. So the trials depend on the seed
    and on *which* trials were told before each batch was planned, never on their order within it.

    A trial that suggests nothing is taken for the whole design that was meant for it, `trial.relative_params`: a
    driver that reads it there spares optuna the bookkeeping of each variable, nine tenths of its time a trial.

    **A driver of whole generations** sets `batch` to the size of its generations (or a function of the
    number of designs asked so far) and asks each generation whole, `batch` times `study.ask`,
    even if it evaluates only its first rows. Between two generations it tells whole generations, failures
    too, and nothing else: before it asks generation g + 1 either all up to g, or, to plan while g runs, all
    up to g - 1 and none of g. Which of the two is its choice, but the same one throughout. The same trials
    then come out with any number of workers. The place in the order of asking is then the number of the
    trial over all the studies that the sampler is carried through.

    **Taking up again.** `state()` is everything that later trials depend on, save which trial of a study
    has which design; a `from_state` sampler continues bit for bit, in a new study. `awaited()` says which
    designs were asked and not told. Without a state, repeat the run's own order: `skip` the designs of a
    generation where it was asked, `tell_rows` its results where they were told. No plan is computed then,
    and the sampler is the same. A generation that is not complete is asked again instead of skipped.
    """

    def __init__(
        self,
        space: Space | None = None,
        *,
        seed: int | None = None,
        population: int = POPULATION,
        batch: Batch = None,
        surrogate: float = 1.0,
    ) -> None:
        """Make a sampler.

        Args:
            space: names, distributions and conditions; None to collect them.
            seed: None for another search each time.
            population: parents of the evolutionary part.
            batch: designs planned at once; None for 48 until 480 were asked, then 96.
            surrogate: 1 to plan with the model as often as it pays: every batch until 960 designs were asked,
                every other one until 2,400, later one in seven; a smaller number for so much fewer, where
                evaluations are so cheap that the model costs more time than it saves; 0 to leave it out.

        Raises `InputError` for a share outside 0 to 1.
        """
        if not 0.0 <= surrogate <= 1.0:
            raise InputError([Fault("surrogate", f"{surrogate!r}", "a share from 0 to 1")])
        if seed is None:
            seed = int(np.random.SeedSequence().generate_state(1)[0])
        self._options = Options(seed=seed, population=population, surrogate=float(surrogate))
        self._batch = batch
        self._planner: Planner | None = None
        self._distributions: dict[str, BaseDistribution] = {}
        self._collected: dict[str, BaseDistribution] = {}
        self._asked: dict[tuple[str, int], tuple[int, dict[str, Value]]] = {}
        self._watches: dict[str, Watch] = {}
        self._lock = threading.RLock()
        if space is not None:
            self._adopt(Planner(space, options=self._options, batch=batch))

    def __getstate__(self) -> dict[str, Any]:
        """Return what a copy needs: all but the lock."""
        return {name: value for name, value in vars(self).items() if name != "_lock"}

    def __setstate__(self, state: dict[str, Any]) -> None:
        """Take up a copy, with a lock of its own."""
        vars(self).update(state)
        self._lock = threading.RLock()

    def before_trial(self, study: Study, trial: FrozenTrial) -> None:
        """Notice which trials of the study pass through here, and read once those from before."""
        with self._lock:
            earlier = self._watch(study).started(study, trial.number)
            for other in earlier:
                self._collected = {**other.distributions, **self._collected}
            for other in earlier:
                self._keep(study, other, other.values)

    def infer_relative_search_space(self, study: Study, trial: FrozenTrial) -> dict[str, BaseDistribution]:
        """Return the declared or frozen distributions; none while they are being collected."""
        return dict(self._distributions)

    def sample_relative(
        self, study: Study, trial: FrozenTrial, search_space: dict[str, BaseDistribution]
    ) -> dict[str, Any]:
        """Return the next design of the queue, planning a batch if it is empty."""
        if not search_space:
            return {}
        with self._lock:
            planner = self._planned()
            if planner.empty:
                for other in self._watch(study).finished_elsewhere(study):
                    self._keep(study, other, other.values)
            number, params = planner.next()
            self._asked[study.study_name, trial.number] = number, params
            return dict(params)

    def sample_independent(
        self, study: Study, trial: FrozenTrial, param_name: str, param_distribution: BaseDistribution
    ) -> Any:
        """Return a value from the stream of (seed, trial number, name)."""
        with self._lock:
            self._collected.setdefault(param_name, param_distribution)
        key = [self._options.seed, trial.number, zlib.crc32(param_name.encode())]
        space = space_of({param_name: param_distribution})
        genome = space.coding.canonical(np.random.default_rng(key).random((1, 1)))
        return space.decode(genome)[0][param_name]

    def after_trial(
        self, study: Study, trial: FrozenTrial, state: TrialState, values: Sequence[float] | None
    ) -> None:
        """Keep the result for the next plan; a failed or pruned trial counts as missing."""
        with self._lock:
            self._keep(study, trial, values if state == TrialState.COMPLETE else None)

    def tell_rows(self, rows: Sequence[Told]) -> None:
        """Tell results from elsewhere than a study, such as a ledger; their values are to be minimised.

        A study's own trial may be told so as well, by its number in the order of asking: the study is then not to
        tell it again.
        """
        with self._lock:
            told = {row.number for row in rows}
            self._asked = {trial: asked for trial, asked in self._asked.items() if asked[0] not in told}
            for place, row in enumerate(rows):
                self._planned().tell(replace(row, order=(-1, place)))

    def skip(self, designs: Sequence[Mapping[str, Value]]) -> None:
        """Go on as if the next batch had been asked and were these designs, without planning it.

        Raises `InputError` unless they are one whole batch and no other has been begun.
        """
        with self._lock:
            self._planned().skip(designs)

    def awaited(self) -> dict[int, dict[str, Value]]:
        """Return the designs that were asked and not yet told, by their place in the order of asking."""
        with self._lock:
            return self._planned().awaited()

    def state(self) -> dict[str, Array]:
        """Return everything that later trials depend on, as arrays for an .npz file (no pickle).

        Raises `InputError` before the space is known.
        """
        with self._lock:
            texts = {name: distribution_to_json(d) for name, d in self._distributions.items()}
            return {**self._planned().state(), "distributions": np.array(json.dumps(texts))}

    @classmethod
    def from_state(
        cls, state: Mapping[str, Array], *, space: Space | None = None, batch: Batch = None
    ) -> FrontSampler:
        """Return the sampler that `state` was taken of; give `space` and `batch` again if it had them.

        Raises `InputError` if `space` has other variables than the state.
        """
        texts = json.loads(str(state["distributions"]))
        known = {name: json_to_distribution(text) for name, text in texts.items()}
        space = space_of(known) if space is None else space
        if optuna_distributions(space) != known:
            raise InputError([Fault("space", str(list(space.names)), f"the variables of the state, {known}")])
        planner = Planner.from_state(state, space=space, batch=batch)
        sampler = cls(seed=planner.options.seed, batch=batch)
        sampler._options = planner.options
        sampler._adopt(planner)
        return sampler

    def _planned(self) -> Planner:
        if self._planner is None:
            raise InputError([Fault("space", "none", "a declared space, or a first trial told")])
        return self._planner

    def _adopt(self, planner: Planner) -> None:
        self._planner = planner
        self._distributions = optuna_distributions(planner.space)

    def _watch(self, study: Study) -> Watch:
        if study.study_name not in self._watches:
            if not 2 <= len(study.directions) <= 6:
                raise InputError([Fault("directions", f"{len(study.directions)}", "2 to 6 objectives")])
            self._watches[study.study_name] = Watch(place=len(self._watches))
        return self._watches[study.study_name]

    def _keep(self, study: Study, trial: FrozenTrial, values: Sequence[float] | None) -> None:
        """Hold the result of `trial` for the next plan; the first one freezes the collected space."""
        number, design = self._asked.pop((study.study_name, trial.number), (-1, {}))
        signs = [-1.0 if way == StudyDirection.MAXIMIZE else 1.0 for way in study.directions]
        told = Told(
            number=number,
            params=trial.params or design,
            values=None if values is None else [sign * v for sign, v in zip(signs, values, strict=True)],
            constraints=trial.constraints,
            order=(self._watch(study).place, trial.number),
        )
        if self._planner is None and values is not None:
            space = space_of({**trial.distributions, **self._collected})
            self._adopt(Planner(space, options=self._options, batch=self._batch))
        if self._planner is not None:
            self._planner.tell(told)
