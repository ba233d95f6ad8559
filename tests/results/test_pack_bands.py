"""Bands of a batch's traces on common clocks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from boilerfront.model import Trace
from boilerfront.results.pack.bands import bands_of
from tests.results.test_trace_plot import trace


def shifted(by_s: float, by_K: float) -> Trace:
    """Return the trace of a machine that is ready later and pours hotter."""
    plain = trace()
    columns = {name: values + by_K for name, values in plain.columns.items()}
    columns["shot_C"] = np.interp(plain.time_s - by_s, plain.time_s, plain.columns["brew_sensor_C"]) + by_K
    events = [(time_s + by_s, word) for time_s, word in plain.events]
    return replace(plain, columns=columns, events=events, ready_s=55.0 + by_s)


def test_shots_are_laid_on_the_pumps_clock_and_bands_hold_the_middle() -> None:
    machines = [shifted(delay, delay / 10.0) for delay in np.linspace(0.0, 20.0, 21)]
    found = bands_of(machines[10], iter(machines))
    assert found.machines == 21
    assert found.ready_s == (55.0, 75.0)
    (shot,) = found.shots
    assert shot.clock_s[-1] == pytest.approx(30.0)
    assert (shot.low <= shot.nominal).all()
    assert (shot.nominal <= shot.high).all()
    assert shot.high[-1] - shot.low[-1] == pytest.approx(0.9 * 2.0, abs=0.05)
    warm = found.warm_up["brew_sensor_C"]
    assert warm.clock_s[-1] == pytest.approx(75.0 + 60.0, abs=2.0)


def test_a_machine_that_never_got_ready_or_pulled_no_shot_counts_as_far_as_it_went() -> None:
    dead = replace(trace(), events=[], ready_s=None)
    found = bands_of(trace(), [dead, trace()])
    assert found.ready_s == (55.0, 55.0)
    assert np.isfinite(found.shots[0].low[:-2]).all()  # the invented trace ends a second early
    alone = bands_of(trace(), [dead])
    assert np.isnan(alone.shots[0].low).all()


def test_without_machines_the_band_is_the_nominal_course() -> None:
    found = bands_of(trace(), [])
    assert found.machines == 0
    assert np.array_equal(found.shots[0].low, found.shots[0].nominal, equal_nan=True)
