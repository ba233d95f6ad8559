"""The batch of machines: which of the sorted values count, and that all designs meet the same machines."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from boilerfront.model.site import Site
from boilerfront.model.tolerances import COLUMNS, NOMINAL, Tolerances, robust, robust_margin, samples


@pytest.mark.parametrize(("machines", "pick"), [(32, 29), (8, 8), (10, 9), (16, 15), (1, 1), (512, 461)])
def test_the_pick_is_the_smallest_that_nine_in_ten_keep(machines: int, pick: int) -> None:
    values = np.random.default_rng(0).permutation(np.arange(1.0, machines + 1.0))
    assert robust(values, 0.9) == pick
    assert robust_margin(values, 0.9) == machines - pick + 1, "a margin is picked from the other end"


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=64))
def test_margins_mirror_objectives(values: list[float]) -> None:
    array = np.array(values)
    assert robust_margin(array, 0.9) == -robust(-array, 0.9)


@example(100, 0.55)  # 0.55 x 100 is 55.000000000000007 in floating point
@given(st.integers(1, 600), st.sampled_from([0.5, 0.55, 0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95, 1.0]))
def test_the_share_is_counted_in_whole_machines(machines: int, share: float) -> None:
    exact = -(-round(share * 100) * machines // 100)  # ceil in integers
    assert robust(np.arange(1.0, machines + 1.0), share) == exact


def test_a_machine_that_never_gets_ready_is_worse_than_any() -> None:
    values = np.array([math.inf] * 3 + [float(k) for k in range(29)])
    assert robust(values, 0.9) == 28.0
    assert robust(np.array([math.inf] * 4 + [1.0] * 28), 0.9) == math.inf


def test_columns_are_the_same_for_every_request() -> None:
    one, other = (samples(Tolerances(samples=32), Site()) for _ in range(2))
    assert list(one) == list(COLUMNS)
    for name in COLUMNS:
        assert np.array_equal(one[name], other[name])


def test_sites_differ_in_their_mains_column_alone() -> None:
    europe = samples(Tolerances(samples=32), Site(mains_tolerance=0.10))
    america = samples(Tolerances(samples=32), Site(mains_tolerance=0.05, voltage_V=120.0))
    assert np.allclose(america["mains"] - 1.0, 0.5 * (europe["mains"] - 1.0))
    for name in COLUMNS[1:]:
        assert np.array_equal(europe[name], america[name])


def test_no_column_depends_on_another_column_s_width() -> None:
    wide = samples(Tolerances(samples=32, inlet_K=10.0), Site())
    narrow = samples(Tolerances(samples=32, inlet_K=1.0), Site())
    assert np.allclose(wide["inlet"], 10.0 * narrow["inlet"])
    for name in COLUMNS:
        if name != "inlet":
            assert np.array_equal(wide[name], narrow[name])


@pytest.mark.parametrize("count", [8, 32, 512])
def test_every_column_fills_its_range_evenly(count: int) -> None:
    made = samples(Tolerances(samples=count), Site())
    half = {"mains": 0.10, "inlet": 6.0, "flow": 0.20, "coil_conductance": 0.25, "coil_immersed": 0.10}
    for name, width in half.items():
        unit = (made[name] - NOMINAL[name]) / width
        assert np.all(np.abs(unit) <= 1.0)
        # a scrambled Sobol set of 2^m points has one in each of 2^m equal bins (A. B. Owen 1995)
        bins = np.floor((unit + 1.0) / 2.0 * count).astype(int)
        assert sorted(bins.tolist()) == list(range(count))


def test_more_machines_begin_with_the_same_ones() -> None:
    few, many = (samples(Tolerances(samples=count), Site()) for count in (8, 32))
    for name in COLUMNS:
        assert np.array_equal(few[name], many[name][:8])


def test_no_samples_mean_the_nominal_machine_alone() -> None:
    assert all(column.size == 0 for column in samples(Tolerances(samples=0), Site()).values())


def test_another_seed_gives_other_machines() -> None:
    one, other = (samples(Tolerances(samples=8, seed=seed), Site()) for seed in (1, 2))
    assert not np.array_equal(one["mains"], other["mains"])
