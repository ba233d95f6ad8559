"""Where in a second a pump began or ended: found from means over seconds, and no drop lost by it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.model.duty import Duty
from boilerfront.model.fit import replay as at
from boilerfront.model.fit.calibrate import bench_pool
from boilerfront.model.fit.columns import Columns
from boilerfront.model.fit.draws import LEAST_PART_S, Draws, draws_of
from boilerfront.model.fit.inputs import case_of
from boilerfront.model.fit.log import Log
from tests.model.random_designs import NOMINAL

POOL = bench_pool({"architecture": "dual_boiler"}, NOMINAL)
SECONDS = 60
FLOW_G_S = 2.0
INLET_C = 20.0
"""Of a litre of water at 20 °C 998.2 g (VDI Heat Atlas, D2.1, table 1; from memory)."""


def metered(begin_s: float, end_s: float) -> Draws:
    """Return what is found of a log whose pump ran from `begin_s` to `end_s` at FLOW_G_S."""
    clock = np.arange(1.0, SECONDS + 1.0)
    drawn_s = np.clip(np.minimum(clock, end_s) - np.maximum(clock - 1.0, begin_s), 0.0, 1.0)
    log = Log("x.csv", clock, {"flow_g_s": FLOW_G_S * drawn_s}, [], Columns())
    return draws_of(log, Duty(), np.arange(SECONDS + 1.0), INLET_C)


def moments(draws: Draws) -> tuple[float, float]:
    """Return when the one draw begins and ends."""
    on = np.flatnonzero(draws.flow_kg_s > 0.0)
    return float(on[0] + draws.since_s[on[0]]), float(on[-1] + draws.until_s[on[-1]])


@given(begin_s=st.floats(1.0, 20.0), length_s=st.floats(4.0, 30.0))
def test_a_draw_is_found_to_the_part_of_a_second_and_no_drop_is_lost(begin_s: float, length_s: float) -> None:
    draws = metered(begin_s, begin_s + length_s)
    # Up to 0.05 g/s is a meter at rest: 0.025 s of the draw.
    assert moments(draws) == pytest.approx((begin_s, begin_s + length_s), abs=0.03)
    inputs = at.whole_seconds(SECONDS)
    inputs[:, at.I_FLOW_KG_S], inputs[:, at.I_SUBS] = draws.flow_kg_s, 8.0
    parts = draws.parted(inputs)
    drawn_kg = float(np.sum(parts[:, at.I_FLOW_KG_S] * parts[:, at.I_SPAN_S]))
    assert drawn_kg == pytest.approx(1e-3 * FLOW_G_S * length_s, rel=0.02)
    assert np.bincount(parts[:, at.I_SECOND].astype(int), parts[:, at.I_SPAN_S]) == pytest.approx(1.0)
    assert np.all((parts[:, at.I_SUBS] >= 1.0) & (parts[:, at.I_SPAN_S] >= 0.99 * LEAST_PART_S))


@given(begin_s=st.floats(1.0, 20.0), length_s=st.floats(0.5, 1.5))
def test_of_a_short_draw_no_drop_is_lost(begin_s: float, length_s: float) -> None:
    draws = metered(begin_s, begin_s + length_s)
    drawn_kg = float(np.sum(draws.flow_kg_s * (draws.until_s - draws.since_s)))
    assert 1e3 * drawn_kg == pytest.approx(FLOW_G_S * length_s, abs=0.1)


def test_named_shots_begin_and_end_when_their_events_say() -> None:
    clock = np.arange(1.0, SECONDS + 1.0)
    log = Log("x.csv", clock, {}, [(10.25, "shot nominal"), (35.5, "stop")], Columns())
    draws = draws_of(log, Duty(), np.arange(SECONDS + 1.0), INLET_C)
    assert moments(draws) == pytest.approx((10.25, 35.5))
    assert 1e3 * draws.flow_kg_s[10] == pytest.approx(0.9982 * Duty().fill_mL_s, rel=1e-4)


@given(stop_s=st.floats(35.0, 36.0))
def test_the_portafilter_is_off_for_as_long_as_the_duty_says_wherever_in_a_second_a_shot_ends(
    stop_s: float,
) -> None:
    clock = np.arange(1.0, 121.0)
    logged = {"brew_sensor_C": np.full(clock.size, 93.0)}
    log = Log("x.csv", clock, logged, [(10.25, "shot nominal"), (stop_s, "stop")], Columns())
    parts = case_of(log, POOL).inputs
    begins_s = np.cumsum(parts[:, at.I_SPAN_S]) - parts[:, at.I_SPAN_S]
    off_s = (1.0 - parts[:, at.I_JOINED]) * parts[:, at.I_SPAN_S]
    assert off_s.sum() == pytest.approx(Duty().portafilter_off_s)
    # In the last of these seconds it is back in for a part that is weighed, not placed.
    assert begins_s[off_s > 0.0][0] == pytest.approx(stop_s, abs=LEAST_PART_S)
