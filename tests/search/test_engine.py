"""The engine without a study: bounded, reproducible, and untroubled by odd rows."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from boilerfront.search.branches import reserved
from boilerfront.search.coding import Axis, Coding, Floats
from boilerfront.search.credit import SURROGATE
from boilerfront.search.engine import Engine, Options

Judge = Callable[[Floats], tuple[Floats, Floats]]
PLAIN = Coding([Axis(0.0, 1.0)] * 4)


def figures(genomes: Floats) -> tuple[Floats, Floats]:
    low = genomes[:, :1] + 0.2 * genomes[:, 2:3]
    high = (1.0 - genomes[:, :1]) ** 2 + genomes[:, 1:2] ** 2
    return np.hstack([low, high]), genomes[:, 3:4] - 0.5


def drive(engine: Engine, *, batches: int, count: int = 30, judge: Judge = figures) -> Floats:
    """Ask and tell `batches` of `count` designs, whose objectives and constraints `judge` gives; return them all."""
    asked = []
    for _ in range(batches):
        serials = engine.asked + np.arange(count)
        genomes = engine.ask(count)
        engine.tell(genomes, *judge(genomes), serials=serials)
        asked.append(genomes)
    return np.vstack(asked)


def test_no_design_is_asked_twice() -> None:
    asked = drive(Engine(PLAIN, Options(seed=1)), batches=20)
    assert len(np.unique(asked, axis=0)) == len(asked)


def test_a_space_that_is_used_up_still_gives_designs() -> None:
    coding = Coding([Axis(0, 1, levels=2, nominal=True), Axis(0, 2, levels=3)])
    engine = Engine(coding, Options(seed=1))
    for _ in range(6):
        serials = engine.asked + np.arange(20)
        genomes = engine.ask(20)
        engine.tell(genomes, np.hstack([genomes, 1.0 - genomes])[:, 1:3], np.zeros((20, 0)), serials=serials)
    assert engine.told == 120


def test_memory_is_bounded() -> None:
    engine = Engine(PLAIN, Options(seed=1, surrogate=False))
    drive(engine, batches=60, count=100)
    assert engine.told == 6000
    assert len(engine.archive.rows) <= 1700
    assert sum(value.nbytes for value in engine.state().values()) < 300_000


@pytest.mark.parametrize("scale", [1e-9, 1e9])
def test_the_unit_of_an_objective_does_not_matter(scale: float) -> None:
    def scaled_figures(genomes: Floats) -> tuple[Floats, Floats]:
        objectives, constraints = figures(genomes)
        # Powers of two leave every bit of the scaled values alone.
        return 2.0 ** round(np.log2(scale)) * objectives, constraints

    reference = drive(Engine(PLAIN, Options(seed=1)), batches=4)
    scaled = drive(Engine(PLAIN, Options(seed=1)), batches=4, judge=scaled_figures)
    assert np.array_equal(scaled, reference)


def test_rows_without_objectives_or_constraints_are_taken() -> None:
    engine = Engine(PLAIN, Options(seed=1))
    rng = np.random.default_rng(0)
    for batch in range(12):
        serials = engine.asked + np.arange(30)
        genomes = engine.ask(30)
        objectives, constraints = figures(genomes)
        failed = rng.random(30) < 0.3
        objectives[failed] = [np.inf, np.nan]
        known = np.where(failed[:, None], np.nan, constraints)
        extra = np.where(failed, rng.random(30), np.nan)[:, None]
        more = [known] if batch < 3 else [known, extra]
        engine.tell(genomes, objectives, np.hstack(more), serials=serials)
    assert engine.archive.finite[engine.archive.front].all()


def test_wild_objectives_do_not_spoil_the_search() -> None:
    def long_tailed(genomes: Floats) -> tuple[Floats, Floats]:
        objectives, constraints = figures(genomes)
        return np.expm1(20.0 * objectives), np.full_like(constraints, -1.0)

    engine = Engine(PLAIN, Options(seed=1))
    drive(engine, batches=15, judge=long_tailed)
    best = engine.archive.rows.genomes[engine.archive.front]
    # On the front the second and third coordinates are 0.
    assert np.median(best[:, 1]) < 0.05
    assert np.median(best[:, 2]) < 0.05


def test_a_told_order_within_a_batch_may_be_anything_but_must_be_kept() -> None:
    engine = Engine(PLAIN, Options(seed=1))
    serials = np.arange(30)
    genomes = engine.ask(30)
    engine.tell(genomes[::-1], *figures(genomes[::-1]), serials=serials[::-1])
    assert not len(engine.awaited.serial)


def test_masked_coordinates_stay_at_their_middle() -> None:
    coding = Coding([Axis(0, 1, levels=2, nominal=True), Axis(0.0, 1.0, needs={0: (1,)}), Axis(0.0, 1.0)])
    engine = Engine(coding, Options(seed=1))
    for _ in range(6):
        serials = engine.asked + np.arange(30)
        genomes = engine.ask(30)
        masked = genomes[:, 0] < 0.5
        assert (genomes[masked, 1] == 0.5).all()
        values = np.column_stack(
            [genomes[:, 2] + 0.3 * masked, (1.0 - genomes[:, 2]) + np.abs(genomes[:, 1] - 0.2)]
        )
        engine.tell(genomes, values, np.zeros((30, 0)), serials=serials)
    assert len(np.unique(genomes[~masked, 1])) > 3


def test_while_nothing_is_feasible_evolution_plans_almost_all() -> None:
    def sources(limit: float) -> list[float]:
        engine, shares = Engine(PLAIN, Options(seed=1)), []
        for _ in range(6):
            serials = engine.asked + np.arange(40)
            genomes = engine.ask(40)
            shares.append(float((engine.awaited.source[-40:] == SURROGATE).mean()))
            engine.tell(genomes, figures(genomes)[0], np.full((40, 1), limit), serials=serials)
        return shares[1:]

    assert set(sources(1.0)) == {0.05}
    assert min(sources(-1.0)) > 0.2


def alike(genomes: Floats) -> tuple[Floats, Floats]:
    return np.full((len(genomes), 2), 3.0), np.full((len(genomes), 1), -1.0)


def never_feasible(genomes: Floats) -> tuple[Floats, Floats]:
    return figures(genomes)[0], 1.0 + genomes[:, 1:2]


def infinitely_violated(genomes: Floats) -> tuple[Floats, Floats]:
    return figures(genomes)[0], np.where(genomes[:, 1:2] > 0.5, np.inf, -1.0)


def all_failed(genomes: Floats) -> tuple[Floats, Floats]:
    return np.full((len(genomes), 2), np.inf), np.full((len(genomes), 1), np.nan)


@pytest.mark.parametrize("odd", [alike, never_feasible, infinitely_violated, all_failed])
def test_odd_problems_are_survived(odd: Judge) -> None:
    genomes = drive(Engine(PLAIN, Options(seed=1)), batches=5, count=40, judge=odd)
    assert ((genomes >= 0.0) & (genomes <= 1.0)).all()


@pytest.mark.parametrize("count", [2, 6])
def test_two_to_six_objectives(count: int) -> None:
    middles = (np.arange(count)[:, None] + 0.5) / count

    def squares(genomes: Floats) -> tuple[Floats, Floats]:
        return ((genomes[:, None, :] - middles) ** 2).sum(axis=2), np.zeros((len(genomes), 0))

    genomes = drive(Engine(PLAIN, Options(seed=1)), batches=6, count=40, judge=squares)
    # The front is the diagonal between the outermost middles: all coordinates equal.
    assert np.median(np.ptp(genomes[-40:], axis=1)) < 0.2


BRANCHES = Coding(
    [Axis(0, 2, levels=3, nominal=True)]
    + [Axis(0.0, 1.0, needs={0: (0,)})] * 4
    + [Axis(0.0, 1.0, needs={0: (1, 2)})] * 4
    + [Axis(0.0, 1.0)]
)


def branch_of(genomes: Floats) -> Floats:
    return np.asarray(np.floor(3.0 * genomes[:, 0]))


def figures_of_branches(genomes: Floats) -> tuple[Floats, Floats]:
    """Branch 0 is easy; 1 is better, feasible in a 40th of its space and nowhere near a random design; 2 is poor."""
    easy = ((genomes[:, 1:5] - 0.5) ** 2).sum(axis=1)
    hard = ((genomes[:, 5:9] - 0.8) ** 2).sum(axis=1)
    branch = branch_of(genomes)
    base = np.select([branch == 0, branch == 1], [1.0 + easy, 0.9 + hard], 3.0 + hard)
    excess = np.where(branch == 1, np.sqrt(hard) - 0.15, -1.0)
    x = genomes[:, 9]
    return np.column_stack([base * (0.1 + x), base * (1.1 - x)]), excess[:, None]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_branch_whose_first_designs_keep_no_constraint_is_not_given_up(seed: int) -> None:
    engine = Engine(BRANCHES, Options(seed=seed, surrogate=0.0))
    tried = branch_of(drive(engine, batches=50, count=48, judge=figures_of_branches))
    assert (branch_of(engine.archive.rows.genomes[engine.archive.front]) == 1).any()
    assert np.bincount(tried.astype(int)).min() > 0.05 * len(tried)  # the poor one too has its tries


KINDS = Coding([Axis(0, 1, levels=2, nominal=True)] + [Axis(0.0, 1.0)] * 6)


def figures_of_kinds(genomes: Floats) -> tuple[Floats, Floats]:
    """Kind 1 is a fifth better, but where kind 0 is best it is eight times as bad."""
    near_0, near_1 = (((genomes[:, 1:6] - middle) ** 2).sum(axis=1) for middle in (0.3, 0.8))
    base, x = np.where(genomes[:, 0] > 0.5, 0.8 + 6.0 * near_1, 1.0 + near_0), genomes[:, 6]
    return np.column_stack([base * (0.1 + x), base * (1.1 - x)]), np.zeros((len(genomes), 0))


@pytest.mark.parametrize("seed", [0, 2])
def test_a_choice_that_asks_for_other_values_is_not_given_up(seed: int) -> None:
    engine = Engine(KINDS, Options(seed=seed, surrogate=0.0))
    drive(engine, batches=40, count=48, judge=figures_of_kinds)
    front = engine.archive.rows.genomes[engine.archive.front]
    assert (front[:, 0] > 0.5).mean() > 0.9


def test_a_space_without_branches_has_no_share_for_them() -> None:
    engine = Engine(PLAIN, Options(seed=1))
    drive(engine, batches=4)
    assert (engine.awaited.source >= 0).all()
    assert reserved(PLAIN, 100) == 0
    assert reserved(BRANCHES, 100) == 10
    assert reserved(KINDS, 100) == 10
    assert reserved(Coding([Axis(0, 39, levels=40, nominal=True), Axis(0.0, 1.0)]), 100) == 0  # too many


def test_the_surrogate_plans_all_batches_at_first_then_half_then_few() -> None:
    engine = Engine(PLAIN, Options(seed=1))
    with_surrogate = []
    for _ in range(44):
        serials = engine.asked + np.arange(100)
        genomes = engine.ask(100)
        with_surrogate.append(bool((engine.awaited.source[-100:] == SURROGATE).any()))
        engine.tell(genomes, *figures(genomes), serials=serials)
    assert all(with_surrogate[1:9])  # the first batch fills the cube
    assert 6 <= sum(with_surrogate[10:24]) <= 8
    assert sum(with_surrogate[24:]) == 3
