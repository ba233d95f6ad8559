"""Logs of every family, made of its own traces: a machine as designed is found as designed."""

from __future__ import annotations

import numpy as np
import pytest

from boilerfront.model import simulate
from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.duty import Duty, Event
from boilerfront.model.fit.calibrate import bench_pool, calibrate, cases_of
from boilerfront.model.fit.columns import Columns
from boilerfront.model.fit.log import Log
from boilerfront.shared.errors import InputError
from boilerfront.shared.shapes import Floats
from tests.model.random_designs import NOMINAL, Design, random_designs

FLOWS = ("nominal", "fast", "slow", "nominal")
EVENTS = (Event(at_s=60), Event(at_s=200, flow="fast"), Event(at_s=400, flow="slow"), Event(after_s=700))
BRIEF = NOMINAL.model_copy(update={"duty": Duty(events=EVENTS)})
METERS = ("flow_g_s", "refill_g_s", "brew_power_W", "group_power_W", "steam_power_W")
NO_POWERS, NO_FLOW = METERS[2:], METERS[:1]
LOGGED = [
    (architecture, without)
    for architecture in ARCHITECTURES
    for without in ((), NO_POWERS, NO_FLOW)
    # A heat exchanger's flushes are in no event: their flow has to be logged.
    if (architecture, without) != ("heat_exchanger", NO_FLOW)
]
"""Every architecture with the meters that its log lacks."""


def logged(architecture: str, *, without: tuple[str, ...] = (), after_s: float = 0.0) -> tuple[Design, Log]:
    """Return a design and a log of it, a row a second, noise of 0.1 K; some meters left out, some time cut off."""
    design = random_designs(1, 4, architecture=architecture)[0]
    trace = simulate(design, BRIEF)
    rng = np.random.default_rng(1)
    seconds = np.arange(0.0, np.floor(trace.time_s[-1]) + 1.0)
    clock, since = seconds[1:], np.concatenate([[0.0], trace.time_s])

    def means(column: str) -> Floats:
        summed = np.concatenate([[0.0], np.cumsum(trace.columns[column] * np.diff(since))])
        return np.diff(np.interp(seconds, since, summed))

    def points(course: Floats) -> Floats:
        return np.round(np.interp(clock, trace.time_s, course) + 0.1 * rng.standard_normal(clock.size), 1)

    sensors = ["brew_sensor_C", "group_sensor_C", *(["steam_sensor_C"] if "steam_C" in trace.columns else [])]
    values = {name: points(trace.columns[name]) for name in sensors}
    values |= {name: means(name) for name in METERS if name not in without}
    water = points(np.nan_to_num(trace.columns["shot_C"], nan=20.0))
    shots = [(begin, end) for begin, end in trace.spans("shot")]
    values["shot_C"] = np.where([any(b < t <= e for b, e in shots) for t in clock], water, np.nan)
    events = [
        event
        for (b, e), flow in zip(shots, FLOWS, strict=True)
        for event in ((b, f"shot {flow}"), (e, "stop"))
    ]
    kept = clock > after_s
    events = [(when - after_s, text) for when, text in events if when >= after_s]
    return design, Log(
        "x.csv", clock[kept] - after_s, {n: v[kept] for n, v in values.items()}, events, Columns()
    )


@pytest.mark.slow
@pytest.mark.parametrize(("architecture", "without"), LOGGED)
def test_a_machine_as_designed_is_found_as_designed(architecture: str, without: tuple[str, ...]) -> None:
    design, log = logged(architecture, without=without)
    found = calibrate(design, BRIEF, [log])
    inside = [each.low / 1.01 <= each.nominal <= each.high * 1.01 for each in found.fit.found]
    assert sum(inside) >= len(inside) - 1, list(found.fit.found)  # intervals of 95 %
    assert found.fit.white


def test_a_log_that_begins_warm_is_not_taken_for_cold() -> None:
    design, log = logged("single_boiler", after_s=600.0)
    case = cases_of([log], bench_pool(design, BRIEF))[0]
    assert case.start.settled
    assert "begins warm" in " ".join(case.notes)


def test_what_no_replay_can_follow_is_refused() -> None:
    design, log = logged("dual_boiler")
    pool = bench_pool(design, BRIEF)
    values = {**log.values, "riser_C": log.values["brew_sensor_C"]}
    dry = {name: course for name, course in log.values.items() if name != "flow_g_s"}
    swinging, heater = logged("single_boiler")
    for bad, of, said in (
        (Log("a", log.time_s, values, log.events, Columns()), pool, "riser_C: found no part of this machine"),
        (Log("a", log.time_s, dry, [], Columns()), pool, "no flow_g_s and no event 'shot'"),
        (Log("a", log.time_s, log.values, [(9.0, "shot huge")], Columns()), pool, "shot nominal, shot fast"),
        (
            Log("a", heater.time_s, heater.values, [(9.0, "steam")], Columns()),
            bench_pool(swinging, BRIEF),
            "a log of brewing alone",
        ),
    ):
        with pytest.raises(InputError, match=said):
            cases_of([bad], of)
