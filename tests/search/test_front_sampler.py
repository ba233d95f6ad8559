"""`FrontSampler` in studies, carried through states, studies and ledgers."""

from __future__ import annotations

import io
import pickle
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import optuna
import pytest
from numpy.typing import NDArray
from optuna.samplers import BaseSampler

from boilerfront.search import Choice, Float, FrontSampler, Int, Space
from boilerfront.search.credit import SURROGATE
from boilerfront.search.distributions import optuna_distributions, space_of
from boilerfront.search.planner import Told
from boilerfront.shared.errors import InputError
from tests.search.sampler_contract import DISTRIBUTIONS, SamplerContract, objectives

SPACE = Space(
    {
        "kind": Choice(("plain", "coil")),
        "length": Float(0.1, 3.0, active_if={"kind": ("coil",)}),
        "turns": Int(1, 20, active_if={"kind": ("coil",)}),
        "power": Choice((300, 600, 900, 1500)),
        "volume": Float(150.0, 1200.0, log=True),
    }
)
Params = dict[str, Any]


def figures(params: Mapping[str, Any]) -> tuple[list[float], dict[str, float]]:
    coil = abs(params["length"] - 0.5) + 0.01 * params["turns"] if params["kind"] == "coil" else 2.0
    cost = params["volume"] / 400.0 + params["power"] / 500.0 + (0.5 if params["kind"] == "coil" else 0.0)
    return [coil + 200.0 / params["volume"], cost], {"supply": params["power"] - 1000.0}


class TestDeclared(SamplerContract):
    def sampler(self, seed: int) -> BaseSampler:
        return FrontSampler(space_of(DISTRIBUTIONS), seed=seed, batch=25)


class TestCollected(SamplerContract):
    def sampler(self, seed: int) -> BaseSampler:
        return FrontSampler(seed=seed, batch=25)


class Run:
    """A driver in small: asks generations whole, tells them whole, with a lag of none or one.

    Where nothing is `suggested` it reads a trial's design as the sampler meant it.
    """

    def __init__(self, sampler: FrontSampler, *, lag: int, size: int = 20, suggested: bool = True) -> None:
        self.sampler = sampler
        self.lag = lag
        self.size = size
        self.suggested = suggested
        self.designs: list[list[Params]] = []
        self.trials: list[list[optuna.Trial]] = []
        self.study = self.new_study()

    def new_study(self) -> optuna.Study:
        return optuna.create_study(directions=["minimize", "minimize"], sampler=self.sampler)

    def ask(self) -> None:
        distributions = optuna_distributions(SPACE) if self.suggested else None
        asked = [self.study.ask(distributions) for _ in range(self.size)]
        self.trials.append(asked)
        found = [trial.params if self.suggested else trial.relative_params for trial in asked]
        self.designs.append([SPACE.active(params) for params in found])

    def tell(self, generation: int) -> None:
        for place, trial in enumerate(self.trials[generation]):
            if failed(generation, place):
                self.study.tell(trial, state=optuna.trial.TrialState.FAIL)
                continue
            values, constraints = figures(self.designs[generation][place])
            for name, value in constraints.items():
                trial.set_constraint(name, value)
            trial.study.tell(trial, values)

    def go(self, generations: int) -> list[list[Params]]:
        for generation in range(generations):
            if generation > self.lag:
                self.tell(generation - 1 - self.lag)
            self.ask()
        return self.designs


def failed(generation: int, place: int) -> bool:
    return (generation + place) % 11 == 0


def rows(designs: list[list[Params]], generation: int, size: int = 20) -> list[Told]:
    told = []
    for place, design in enumerate(designs[generation]):
        values, constraints = figures(design)
        lost = failed(generation, place)
        told.append(Told(generation * size + place, design, None if lost else values, constraints))
    return told


@pytest.mark.parametrize(("lag", "surrogate"), [(0, 1.0), (1, 1.0), (0, 0.4)])
def test_a_sampler_rebuilt_from_rows_goes_on_bit_for_bit(lag: int, surrogate: float) -> None:
    whole = Run(FrontSampler(SPACE, seed=4, batch=20, surrogate=surrogate), lag=lag).go(9)
    rebuilt = FrontSampler(SPACE, seed=4, batch=20, surrogate=surrogate)
    for generation in range(6):
        if generation > lag:
            rebuilt.tell_rows(rows(whole, generation - 1 - lag)[::-1])
        rebuilt.skip(whole[generation])
    run = Run(rebuilt, lag=lag)
    run.designs = whole[:6]
    for generation in range(6, 9):
        rebuilt.tell_rows(rows(whole, generation - 1 - lag))
        run.ask()
    assert run.designs == whole


