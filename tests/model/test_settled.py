"""Settled runs begin where the machine would stand after a long time at that set-point."""

from __future__ import annotations

import numpy as np
import pytest

from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.design import read_design
from boilerfront.model.duty import Duty, Event
from boilerfront.model.kernel import layout as at
from boilerfront.model.runs import SETTLE_S, Pool, Request
from boilerfront.model.tolerances import NOMINAL as NOMINAL_MACHINE
from boilerfront.shared.shapes import Floats
from tests.model.random_designs import NOMINAL, Design

LONG = NOMINAL.model_copy(update={"duty": Duty(events=(Event(at_s=15_000), Event(after_s=600)))})
"""Four hours of idling after ready: longer than any time constant of the machine."""


class Courses:
    """The same machine twice: settled by the kernel, and left alone for four hours."""

    def __init__(self, group_W: float) -> None:
        values: Design = {"architecture": "dual_boiler_coil", "group_power_W": group_W}
        plant = ARCHITECTURES["dual_boiler_coil"].build(read_design(values, NOMINAL.machine), NOMINAL)
        short, long = Pool([plant], NOMINAL), Pool([plant], LONG)
        self.names = short.topology.names
        self.settled = short.run([Request(0, 93.0, 0.0, NOMINAL_MACHINE, settled=True)], record=True).record
        self.long = long.run([Request(0, 93.0, 0.0, NOMINAL_MACHINE)], record=True).record

    def before_first_shot(self, record: Floats, name: str) -> float:
        first = int(np.flatnonzero(record[:, at.R_MODE] == at.MODE_SHOT)[0])
        return float(record[first - 1, at.NR + self.names.index(name)])


@pytest.mark.parametrize("group_W", [0.0, 30.0, 150.0])
def test_a_settled_run_begins_at_the_equilibrium(group_W: float) -> None:
    courses = Courses(group_W)
    for name in ("group", "portafilter", "brew_1", "brew_4", "steam", "casing", "coil_6"):
        settled, left_alone = (
            courses.before_first_shot(record, name) for record in (courses.settled, courses.long)
        )
        assert settled == pytest.approx(left_alone, abs=0.1), name


@pytest.mark.parametrize("group_W", [0.0, 30.0, 150.0])
def test_a_settled_run_stays_where_it_is(group_W: float) -> None:
    courses = Courses(group_W)
    still = courses.settled[courses.settled[:, at.R_TIME_S] < SETTLE_S - 1.0]
    for name in ("group", "portafilter", "casing"):
        column = still[:, at.NR + courses.names.index(name)]
        assert np.ptp(column) < 0.1, name
    # Layers and sheaths begin at the water's temperature and find the profile of a heated boiler in minutes.
    late = still[still[:, at.R_TIME_S] > SETTLE_S - 60.0]
    for name in ("brew_4", "steam"):
        assert np.ptp(late[:, at.NR + courses.names.index(name)]) < 0.05, name
