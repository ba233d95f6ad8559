"""Generations number the trials, and the budget evaluates the first rows."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.jobs.plan import Generations, Plan, cut


def test_small_generations_come_first_by_default() -> None:
    generations = Generations()
    assert generations.trials(9) == range(432, 480)
    assert generations.trials(10) == range(480, 576)
    assert generations.trials(11) == range(576, 672)


@given(size=st.sampled_from([0, 1, 7, 48]), trial=st.integers(0, 10**7))
def test_every_trial_is_in_its_generation(size: int, trial: int) -> None:
    generations = Generations(size)
    assert trial in generations.trials(generations.generation_of(trial))


def test_a_negative_size_is_refused() -> None:
    with pytest.raises(ValueError, match="size >= 0"):
        Generations(-1)


def test_the_budget_evaluates_the_first_rows_of_the_last_generation() -> None:
    plan = Plan(Generations(10), budget=25)
    assert plan.last_generation == 2
    assert plan.wanted(2) == range(20, 25)
    assert plan.is_whole(1)
    assert not plan.is_whole(2)


def test_what_the_ledger_holds_is_not_done_again() -> None:
    plan = Plan(Generations(10), budget=25, done=frozenset({0, 1, 2, 21}))
    assert plan.missing(0) == tuple(range(3, 10))
    assert plan.missing(2) == (20, 22, 23, 24)
    assert not plan.finished
    assert Plan(Generations(10), budget=2, done=frozenset({0, 1})).finished


@given(sizes=st.lists(st.integers(0, 100), max_size=4), workers=st.integers(1, 40))
def test_a_cut_keeps_every_trial_never_mixes_groups_and_gives_each_worker_two(
    sizes: list[int], workers: int
) -> None:
    starts = [sum(sizes[:place]) for place in range(len(sizes))]
    groups = [range(start, start + size) for start, size in zip(starts, sizes, strict=True)]
    tasks = cut(groups, workers=workers)
    assert [trial for task in tasks for trial in task] == list(range(sum(sizes)))
    wanted, kinds = min(sum(sizes), 2 * workers), len([size for size in sizes if size])
    assert len(tasks) == max(wanted, kinds)
    assert len(tasks) == kinds or max(map(len, tasks)) <= -(-sum(sizes) // (wanted - kinds + 1))
    assert all(any(set(task) <= set(group) for group in groups) for task in tasks)
