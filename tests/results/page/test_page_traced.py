"""Traces thinned to what a picture needs, without losing a shot, an event or a watt-second."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from boilerfront.jobs.drafting import starter_folder
from boilerfront.jobs.ranges import one_of_each
from boilerfront.jobs.sweep import load_sweep
from boilerfront.results.page.traced import CALM_STEP_S, SHOT, thinned, traces_of
from boilerfront.results.trace_plot import POWERS
from tests.results.page.page_runs import invented_trace


def test_shots_are_kept_second_by_second_and_the_rest_thinned() -> None:
    trace = invented_trace()
    thin = thinned(trace)
    time_s = np.array(thin.time_s)
    shot = np.array([value is not None for value in thin.columns["shot_C"]])
    assert len(time_s) < len(trace.time_s) / 5
    assert (time_s[0], time_s[-1]) == (trace.time_s[0], trace.time_s[-1])
    assert np.diff(time_s).max() <= CALM_STEP_S
    for _, begin, end in [span for span in thin.spans if span[0] == "shot"]:
        inside = (time_s >= begin) & (time_s <= end)
        assert {begin, end} <= set(time_s[inside].tolist())
        assert np.diff(time_s[inside]).max() <= 1.0
        assert shot[inside].all()
    assert shot.sum() == sum(1 for value in thin.columns["shot_C"] if value is not None)


def test_values_are_the_traces_own_rounded() -> None:
    trace = invented_trace()
    thin = thinned(trace)
    places = np.searchsorted(trace.time_s, thin.time_s)
    for name in ("brew_sensor_C", "group_sensor_C"):
        assert thin.columns[name] == pytest.approx(trace.columns[name][places], abs=0.005)


def test_powers_keep_their_energy() -> None:
    trace = invented_trace()
    thin = thinned(trace)
    whole = float(np.sum(trace.columns["brew_power_W"][1:] * np.diff(trace.time_s)))
    kept = float(np.sum(np.array(thin.columns["brew_power_W"][1:], dtype=float) * np.diff(thin.time_s)))
    assert kept == pytest.approx(whole, rel=2e-3)  # powers are rounded to 1 W: at most 0.5 W in 40 W


def test_what_happened_is_told_in_order() -> None:
    thin = thinned(invented_trace())
    assert [span[0] for span in thin.spans] == ["shot", "shot", "steam", "shot"]
    assert thin.spans[2] == ("steam", 600.0, 640.0)


def test_a_design_that_never_gets_ready_has_no_shots() -> None:
    trace = invented_trace()
    blank = {**trace.columns, "shot_C": np.full_like(trace.time_s, np.nan)}
    thin = thinned(replace(trace, columns=blank, events=[], ready_s=None, verdict="never ready"))
    assert thin.spans == []
    assert thin.ready_s is None
    assert set(thin.columns["shot_C"]) == {None}


@pytest.mark.slow
def test_the_models_own_traces_of_every_family() -> None:
    sweep = load_sweep(starter_folder("compact-230v"))
    designs = dict(enumerate(one_of_each(sweep.variables)))
    shots = [event for event in sweep.duty.events if event.kind == "shot"]
    for thin in traces_of(designs, sweep.brief()).values():
        assert len([span for span in thin.spans if span[0] == "shot"]) == len(shots)
        assert thin.ready_s is not None
        assert SHOT[0] in thin.columns
        assert thin.columns.keys() & {line[0] for line in POWERS}, "a machine has an element"
        assert thin.columns.keys() == thin.labels.keys()
        assert len(thin.time_s) < 1500
        assert {len(column) for column in thin.columns.values()} == {len(thin.time_s)}


def test_a_line_that_says_nothing_is_left_out() -> None:
    trace = invented_trace()
    still = {**trace.columns, "group_power_W": np.zeros_like(trace.time_s)}
    assert "group_power_W" not in thinned(replace(trace, columns=still)).columns