def through_file(state: Mapping[str, NDArray[Any]]) -> dict[str, NDArray[Any]]:
    file = io.BytesIO()
    np.savez(file, allow_pickle=False, **state)
    file.seek(0)
    with np.load(file, allow_pickle=False) as loaded:
        return dict(loaded)


@pytest.mark.parametrize(("lag", "surrogate"), [(0, 1.0), (1, 1.0), (0, 0.4)])
def test_a_sampler_from_its_state_goes_on_bit_for_bit_in_a_new_study(lag: int, surrogate: float) -> None:
    whole = Run(FrontSampler(SPACE, seed=4, batch=20, surrogate=surrogate), lag=lag).go(9)
    first = Run(FrontSampler(SPACE, seed=4, batch=20, surrogate=surrogate), lag=lag)
    first.go(6)
    first.tell(5 - lag)
    again = FrontSampler.from_state(through_file(first.sampler.state()), space=SPACE, batch=20)
    asked = {number: SPACE.active(params) for number, params in again.awaited().items()}
    assert list(asked.values()) == [design for designs in whole[6 - lag : 6] for design in designs]
    run = Run(again, lag=lag)
    run.designs = whole[:6]
    for generation in range(6, 9):
        if generation > 6:
            again.tell_rows(rows(whole, generation - 1 - lag))
        run.ask()
    assert run.designs == whole


@pytest.mark.parametrize(("surrogate", "with_model"), [(1.0, 6), (0.5, 3), (0.34, 2), (0.0, 0)])
def test_the_share_of_the_batches_with_a_surrogate(surrogate: float, with_model: int) -> None:
    run = Run(FrontSampler(SPACE, seed=4, batch=20, surrogate=surrogate), lag=0)
    counted = 0
    for _ in range(8):  # two fill the cube before there is anything to model
        run.go(1)
        counted += bool((run.sampler.state()["awaited_source"] == SURROGATE).any())
        run.tell(len(run.designs) - 1)
    assert counted == with_model
    again = Run(FrontSampler(SPACE, seed=4, batch=20, surrogate=surrogate), lag=0).go(8)
    assert run.designs == again


@pytest.mark.parametrize("surrogate", [-0.1, 1.1, float("nan")])
def test_a_share_that_is_none_is_refused(surrogate: float) -> None:
    with pytest.raises(InputError, match="share from 0 to 1"):
        FrontSampler(SPACE, seed=1, surrogate=surrogate)


def test_a_state_taken_in_the_middle_of_a_queue_and_before_the_flush() -> None:
    def drive(interrupt: Callable[[FrontSampler], FrontSampler]) -> list[Params]:
        sampler = FrontSampler(SPACE, seed=2, batch=16)
        taken: list[Params] = []
        for k in range(100):
            if k == 71:
                sampler = interrupt(sampler)
            study = optuna.create_study(directions=["minimize", "minimize"], sampler=sampler)
            taken.append(study.ask(optuna_distributions(SPACE)).params)
            values, constraints = figures(taken[-1])
            sampler.tell_rows([Told(k, taken[-1], values, constraints)])
        return taken

    assert drive(lambda s: FrontSampler.from_state(through_file(s.state()), space=SPACE, batch=16)) == drive(
        lambda s: s
    )


def test_one_sampler_is_carried_through_studies() -> None:
    def drive(segment: int) -> list[Params]:
        run = Run(FrontSampler(SPACE, seed=4, batch=20), lag=0)
        for generation in range(6):
            if generation and generation % segment == 0:
                run.study = run.new_study()
            run.ask()
            run.tell(generation)
        return [design for designs in run.designs for design in designs]

    assert drive(segment=2) == drive(segment=100)


def test_the_state_of_collected_names_needs_no_space() -> None:
    contract = TestCollected()
    sampler = FrontSampler(seed=3, batch=25)
    contract.run(sampler, generations=3)
    again = FrontSampler.from_state(through_file(sampler.state()), batch=25)
    assert contract.run(again, generations=2) == contract.run(sampler, generations=2)


def test_a_state_of_another_space_is_refused() -> None:
    state = FrontSampler(SPACE, seed=3).state()
    with pytest.raises(InputError, match="volume"):
        FrontSampler.from_state(state, space=Space({"x": Float(0.0, 1.0)}))


def test_a_state_before_the_space_is_known_is_refused() -> None:
    with pytest.raises(InputError, match="declared space"):
        FrontSampler(seed=3).state()


def test_part_of_a_batch_cannot_be_skipped() -> None:
    sampler = FrontSampler(SPACE, seed=3, batch=20)
    with pytest.raises(InputError, match="20"):
        sampler.skip(SPACE.decode(np.zeros((5, 5))))


