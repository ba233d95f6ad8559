"""Several sessions a day: the machine cools by its own conductances, begins again as warm as it is, and pays less."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest
from pydantic import ValidationError
from scipy.integrate import solve_ivp

from boilerfront.model import evaluate_many
from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.brief import Brief
from boilerfront.model.design import read_design
from boilerfront.model.duty import Duty
from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.cooling import cool_down
from boilerfront.model.runs import Pool, Ran, Request
from boilerfront.model.sensitivity import tolerance_effects
from boilerfront.model.tolerances import NOMINAL as NOMINAL_MACHINE
from boilerfront.model.tolerances import Tolerances
from boilerfront.shared.shapes import Floats
from tests.model.random_designs import BOOK, NOMINAL, Design, number, random_designs
from tests.model.stiff_reference import Reference, rates

COIL: Design = {"architecture": "dual_boiler_coil"}
COUNT = 3
HOUR_S = 3600.0


def brief_of(**duty: Any) -> Brief:
    return NOMINAL.model_copy(update={"duty": Duty(**duty)})


@cache
def first_session() -> tuple[Pool, list[Request], Ran]:
    """Return three machines after their first session."""
    designs: list[Design] = [COIL, {**COIL, "insulation_mm": 0.0}, {**COIL, "brew_volume_mL": 300.0}]
    read = [read_design(design, NOMINAL.machine) for design in designs]
    pool = Pool([ARCHITECTURES["dual_boiler_coil"].build(each, NOMINAL) for each in read], NOMINAL)
    requests = [Request(k, 93.0, 0.0, NOMINAL_MACHINE) for k in range(COUNT)]
    return pool, requests, pool.run(requests)


def cooled(gap_s: float) -> Floats:
    pool, requests, ran = first_session()
    temperatures = ran.final_C.copy()
    weights = ran.out[:, at.O_STEAM_END_KG].copy()
    cool_down(pool.advance, pool.net, pool.arrays(requests), weights, gap_s, temperatures)
    return temperatures


@pytest.mark.slow
def test_cooling_is_what_a_stiff_solver_makes_of_the_same_network() -> None:
    pool, requests, ran = first_session()
    reference = Reference(pool, requests[0])
    reference.lanes.S[at.S_STEAM_KG, 0] = ran.out[0, at.O_STEAM_END_KG]
    reference.lanes.S[at.S_LEVEL, 0] = reference.lanes.S[at.S_SHARE, 0] = 0.6
    reference.lanes.S[at.S_JOINED, 0] = 1.0
    reference.lanes.Q[:] = 0.0
    slope = np.empty(ran.final_C.shape[1])

    def right_hand_side(_: float, y: Floats) -> Floats:
        lanes = reference.lanes  # nothing is drawn
        rates(reference.conductances, reference.net, lanes, reference.runs, y, slope, 0.0)
        return slope.copy()

    for hours in (0.5, 4.0):
        end = solve_ivp(
            right_hand_side, (0.0, hours * HOUR_S), ran.final_C[0], method="BDF", rtol=1e-6, atol=1e-5
        )
        worst = np.max(np.abs(end.y[:, -1] - cooled(hours * HOUR_S)[0]))
        print(f"after {hours} h: {worst:.3f} K at most")
        assert worst < 0.3


def test_a_machine_cools_towards_the_room_and_never_past_it() -> None:
    room = NOMINAL.site.ambient_C
    last = first_session()[2].final_C
    for hours in (0.25, 1.0, 4.0, 12.0):
        now = cooled(hours * HOUR_S)
        brew = [name.startswith("brew_") for name in first_session()[0].topology.names]
        assert np.all(now[:, brew] < last[:, brew])
        assert np.all(now > room - 1e-6)
        last = now
    assert np.max(cooled(24 * HOUR_S)) < room + 3.0


def test_no_gap_leaves_it_as_it_was() -> None:
    assert np.allclose(cooled(1e-6), first_session()[2].final_C, rtol=0.0, atol=1e-4)


def test_insulation_keeps_a_vessel_warm() -> None:
    pool = first_session()[0]
    steam = pool.topology.names.index("steam")
    after = cooled(4 * HOUR_S)
    assert after[0, steam] > after[1, steam] + 1.0


def test_a_machine_does_not_depend_on_those_beside_it() -> None:
    pool, requests, ran = first_session()
    alone = ran.final_C[1:2].copy()
    weights = ran.out[1:2, at.O_STEAM_END_KG].copy()
    cool_down(pool.advance, pool.net, pool.arrays(requests[1:2]), weights, HOUR_S, alone)
    assert np.array_equal(alone[0], cooled(HOUR_S)[1])


def energy(design: Design, **duty: float) -> float:
    (row,) = evaluate_many([design], brief_of(**duty))
    return number(row, "energy_kWh_day")


@pytest.mark.parametrize(
    "architecture",
    [
        name if name == "dual_boiler_coil" else pytest.param(name, marks=pytest.mark.slow)
        for name in ARCHITECTURES
    ],
)
def test_later_sessions_cost_less_the_sooner_they_come(architecture: str) -> None:
    designs = random_designs(12, 3, architecture=architecture)
    through = (
        d for d, row in zip(designs, evaluate_many(designs, NOMINAL), strict=True) if not row["reason"]
    )
    design = next(through)
    once = energy(design)
    hourly, later, overnight = (
        energy(design, sessions=2, session_gap_s=gap * HOUR_S) for gap in (1.0, 4.0, 23.0)
    )
    twice = f"twice {hourly:.3f}, {later:.3f} and {overnight:.3f} kWh after 1, 4 and 23 h"
    print(f"{architecture}: {once:.3f} once, {twice}")
    assert once < hourly < later < overnight < 2.0 * once
    # after a night it is a cold start again but for the last kelvins, and there is one day of being switched off
    off = NOMINAL.machine.control.off_W * 24.0 * 1e-3
    assert overnight == pytest.approx(2.0 * once - off, rel=0.005)


def test_the_day_is_the_sum_of_its_sessions() -> None:
    brief = brief_of(sessions=3, session_gap_s=2 * HOUR_S)
    (row,) = evaluate_many([COIL], brief)
    read = read_design(COIL, brief.machine)
    pool = Pool([ARCHITECTURES[read.architecture].build(read, brief)], brief)
    requests = [Request(0, 93.0, number(row, "trim_offset_K"), NOMINAL_MACHINE)]
    first = pool.run(requests)
    pool.live_a_day(requests, first)
    out = first.out[0]
    assert out[at.O_LATER_J] < out[at.O_ENERGY_J]
    assert out[at.O_LATER_S] < out[at.O_END_S], "a warm machine is ready sooner"
    hold_s = brief.machine.control.hold_s
    on_s = out[at.O_END_S] + 2.0 * out[at.O_LATER_S] + 3.0 * hold_s
    joules = out[at.O_ENERGY_J] + 2.0 * out[at.O_LATER_J] + 3.0 * out[at.O_HOLD_W] * hold_s
    joules += brief.machine.control.off_W * (86_400.0 - on_s)
    assert number(row, "energy_kWh_day") == pytest.approx(joules / 3.6e6, rel=1e-9)


def test_robust_energy_has_every_machine_s_own_day() -> None:
    batch = Tolerances(samples=8)
    once, twice = (
        evaluate_many([COIL], Brief(prices=BOOK, tolerances=batch, duty=Duty(sessions=n)))[0] for n in (1, 2)
    )
    for name in ("shot_deviation_K", "warm_up_s", "part_cost", "margin_overshoot_K"):
        assert once[name] == twice[name], "only the day's energy knows of sessions"
    ratio = number(twice, "energy_kWh_day") / number(once, "energy_kWh_day")
    nominal = number(twice, "energy_kWh_day_nominal") / number(once, "energy_kWh_day_nominal")
    assert ratio == pytest.approx(nominal, rel=0.05)
    found = tolerance_effects(COIL, Brief(prices=BOOK, tolerances=batch, duty=Duty(sessions=2)))[""]
    cold = next(each for each in found.effects if (each.name, each.after) == ("ambient", -6.0))
    assert cold.changes["energy_kWh_day"] > 0.0


def test_more_than_a_day_is_refused() -> None:
    with pytest.raises(ValidationError, match="more than a day"):
        Duty(sessions=4, session_gap_s=30_000.0)
