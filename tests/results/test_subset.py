"""A few designs that stand for many: greedy by hypervolume, with what must be there."""

from __future__ import annotations

import itertools

import moocore
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from boilerfront.results import subset
from boilerfront.results.subset import hypervolume_subset, scaled_to_range
from boilerfront.shared.shapes import Floats

REFERENCE = 1.1


def sphere(count: int, *, seed: int = 1) -> Floats:
    """Return points of a concave front: on the unit sphere, seen from its far side, in four objectives."""
    away = np.abs(np.random.default_rng(seed).normal(size=(count, 4)))
    return np.asarray(1.0 - away / np.linalg.norm(away, axis=1, keepdims=True))


def volume(values: Floats) -> float:
    return float(moocore.hypervolume(values, ref=[REFERENCE] * values.shape[1]))


def test_each_row_taken_adds_most() -> None:
    values = sphere(30)
    scaled = scaled_to_range(values)
    taken: list[int] = []
    for _ in range(6):
        gains = [volume(scaled[[*taken, place]]) for place in range(len(values))]
        taken.append(int(np.argmax(gains)))
    assert hypervolume_subset(values, 6).tolist() == sorted(taken)


def test_it_keeps_the_bound_of_the_greedy_choice() -> None:
    values = sphere(14)
    scaled = scaled_to_range(values)
    best = max(volume(scaled[list(rows)]) for rows in itertools.combinations(range(len(values)), 4))
    # 1 - 1/e: Nemhauser, Wolsey and Fisher, "An analysis of approximations for maximizing submodular set
    # functions", Mathematical Programming 14 (1978) 265-294; from memory
    assert volume(scaled[hypervolume_subset(values, 4)]) >= (1.0 - 1.0 / np.e) * best


def test_what_must_be_there_is_there() -> None:
    values = sphere(50)
    assert {3, 49} <= set(hypervolume_subset(values, 5, always=[49, 3, 3]).tolist())
    assert hypervolume_subset(values, 2, always=[7, 8, 9]).tolist() == [7, 8]


def test_portions_lose_little(monkeypatch: pytest.MonkeyPatch) -> None:
    values = sphere(400)
    whole = volume(scaled_to_range(values)[hypervolume_subset(values, 40)])
    monkeypatch.setattr(subset, "PORTION", 150)
    cut = hypervolume_subset(values, 40, always=[11])
    assert len(set(cut.tolist())) == 40
    assert 11 in cut
    assert volume(scaled_to_range(values)[cut]) > 0.97 * whole


@given(
    arrays(np.float64, st.tuples(st.integers(0, 12), st.integers(1, 4)), elements=st.floats(-1e6, 1e6)),
    st.integers(0, 15),
)
def test_any_rows_give_as_many_as_asked_for(values: Floats, count: int) -> None:
    taken = hypervolume_subset(values, count)
    assert len(taken) == min(count, len(values))
    assert taken.tolist() == sorted(set(taken.tolist()))


def test_no_rows_give_none() -> None:
    assert hypervolume_subset(np.empty((0, 4)), 5).tolist() == []
