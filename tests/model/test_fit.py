"""The fit finds what is hidden, says what it cannot know, and agrees with closed forms of cooling and of a step."""

from __future__ import annotations

import numpy as np
import pytest

from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.brief import Brief
from boilerfront.model.design import read_design
from boilerfront.model.fit.calibrate import bench_pool, calibrate
from boilerfront.model.fit.columns import Channel, Columns
from boilerfront.model.fit.inputs import case_of, noise_K
from boilerfront.model.fit.log import Log
from boilerfront.model.fit.solve import fit
from boilerfront.model.machine import Casing, Group, Machine
from boilerfront.model.props.water import density, heat_capacity
from boilerfront.model.runs import Pool
from boilerfront.shared.shapes import Floats
from tests.model.bench_statistics import SHOTS, benches, judged, summary
from tests.model.invented_bench import Frame, as_logged, true_courses
from tests.model.random_designs import NOMINAL

DESIGN = {"architecture": "dual_boiler_coil"}
ROOM_C = 22.0
NO_FRAME = Frame()


def lonely(**group: float) -> Brief:
    """Return a brief whose parts hardly touch each other, and whose casing is as cold as the room."""
    apart = {"bolted_W_K": 1e-6, "portafilter_W_K": 1e-6, "bore_mm": 1.0, **group}
    machine = Machine(group=Group(**apart), casing=Casing(to_room_W_K=1e5))
    return NOMINAL.model_copy(update={"machine": machine})


def log_of(time_s: Floats, start: str = "auto", **values: Floats) -> Log:
    """Return a log without instruments' errors of its own."""
    known = {name: Channel(column=name, error_K=0.05, drift_K=0.01) for name in values if name.endswith("_C")}
    return Log(
        "log.csv", time_s, dict(values), [], Columns.model_validate({"channels": known, "start": start})
    )


def test_a_cool_down_by_newton_s_law_gives_its_loss() -> None:
    # Newton's law of cooling: T = room + (T0 - room) exp(-UA t / C), with the vessel's own C and 1.4 times its UA
    brief = lonely()
    pool = bench_pool({"architecture": "single_boiler", "insulation_mm": 0.0}, brief)
    vessel = pool.plants[0].vessels["brew"]
    loss_W_K = 1.4 * vessel.loss_W_K
    time_s = np.arange(1.0, 2401.0)
    hot_C = 90.0
    sheath_J_K = next(
        size
        for name, size in zip(pool.topology.names, pool.plants[0].network.sizes, strict=True)
        if name == "brew_sheath"
    )
    cooled = hot_C
    course = []
    for _ in time_s:  # heat capacities of water change by 3 % over the range
        water_J_K = vessel.volume_m3 * density(cooled) * heat_capacity(cooled)
        total = water_J_K + vessel.heat_capacity_J_K + sheath_J_K
        cooled = ROOM_C + (cooled - ROOM_C) * float(np.exp(-loss_W_K / total))
        course.append(cooled)
    off = np.zeros(time_s.size)
    log = log_of(
        time_s, "settled", brew_sensor_C=np.array(course), brew_power_W=off, group_power_W=off,
        room_C=np.full(time_s.size, ROOM_C),
    )  # fmt: skip
    found = fit(pool, [case_of(log, pool)], ["brew_loss"], starts=1).found[0]
    assert found.value == pytest.approx(
        1.4, rel=0.03
    )  # 1 % is the film between water and wall, left out above
    assert found.told


def test_a_sensor_s_ramp_gives_its_lag() -> None:
    # A first-order sensor on a ramp of rate r lags: y = r (t - tau (1 - exp(-t / tau)))
    brief = lonely(emissivity=1e-6, area_m2=1e-6)
    pool = bench_pool({"architecture": "single_boiler", "group_power_W": 100.0}, brief)
    group = brief.machine.group
    rate, lag_s = 100.0 / (group.mass_kg * group.heat_capacity_J_kgK), 12.0
    time_s = np.arange(1.0, 301.0)
    reading = ROOM_C + rate * (time_s - lag_s * (1.0 - np.exp(-time_s / lag_s)))
    zero = np.zeros(time_s.size)
    log = log_of(
        time_s, "cold", group_sensor_C=reading, group_power_W=zero + 100.0, brew_power_W=zero,
        room_C=zero + ROOM_C, brew_sensor_C=zero + ROOM_C,
    )  # fmt: skip
    found = fit(pool, [case_of(log, pool)], ["group_lag_s"], starts=1).found[0]
    assert found.nominal == 8.0
    assert found.value == pytest.approx(lag_s, rel=0.03)


