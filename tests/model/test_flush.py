"""Flushing: how little it may move a shot, and that no element heats what is being cooled."""

from __future__ import annotations

import numpy as np
import pytest

from boilerfront.model import evaluate_many
from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.flush import FLUSH_WITHIN_K
from boilerfront.model.runs import Pool
from boilerfront.shared.shapes import Floats
from tests.model.random_designs import NOMINAL, number, random_designs
from tests.validate.machines import pool_of, untrimmed_requests

USER_C = 93.0
SHOTS = 8
NEARLY_K = 0.03
"""No probe tells two steam set-points so close apart."""


def shot_errors_K(pool: Pool, hotter_K: float) -> Floats:
    """Return the mean error of each shot [designs, shots], NaN where none was pulled."""
    shots = pool.run(untrimmed_requests(pool, USER_C, hotter_K)).shots
    means: Floats = np.where(shots[:, :, at.H_SECONDS] > 0.0, shots[:, :, at.H_MEAN], np.nan)
    return means


def test_nearly_the_same_exchanger_pulls_the_same_shots() -> None:
    """A flush ends within a second, and what begins to circulate takes heat up as water at rest does.

    What is left are designs that steam or are refilled for a second more.
    """
    pool = pool_of(*random_designs(300, 77, architecture="heat_exchanger"))
    moved = np.abs(shot_errors_K(pool, NEARLY_K) - shot_errors_K(pool, 0.0))
    pulled = ~np.all(np.isnan(moved), axis=1)
    assert np.sum(pulled) >= 200
    assert np.mean(np.nanmax(moved[pulled], axis=1) > 0.05) <= 0.02


@pytest.mark.parametrize("heated", [True, False])
def test_no_shot_after_a_flush_begins_with_water_that_would_boil(heated: bool) -> None:
    """The tube's hot water has left the screen before a shot: it would spit steam onto the puck."""
    rows = evaluate_many(random_designs(40, 9, architecture="heat_exchanger", heated=heated), NOMINAL)
    through = [row for row in rows if row["reason"] is None]
    assert len(through) >= 20
    boiling_K = np.array([number(row, "margin_outlet_boiling_K") for row in through])
    assert np.mean(boiling_K >= 0.0) >= 0.9
    assert all(50.0 < number(row, "flush_mL") <= SHOTS * 200.0 for row in through)


def test_a_flush_runs_until_the_cool_water_is_at_the_screen() -> None:
    """What leaves the tube at the moment it is cool enough has to come through the pipe and the passage."""
    pool = pool_of(*random_designs(1, 77, architecture="heat_exchanger"))
    record = pool.run(untrimmed_requests(pool, USER_C, 10.0), record=True).record
    time_s, outlet = record[:, at.R_TIME_S], record[:, at.NR + pool.net.roles[at.N_BREW_OUTLET]]
    flushing = record[:, at.R_MODE] == at.MODE_FLUSH
    ends = np.flatnonzero(flushing[:-1] & ~flushing[1:])
    assert len(ends) == SHOTS
    machine = NOMINAL.machine
    pipe_mL = np.pi / 4.0 * machine.circulation.bore_mm**2 * machine.circulation.pipe_m
    passage_mL = np.pi / 4.0 * machine.group.bore_mm**2 * machine.group.length_m
    through_s = (pipe_mL + passage_mL) / NOMINAL.duty.fill_mL_s
    for end in ends:
        cool = np.flatnonzero((outlet[: end + 1] > USER_C + FLUSH_WITHIN_K) & flushing[: end + 1])[-1]
        assert time_s[end] - time_s[cool] == pytest.approx(
            through_s, abs=0.15
        )  # a course within a second is no line


@pytest.mark.parametrize("architecture", ["single_boiler", "thermoblock"])
def test_no_element_heats_what_is_refilled_and_flushed(architecture: str) -> None:
    """Return to brewing: with its integral wound up the loop would heat what the flush cools."""
    seconds = 0
    for design in random_designs(10, 78, architecture=architecture):
        pool = pool_of(design)
        record = pool.run(untrimmed_requests(pool, USER_C), record=True).record
        too_hot = record[:, at.R_BREW_Y] > USER_C + pool.plants[0].setting.first_K(USER_C) + 3.0
        cooled = too_hot & np.isin(record[:, at.R_PHASE], (at.REFILLING, at.COOLING))
        seconds += int(np.sum(record[cooled, at.R_DT_S]))
        assert np.all(record[cooled, at.R_BREW_W] == 0.0)
    assert seconds > 60