@pytest.mark.parametrize("count", [1, 7])
def test_studies_with_one_or_many_objectives_are_refused(count: int) -> None:
    study = optuna.create_study(directions=["minimize"] * count, sampler=FrontSampler(seed=3))
    with pytest.raises(InputError, match="2 to 6"):
        study.ask()


def test_the_batch_may_grow_with_what_was_asked() -> None:
    sizes: list[int] = []

    def batch(asked: int) -> int:
        sizes.append(asked)
        return 10 if asked < 30 else 25

    sampler = FrontSampler(SPACE, seed=3, batch=batch)
    study = optuna.create_study(directions=["minimize", "minimize"], sampler=sampler)
    for _ in range(80):
        study.ask(optuna_distributions(SPACE))
    assert sizes == [0, 10, 20, 30, 55]


def test_before_anything_is_told_names_are_drawn_from_their_own_streams() -> None:
    def first(names: list[str]) -> list[Params]:
        study = optuna.create_study(directions=["minimize", "minimize"], sampler=FrontSampler(seed=9))
        return [study.ask({name: DISTRIBUTIONS[name] for name in names}).params for _ in range(5)]

    for one, other in zip(first(["a", "b", "d"]), first(["d", "a"]), strict=True):
        assert (one["a"], one["d"]) == (other["a"], other["d"])


def test_the_space_is_the_union_of_what_was_suggested_before_the_first_result() -> None:
    sampler = FrontSampler(seed=9)
    study = optuna.create_study(directions=["minimize", "minimize"], sampler=sampler)
    first = study.ask({"a": DISTRIBUTIONS["a"]})
    study.ask({"b": DISTRIBUTIONS["b"]})
    study.tell(first, [0.0, 1.0])
    assert list(sampler.infer_relative_search_space(study, study.trials[0])) == ["a", "b"]


@pytest.mark.parametrize("lag", [0, 1])
def test_a_trial_that_suggests_nothing_stands_for_its_design(lag: int) -> None:
    def drive(suggested: bool) -> list[list[Params]]:
        return Run(FrontSampler(SPACE, seed=3, batch=20), lag=lag, suggested=suggested).go(6)

    assert drive(suggested=False) == drive(suggested=True)


def test_a_new_sampler_takes_in_what_the_study_holds() -> None:
    study = optuna.create_study(
        directions=["minimize", "minimize"], sampler=optuna.samplers.RandomSampler(seed=1)
    )
    for _ in range(60):
        trial = study.ask(DISTRIBUTIONS)
        study.tell(trial, objectives(trial.params))
    sampler = FrontSampler(seed=9)
    study.sampler = sampler
    study.ask(DISTRIBUTIONS)
    assert sampler.state()["rows_serial"].tolist() == list(range(60))


def test_a_trial_added_by_hand_reaches_the_pool_once() -> None:
    sampler = FrontSampler(SPACE, seed=9, batch=5)
    study = optuna.create_study(directions=["minimize", "minimize"], sampler=sampler)
    distributions = optuna_distributions(SPACE)
    for k in range(20):
        trial = study.ask(distributions)
        study.tell(trial, figures(trial.params)[0])
        if k == 7:
            study.add_trial(
                optuna.create_trial(params=trial.params, distributions=distributions, values=[-1.0, -2.0])
            )
    objectives_told = sampler.state()["rows_objectives"]
    assert (objectives_told == [-1.0, -2.0]).all(axis=1).sum() == 1


def test_the_study_is_not_read_in_the_loop(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*args: object, **kwargs: object) -> None:
        raise AssertionError("the study was read")

    monkeypatch.setattr(optuna.Study, "get_trials", refuse)
    TestDeclared().run(FrontSampler(seed=1, batch=25), generations=3)


def test_a_copy_is_the_same_sampler() -> None:
    sampler = FrontSampler(SPACE, seed=4, batch=20)
    Run(sampler, lag=0).go(4)
    copied = pickle.loads(pickle.dumps(sampler))
    assert Run(copied, lag=0).go(2) == Run(sampler, lag=0).go(2)


def test_the_space_reaches_optuna_without_a_warning() -> None:
    space = Space(
        {"x": Float(0.0, 1.05, step=0.1), "n": Int(1, 10, step=4), "c": Choice((True, 1, "1", None))}
    )
    study = optuna.create_study(directions=["minimize", "minimize"], sampler=FrontSampler(space, seed=1))
    for _ in range(30):
        params = study.ask(optuna_distributions(space)).params
        assert space.decode(space.encode([params]))[0] == params
