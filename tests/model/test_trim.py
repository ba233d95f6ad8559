"""The search for a design's offset, on biases whose root is known."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.model.trim import CLOSE_K, MOST_RUNS, Trim

LOW_K, HIGH_K = -5.0, 38.0


def search(bias: Callable[[float], float], first_K: float = 0.0) -> Trim:
    """Run a trim to its end."""
    trim = Trim(first_K, LOW_K, HIGH_K)
    while not trim.done and not trim.given_up:
        assert LOW_K <= trim.offset_K <= HIGH_K
        trim.note(bias(trim.offset_K))
    return trim


@given(st.floats(0.2, 2.0), st.floats(-4.5, 37.5), st.floats(-5.0, 38.0))
def test_a_straight_line_takes_three_runs_at_most(slope: float, root_K: float, first_K: float) -> None:
    trim = search(lambda offset: slope * (offset - root_K), first_K)
    assert trim.done
    assert len(trim.tried) <= 3
    assert abs(trim.bias_K) <= CLOSE_K
    assert trim.offset_K == trim.tried[-1][0], "the offset is that of the last run"


@given(st.floats(0.5, 1.2), st.floats(-0.006, 0.006), st.floats(0.0, 10.0))
def test_a_gentle_curve_takes_four_runs_at_most(slope: float, bend: float, root_K: float) -> None:
    def bias(offset: float) -> float:
        return slope * (offset - root_K) + bend * (offset - root_K) ** 2

    trim = search(bias, root_K - 2.0)
    assert trim.done
    assert abs(bias(trim.offset_K)) <= CLOSE_K


def test_a_good_start_is_left_alone() -> None:
    trim = search(lambda offset: offset - 1.0, 1.01)
    assert trim.done
    assert len(trim.tried) == 1
    assert trim.tried[0] == pytest.approx((1.01, 0.01))


def test_no_more_runs_than_allowed() -> None:
    trim = search(lambda offset: 1.0 if offset > 0.3 else -1.0)
    assert trim.given_up
    assert not trim.done
    assert len(trim.tried) == MOST_RUNS


def test_a_jump_is_enclosed_once_both_sides_are_known() -> None:
    trim = search(lambda offset: 1.0 if offset > 0.3 else -1.0)
    below = [offset for offset, bias in trim.tried if bias < 0.0]
    above = [offset for offset, bias in trim.tried if bias > 0.0]
    assert max(below) < 0.3 < min(above)
    assert min(above) - max(below) <= 0.5


@pytest.mark.parametrize(("bias", "bound"), [(lambda _: 3.0, LOW_K), (lambda _: -30.0, HIGH_K)])
def test_a_root_out_of_reach_ends_at_the_bound(bias: Callable[[float], float], bound: float) -> None:
    trim = search(bias)
    assert trim.given_up
    assert trim.tried[-1][0] == bound


@given(st.floats(-1e3, 1e3))
def test_the_start_is_put_inside_the_bounds(first_K: float) -> None:
    assert LOW_K <= Trim(first_K, LOW_K, HIGH_K).offset_K <= HIGH_K


@given(st.lists(st.floats(-20.0, 20.0), min_size=MOST_RUNS, max_size=MOST_RUNS))
def test_any_biases_come_to_an_end(biases: list[float]) -> None:
    answers = iter(biases)
    trim = search(lambda _: next(answers))
    assert trim.done != trim.given_up
    assert len(trim.tried) <= MOST_RUNS
