"""What every multi-objective sampler of ours must hold to; a test class derives from it."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from typing import Any, Literal

import numpy as np
import optuna
from optuna.distributions import (
    BaseDistribution,
    CategoricalDistribution,
    FloatDistribution,
    IntDistribution,
)
from optuna.samplers import BaseSampler
from optuna.trial import TrialState

Direction = Literal["minimize", "maximize"]

optuna.logging.set_verbosity(optuna.logging.ERROR)

DISTRIBUTIONS: dict[str, BaseDistribution] = {
    "a": FloatDistribution(-1.0, 3.0),
    "b": FloatDistribution(1e-3, 10.0, log=True),
    "c": FloatDistribution(0.0, 1.0, step=0.25),
    "d": IntDistribution(2, 9),
    "e": CategoricalDistribution(("x", "y", None)),
    "f": FloatDistribution(2.0, 2.0),
}


def objectives(params: dict[str, Any]) -> tuple[float, float]:
    """Return two conflicting values of a mixed design."""
    extra = {"x": 0.0, "y": 0.3, None: 1.0}[params["e"]]
    return (
        params["a"] ** 2 + params["b"] + extra,
        (params["a"] - 2.0) ** 2 + (params["c"] - 0.5) ** 2 + abs(params["d"] - 5) + extra,
    )


class SamplerContract:
    """Derive, and give `sampler`."""

    def sampler(self, seed: int) -> BaseSampler:
        raise NotImplementedError

    def run(
        self,
        sampler: BaseSampler,
        *,
        generations: int = 8,
        size: int = 25,
        shuffle: int | None = None,
        directions: Sequence[Direction] = ("minimize", "minimize"),
    ) -> list[dict[str, Any]]:
        """Return the parameters of `generations` of `size` trials, told in an order drawn by `shuffle`."""
        signs = [1.0 if way == "minimize" else -1.0 for way in directions]
        study = optuna.create_study(directions=directions, sampler=sampler)
        params = []
        for generation in range(generations):
            trials = [study.ask(DISTRIBUTIONS) for _ in range(size)]
            order = np.arange(size)
            if shuffle is not None:
                np.random.default_rng([shuffle, generation]).shuffle(order)
            for k in order:
                values = objectives(trials[k].params)
                trials[k].set_constraint("sum", values[0] + values[1] - 30.0)
                study.tell(trials[k], [s * v for s, v in zip(signs, values, strict=True)])
            params += [trial.params for trial in trials]
        return params

    def test_the_same_seed_gives_the_same_trials(self) -> None:
        assert self.run(self.sampler(1)) == self.run(self.sampler(1))

    def test_another_seed_gives_other_trials(self) -> None:
        assert self.run(self.sampler(1), generations=2) != self.run(self.sampler(2), generations=2)

    def test_the_order_of_results_does_not_matter(self) -> None:
        assert self.run(self.sampler(1)) == self.run(self.sampler(1), shuffle=7)

    def test_maximising_the_negative_is_the_same_search(self) -> None:
        turned = self.run(self.sampler(1), directions=("maximize", "minimize"))
        assert turned == self.run(self.sampler(1))

    def test_every_value_lies_in_its_distribution(self) -> None:
        for params in self.run(self.sampler(3)):
            for name, distribution in DISTRIBUTIONS.items():
                assert distribution._contains(distribution.to_internal_repr(params[name]))

    def test_it_works_in_optimize(self) -> None:
        def objective(trial: optuna.Trial) -> tuple[float, float]:
            x = trial.suggest_float("x", 0.0, 1.0)
            trial.set_constraint("x", x - 0.9)
            if trial.number % 7 == 3:
                raise optuna.TrialPruned
            if trial.suggest_categorical("kind", ["plain", "curved"]) == "plain":
                return x, 1.0 - x
            return x, 1.0 - trial.suggest_float("bend", 0.5, 2.0) * x

        study = optuna.create_study(directions=["minimize", "minimize"], sampler=self.sampler(5))
        study.optimize(objective, n_trials=120)
        assert len(study.trials) == 120
        assert max(trial.values[0] for trial in study.best_trials) <= 0.9

    def test_enqueued_and_added_trials_are_taken_in(self) -> None:
        def drive(added: int) -> list[dict[str, Any]]:
            study = optuna.create_study(directions=["minimize", "minimize"], sampler=self.sampler(5))
            study.enqueue_trial({"a": 0.5})
            for k in range(80):
                trial = study.ask(DISTRIBUTIONS)
                study.tell(trial, objectives(trial.params))
                if k == 40 and added:
                    better = optuna.create_trial(
                        params=trial.params, distributions=DISTRIBUTIONS, values=[-1.0, -1.0]
                    )
                    study.add_trial(better)
            return [trial.params for trial in study.trials if trial.values != [-1.0, -1.0]]

        plain, helped = drive(added=0), drive(added=1)
        assert plain[0]["a"] == 0.5
        assert plain[:50] == helped[:50]
        assert plain[50:] != helped[50:]

    def test_infinite_objectives_and_failures_are_survived(self) -> None:
        study = optuna.create_study(directions=["minimize", "maximize"], sampler=self.sampler(5))
        for k in range(200):
            trial = study.ask(DISTRIBUTIONS)
            low, high = objectives(trial.params)
            if k % 5 == 0:
                study.tell(trial, state=TrialState.FAIL)
            elif trial.params["a"] < 1.0:
                trial.set_constraint("not_ready", 1.0 - trial.params["a"])
                study.tell(trial, [np.inf, -np.inf])
            else:
                study.tell(trial, [low, -high])
        # The front ends at a = 1, so that limit is searched from both sides, but nothing far behind it:
        # a uniform draw has 62 % above 0.5.
        assert np.mean([trial.params["a"] >= 0.5 for trial in study.trials[150:]]) > 0.9

    def test_nothing_warns(self) -> None:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            self.run(self.sampler(1), generations=3)

    def test_it_works_in_several_threads(self) -> None:
        study = optuna.create_study(directions=["minimize", "minimize"], sampler=self.sampler(5))
        study.optimize(
            lambda trial: objectives({n: trial._suggest(n, d) for n, d in DISTRIBUTIONS.items()}),
            n_trials=80,
            n_jobs=3,
        )
        assert len(study.trials) == 80
