"""The surrogate against scipy's interpolant and numerical gradients, and the steps that are taken down it."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.random import Generator
from scipy.interpolate import RBFInterpolator
from scipy.optimize import approx_fprime

from boilerfront.search.coding import Axis, Coding, Floats
from boilerfront.search.descent import descended
from boilerfront.search.surrogate import Interpolant, Surrogate


def _predicted(model: Interpolant, points: Floats) -> Floats:
    return model.sums(model.basis(points))


def _mixed(model: Interpolant, share: Floats, point: Floats) -> float:
    return float((_predicted(model, point[None]) @ share)[0])


def test_in_one_variable_it_is_the_natural_cubic_interpolant_of_scipy() -> None:
    # In one variable both parts of the kernel are the same function. Ours has a ridge of 1e-8 besides: some 1e-5 of
    # what the kernel is between neighbours here.
    rng = np.random.default_rng(1)
    points, targets = np.linspace(0.0, 1.0, 8)[:, None], rng.standard_normal((8, 2))
    at = np.linspace(0.0, 1.0, 50)[:, None]
    expected = RBFInterpolator(points, targets, kernel="cubic", degree=1)(at)
    np.testing.assert_allclose(_predicted(Interpolant(points, targets), at), expected, atol=2e-5)


def test_a_sum_of_single_variables_is_told_by_fewer_points_than_by_distances_alone() -> None:
    rng = np.random.default_rng(2)
    points, at = rng.random((120, 10)), rng.random((400, 10))

    def wavy(x: Floats) -> Floats:
        return np.asarray(np.sin(5.0 * x + np.arange(10)).sum(axis=1)[:, None])

    ours = np.abs(_predicted(Interpolant(points, wavy(points)), at) - wavy(at)).mean()
    alone = RBFInterpolator(points, wavy(points), kernel="cubic", degree=1)(at)
    assert ours < 0.5 * np.abs(alone - wavy(at)).mean()


@given(st.integers(1, 12), st.integers(1, 3), st.integers(0, 2**32 - 1))
@settings(max_examples=30, deadline=None)
def test_its_slope_is_the_numerical_gradient(size: int, targets: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    points = rng.random((40, size))
    model = Interpolant(points, np.sin(points @ rng.standard_normal((size, targets))))
    at, shares = rng.random((3, size)), rng.random((3, targets))
    for point, share, slope in zip(at, shares, model.slope(at, model.mixed(shares)), strict=True):
        numerical = approx_fprime(point, partial(_mixed, model, share), 1e-6)
        np.testing.assert_allclose(slope, numerical, rtol=1e-4, atol=1e-4 * (1.0 + np.abs(numerical).max()))


MIXED = Coding(
    [
        Axis(0.0, 1.0),
        Axis(0.0, 2.0, levels=3, nominal=True),
        Axis(1.0, 8.0, levels=8),
        Axis(0.0, 1.0, needs={1: (0, 2)}),
    ]
)
"""A float, a choice, an integer, and a float that one of the choices does without."""


def _model(coding: Coding, rng: Generator, *, limited: bool) -> Surrogate:
    genomes = coding.canonical(rng.random((60, coding.size)))
    features = coding.features(genomes)
    rising = genomes.sum(axis=1)[:, None] * np.array([1.0, 3.0])
    limits = Interpolant(features, 4.0 * (0.5 - genomes[:, :1])) if limited else None
    return Surrogate(coding, Interpolant(features, rising), limits, np.arange(60 + features.shape[1] + 1))


def test_steps_go_down_and_leave_choices_and_what_is_masked_alone() -> None:
    rng = np.random.default_rng(3)
    model = _model(MIXED, rng, limited=False)
    before = MIXED.canonical(rng.random((200, MIXED.size)))
    after = descended(before, model, objectives=2, rng=rng)
    np.testing.assert_array_equal(after, MIXED.canonical(after))
    np.testing.assert_array_equal(after[:, 1], before[:, 1])
    asleep = ~MIXED.active(before)
    assert asleep.any()
    np.testing.assert_array_equal(after[asleep], before[asleep])
    # Both objectives rise with every coordinate: whatever their mixture, a step lowers both or ends at a face.
    assert (model(after)[0] <= model(before)[0] + 1e-6).all()
    assert (after < before).any(axis=1).mean() > 0.5


@pytest.mark.parametrize("limited", [False, True])
def test_steps_turn_back_where_a_constraint_would_be_missed(limited: bool) -> None:
    rng = np.random.default_rng(4)
    coding = Coding([Axis(0.0, 1.0)] * 5)
    model = _model(coding, rng, limited=limited)
    before = coding.canonical(np.column_stack([np.full(200, 0.25), rng.random((200, 4))]))
    first = descended(before, model, objectives=2, rng=rng)[:, 0]
    # The first coordinate has to be 0.5 at least; without the constraint it only falls.
    assert (first > 0.25).all() if limited else (first < 0.25).all()
