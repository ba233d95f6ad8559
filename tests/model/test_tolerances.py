"""The batch of machines: which of the sorted values count, and that all designs meet the same machines."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError
from scipy.stats import qmc

from boilerfront.model import evaluate_many
from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.brief import Brief
from boilerfront.model.design import read_design
from boilerfront.model.kernel import layout as at
from boilerfront.model.runs import Pool, Request
from boilerfront.model.site import Site
from boilerfront.model.tolerances import COLUMNS, Tolerances, TrimRule, ends, robust, robust_margin, samples
from tests.model.random_designs import BOOK


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
    one, other = (samples(Tolerances(samples=32), Site(), TrimRule()) for _ in range(2))
    assert list(one) == list(COLUMNS)
    for name in COLUMNS:
        assert np.array_equal(one[name], other[name])


def test_sites_differ_in_their_mains_column_alone() -> None:
    europe = samples(Tolerances(samples=32), Site(mains_tolerance=0.10), TrimRule())
    america = samples(Tolerances(samples=32), Site(mains_tolerance=0.05, voltage_V=120.0), TrimRule())
    assert np.allclose(america["mains"] - 1.0, 0.5 * (europe["mains"] - 1.0))
    for name in COLUMNS[1:]:
        assert np.array_equal(europe[name], america[name])


def test_no_column_depends_on_another_column_s_width() -> None:
    wide = samples(Tolerances(samples=32, inlet_K=10.0), Site(), TrimRule())
    narrow = samples(Tolerances(samples=32, inlet_K=1.0), Site(), TrimRule())
    assert np.allclose(wide["inlet"], 10.0 * narrow["inlet"])
    for name in COLUMNS:
        if name != "inlet":
            assert np.array_equal(wide[name], narrow[name])


@pytest.mark.parametrize("count", [8, 32, 512])
def test_every_column_fills_its_range_evenly(count: int) -> None:
    made = samples(Tolerances(samples=count), Site(), TrimRule())
    for name, (low, high) in ends(Tolerances(), Site(), TrimRule()).items():
        unit = 2.0 * (made[name] - low) / (high - low) - 1.0
        assert np.all(np.abs(unit) <= 1.0)
        # a scrambled Sobol set of 2^m points has one in each of 2^m equal bins (A. B. Owen 1995)
        bins = np.floor((unit + 1.0) / 2.0 * count).astype(int)
        assert sorted(bins.tolist()) == list(range(count))


def test_more_machines_begin_with_the_same_ones() -> None:
    few, many = (samples(Tolerances(samples=count), Site(), TrimRule()) for count in (8, 32))
    for name in COLUMNS:
        assert np.array_equal(few[name], many[name][:8])


def test_no_samples_mean_the_nominal_machine_alone() -> None:
    assert all(column.size == 0 for column in samples(Tolerances(samples=0), Site(), TrimRule()).values())


FIRST_EVER = {
    "mains": [0.9, 1.1],
    "inlet": [-6.0, 6.0],
    "flow": [0.8, 1.2],
    "coil_conductance": [0.75, 1.25],
    "coil_immersed": [0.9, 1.1],
}


def test_the_first_columns_are_what_they_were_when_there_were_no_others() -> None:
    unit = qmc.Sobol(16, scramble=True, rng=1).random_base2(3)
    made = samples(Tolerances(samples=8), Site(), TrimRule())
    for column, (name, (low, high)) in enumerate(FIRST_EVER.items()):
        assert np.allclose(made[name], low + (high - low) * unit[:, column], rtol=0.0, atol=1e-12)


def test_ends_are_those_of_the_definitions() -> None:
    found = ends(Tolerances(), Site(), TrimRule())
    assert tuple(found) == COLUMNS
    for name, band in FIRST_EVER.items():
        assert found[name] == pytest.approx(band)
    assert found["brew_power"] == (-1.0, 1.0)  # places in the band of IEC 60335-1
    assert found["brew_sensor"] == (-0.15, 0.15)
    assert ends(Tolerances(), Site(), TrimRule(by="model"))["brew_sensor"] == (-0.5, 0.5)
    # 0.1 mm at 1 W/mK: 1e-4 m2K/W
    assert found["scale"] == pytest.approx((0.0, 1e-4))


def test_powers_scatter_only_where_asked() -> None:
    found = samples(Tolerances(samples=8, element_power=False), Site(), TrimRule())
    assert not {"brew_power", "group_power", "steam_power"} & set(found)
    whole = samples(Tolerances(samples=8), Site(), TrimRule())
    assert all(np.array_equal(found[name], whole[name]) for name in found)


@pytest.mark.parametrize("few", [1, 7])
def test_a_batch_of_a_few_machines_is_refused(few: int) -> None:
    with pytest.raises(ValidationError, match="at least 8"):
        Tolerances(samples=few)


@given(
    count=st.integers(8, 200),
    seed=st.integers(0, 2**31),
    inlet=st.floats(0.0, 15.0),
    scale=st.floats(0.0, 2.0),
    by=st.sampled_from(["unit", "model"]),
)
@settings(deadline=None, max_examples=60)
def test_every_machine_lies_between_the_ends(
    count: int, seed: int, inlet: float, scale: float, by: Literal["unit", "model"]
) -> None:
    tolerances = Tolerances(samples=count, seed=seed, inlet_K=inlet, scale_mm=scale)
    limits = ends(tolerances, Site(), TrimRule(by=by))
    made = samples(tolerances, Site(), TrimRule(by=by))
    assert list(made) == list(limits)
    for name, (low, high) in limits.items():
        assert made[name].shape == (count,)
        assert np.all((made[name] >= low - 1e-12) & (made[name] <= high + 1e-12))


def test_another_seed_gives_other_machines() -> None:
    one, other = (samples(Tolerances(samples=8, seed=seed), Site(), TrimRule()) for seed in (1, 2))
    assert not np.array_equal(one["mains"], other["mains"])


def test_robust_values_are_those_of_plain_runs_sorted_by_hand() -> None:
    """The whole batch again, machine by machine, from the definitions alone."""
    brief = Brief(prices=BOOK, tolerances=Tolerances(samples=16))
    design: dict[str, float | str] = {"architecture": "dual_boiler_coil", "coil_length_m": 0.6}
    (row,) = evaluate_many([design], brief)
    read = read_design(design, brief.machine)
    pool = Pool([ARCHITECTURES[read.architecture].build(read, brief)], brief)
    machines = samples(brief.tolerances, brief.site, brief.trim)
    offset = row["trim_offset_K"]
    assert isinstance(offset, float)
    deviations, warm_ups, levels = [], [], []
    for k in range(16):
        machine = {name: float(values[k]) for name, values in machines.items()}
        ran = pool.run([Request(0, 93.0, offset, machine)])
        squares = ran.shots[0, :8, at.H_SQUARE]
        deviations.append(math.sqrt(float(np.mean(squares)) + 0.05**2 / 12.0))
        warm_ups.append(float(ran.out[0, at.O_READY_S]))
        top = brief.machine.elements.steam_top_share
        levels.append(
            1e3 * pool.plants[0].vessels["steam"].height_m * (float(ran.out[0, at.O_LEVEL_LOW]) - top)
        )
    # 0.9 x 16 = 14.4: the 15th smallest of 16; a margin with a star is the least of all
    assert row["shot_deviation_K"] == pytest.approx(sorted(deviations)[14], rel=1e-12)
    assert row["warm_up_s"] == pytest.approx(sorted(warm_ups)[14], rel=1e-12)
    assert row["margin_level_mm"] == pytest.approx(min(levels), rel=1e-12)
