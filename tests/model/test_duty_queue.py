"""The duty as a queue: when events start, what waiting and recovery mean, what a cold portafilter does."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.brief import Brief
from boilerfront.model.design import read_design
from boilerfront.model.duty import Duty, Event
from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.bands import BREW_BELOW_K
from boilerfront.model.kernel.codes import DONE
from boilerfront.model.kernel.span import TICKS_A_S
from boilerfront.model.runs import Pool, Ran, Request
from boilerfront.model.tolerances import NOMINAL as NOMINAL_MACHINE
from boilerfront.shared.shapes import Floats
from tests.model.random_designs import NOMINAL, Design


def ran_by(values: Design, brief: Brief, machine: dict[str, float] | None = None) -> tuple[Pool, Ran]:
    design = read_design(values, brief.machine)
    pool = Pool([ARCHITECTURES[design.architecture].build(design, brief)], brief)
    return pool, pool.run([Request(0, 93.0, 0.0, {**NOMINAL_MACHINE, **(machine or {})})], record=True)


def changes(record: Floats) -> list[tuple[float, float]]:
    """Return (time, new mode) of every change of the mode."""
    rows = np.flatnonzero(np.diff(record[:, at.R_MODE]))
    return [(float(record[row, at.R_TIME_S]), float(record[row + 1, at.R_MODE])) for row in rows]


def test_events_start_at_their_time_and_not_at_the_next_whole_second() -> None:
    """A machine that is ready a little later would otherwise pull its shots a second later, or just as early."""
    _, ran = ran_by({"architecture": "dual_boiler_coil"}, NOMINAL)
    assert ran.out[0, at.O_WAIT_S] == 0.0
    ready = ran.out[0, at.O_READY_S]
    starts = [t for t, mode in changes(ran.record) if mode != at.MODE_IDLE]
    planned = [ready + s for s in (60, 210, 360, 510, 575, 630, 685, 740)]
    assert ready % 1.0 == pytest.approx(0.5, abs=0.45)
    assert starts[:8] == pytest.approx(planned, abs=1.0 / TICKS_A_S)
    assert starts[8] == starts[7] + 28.0 + 1200.0


def test_an_event_that_starts_late_shifts_all_later_ones() -> None:
    # at 105 °C the milk takes longer than the 65 s to the next shot
    values: Design = {"architecture": "dual_boiler_coil", "steam_set_point_C": 105.0, "brew_volume_mL": 900.0}
    _, ran = ran_by(values, NOMINAL)
    ready = ran.out[0, at.O_READY_S]
    assert ran.out[0, at.O_WAIT_S] == 0.0, "late because the steam event lasts, not because a band is missed"
    assert ran.out[0, at.O_STEAM_TIME_S] > 65.0
    starts = [t for t, mode in changes(ran.record) if mode == at.MODE_SHOT]
    late = starts[3] - (ready + 575.0)
    assert late > 1.0
    for start, at_s in zip(starts[4:7], (630.0, 685.0, 740.0), strict=True):
        assert start == pytest.approx(ready + at_s + late, abs=4.0 / TICKS_A_S)


def test_recovery_lasts_until_the_reading_is_back_for_good() -> None:
    _, ran = ran_by({"architecture": "dual_boiler_coil", "steam_set_point_C": 105.0}, NOMINAL)
    record = ran.record
    below = record[:, at.R_BREW_Y] < 93.0 - BREW_BELOW_K
    longest = 0.0
    modes = changes(record)
    for (stop, mode), (following, _) in pairwise(modes):
        if mode == at.MODE_IDLE:
            idle = (record[:, at.R_TIME_S] > stop) & (record[:, at.R_TIME_S] <= following)
            out = record[idle & below, at.R_TIME_S]
            longest = max(longest, float(out[-1]) - stop if out.size else 0.0)
    assert longest > 10.0
    assert ran.out[0, at.O_RECOVERY_S] == pytest.approx(longest, abs=2.0)


@pytest.mark.parametrize("portafilter", ["locked", "cold"])
@pytest.mark.parametrize("group_W", [0.0, 30.0])
def test_the_group_settles_where_it_is_said_to_reach(portafilter: str, group_W: float) -> None:
    duty = Duty.model_validate(
        {"portafilter": portafilter, "events": (Event(at_s=15_000), Event(after_s=600))}
    )
    brief = NOMINAL.model_copy(update={"duty": duty})
    values: Design = {"architecture": "dual_boiler_coil", "group_power_W": group_W}
    pool, ran = ran_by(values, brief)
    assert ran.out[0, at.O_CODE] == DONE
    first = int(np.flatnonzero(ran.record[:, at.R_MODE] == at.MODE_SHOT)[0])
    settled = ran.record[first - 1, at.R_GROUP_Y]
    parameters = pool.arrays([Request(0, 93.0, 0.0, NOMINAL_MACHINE)]).parameters[0]
    assert parameters[at.P_GROUP_REACH_C] == pytest.approx(settled, abs=0.5)


def test_low_mains_lower_what_a_weak_group_heater_is_judged_against() -> None:
    values: Design = {"architecture": "dual_boiler_coil", "group_power_W": 40.0}
    _, nominal = ran_by(values, NOMINAL)
    _, low = ran_by(values, NOMINAL, {"mains": 0.9})
    assert nominal.out[0, at.O_CODE] == DONE
    assert low.out[0, at.O_CODE] == DONE