def test_noise_is_found_whatever_the_machine_does() -> None:
    rng = np.random.default_rng(1)
    time_s = np.arange(0.0, 2000.0)
    course = 22.0 + 70.0 * (1.0 - np.exp(-time_s / 200.0))
    noisy = course + 0.1 * rng.standard_normal(time_s.size)
    assert noise_K(noisy, time_s) == pytest.approx(0.1, rel=0.1)
    rounded = np.round(noisy, 1)
    assert noise_K(rounded, time_s) == pytest.approx(np.hypot(0.1, 0.1 / np.sqrt(12.0)), rel=0.1)


def _invented(truth: dict[str, float], frame: Frame = NO_FRAME, *, off_s: int = 600) -> tuple[Brief, Log]:
    brief = NOMINAL.model_copy(update={"duty": SHOTS})
    pool = Pool(
        [ARCHITECTURES["dual_boiler_coil"].build(read_design(DESIGN, brief.machine), brief)], brief, calm_s=1
    )
    course = true_courses(pool, [truth], [frame], user_C=93.0, offset_K=1.0, off_s=off_s)[0]
    logged = as_logged(course, np.random.default_rng(2))
    return brief, Log("invented.csv", logged.pop("time_s"), logged, [], Columns())


@pytest.mark.slow
def test_the_other_integrator_agrees_with_the_replay() -> None:
    brief = NOMINAL.model_copy(update={"duty": SHOTS})
    pool = Pool(
        [ARCHITECTURES["dual_boiler_coil"].build(read_design(DESIGN, brief.machine), brief)], brief, calm_s=1
    )
    course = true_courses(pool, [{}], [Frame()], user_C=93.0, offset_K=1.0)[0]
    time_s = course.pop("time_s")
    case = case_of(Log("true.csv", time_s, course, [], Columns()), pool)
    from boilerfront.model.fit.replay import replay

    channels = [seen.channel for seen in case.observed]
    there = replay(pool, case.inputs, [{}], start=case.start, channels=channels)
    for c, seen in enumerate(case.observed):
        error = np.interp(seen.time_s, np.arange(there.shape[0]), there[:, c, 0]) - seen.values
        assert np.max(np.abs(error)) < 0.05, seen.channel  # what the kernel is proven to


@pytest.mark.slow
def test_what_is_hidden_is_found_and_what_is_missing_is_told() -> None:
    truth = {"brew_loss": 1.3, "steam_loss": 0.8, "coil_outside": 0.8, "group_link": 1.2, "mixing": 0.7}
    brief, log = _invented(truth)
    found = calibrate(DESIGN, brief, [log], wanted=list(truth))
    for each in found.fit.found:
        assert each.told
        assert each.low / 1.02 <= truth[each.name] <= each.high * 1.02  # one draw of noise: 95 % intervals
    assert found.fit.white
    _, log = _invented(truth, Frame(link_W_K=0.4))
    missing = calibrate(DESIGN, brief, [log], wanted=list(truth))
    assert not missing.fit.white
    wider = np.array([each.high / each.low for each in missing.fit.found])
    assert (wider > np.array([each.high / each.low for each in found.fit.found])).all()


@pytest.mark.slow
def test_a_few_invented_benches_are_judged_rightly() -> None:
    results = [judged(bench) for bench in benches(6, seed=3, effect=False)]
    pairs = [each.inside[name] for each in results for name in each.told if each.told[name]]
    assert np.mean(pairs) >= 0.85, summary(results)  # 95 % intervals; 200 benches are run by hand
    assert all(each.shot_K[1] <= max(each.shot_K[0] / 3.0, 1.2 * each.shot_K[2]) for each in results)


@pytest.mark.slow
def test_what_no_log_tells_is_said_to_be_untold() -> None:
    brief, log = _invented({})
    quiet = log.time_s < 120.0  # two minutes of heating up: nothing has been lost yet, nothing drawn
    short = Log("short.csv", log.time_s[quiet], {n: v[quiet] for n, v in log.values.items()}, [], Columns())
    found = calibrate(DESIGN, brief, [short])
    untold = {each.name for each in found.fit.found if not each.told}
    assert {"brew_loss", "steam_loss", "coil_inside", "coil_outside", "group_loss"} <= untold
