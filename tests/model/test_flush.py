"""Flushing: how little it may move a shot, and that no element heats what is being cooled."""

from __future__ import annotations

import numpy as np
import pytest

from boilerfront.model.kernel import layout as at
from boilerfront.model.runs import Pool
from boilerfront.shared.shapes import Floats
from tests.model.random_designs import random_designs
from tests.validate.machines import pool_of, untrimmed_requests

USER_C = 93.0
NEARLY_K = 0.03
"""No probe tells two steam set-points so close apart."""


def shot_errors_K(pool: Pool, hotter_K: float) -> Floats:
    """Return the mean error of each shot [designs, shots], NaN where none was pulled."""
    shots = pool.run(untrimmed_requests(pool, USER_C, hotter_K)).shots
    means: Floats = np.where(shots[:, :, at.H_SECONDS] > 0.0, shots[:, :, at.H_MEAN], np.nan)
    return means


def test_nearly_the_same_exchanger_pulls_the_same_shots() -> None:
    """A flush ends within a second that it uses in part; what is left are shots that start a second later."""
    pool = pool_of(*random_designs(300, 77, architecture="heat_exchanger"))
    moved = np.abs(shot_errors_K(pool, NEARLY_K) - shot_errors_K(pool, 0.0))
    pulled = ~np.all(np.isnan(moved), axis=1)
    assert np.sum(pulled) >= 200
    assert np.mean(np.nanmax(moved[pulled], axis=1) > 0.05) <= 0.05


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
