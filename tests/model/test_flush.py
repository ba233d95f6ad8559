"""Flushing: how little it may move a shot, and that no element heats what is being cooled."""

from __future__ import annotations

import numpy as np
import pytest

from boilerfront.model import ARCHITECTURES
from boilerfront.model.design import read_design
from boilerfront.model.kernel import layout as at
from boilerfront.model.runs import Pool, Request
from boilerfront.model.tolerances import NOMINAL as MACHINE
from boilerfront.shared.shapes import Floats
from tests.model.random_designs import NOMINAL, random_designs

USER_C = 93.0
NEARLY_K = 0.03
"""No probe tells two steam set-points so close apart."""


def exchanger_shots(pool: Pool, hotter_K: float) -> Floats:
    """Return the mean error of each shot [designs, shots], NaN where none was pulled."""
    requests = [
        Request(i, USER_C, plant.setting.first_K(USER_C) + hotter_K, MACHINE)
        for i, plant in enumerate(pool.plants)
    ]
    shots = pool.run(requests).shots
    means: Floats = np.where(shots[:, :, at.H_SECONDS] > 0.0, shots[:, :, at.H_MEAN], np.nan)
    return means


def test_nearly_the_same_exchanger_pulls_the_same_shots() -> None:
    """A flush ends within a second that it uses in part; what is left are shots that start a second later."""
    build = ARCHITECTURES["heat_exchanger"].build
    designs = random_designs(300, 77, architecture="heat_exchanger")
    pool = Pool([build(read_design(design, NOMINAL.machine), NOMINAL) for design in designs], NOMINAL)
    moved = np.abs(exchanger_shots(pool, NEARLY_K) - exchanger_shots(pool, 0.0))
    pulled = ~np.all(np.isnan(moved), axis=1)
    assert np.sum(pulled) >= 200
    assert np.mean(np.nanmax(moved[pulled], axis=1) > 0.05) <= 0.05


@pytest.mark.parametrize("architecture", ["single_boiler", "thermoblock"])
def test_no_element_heats_what_is_refilled_and_flushed(architecture: str) -> None:
    """Return to brewing: with its integral wound up the loop would heat what the flush cools."""
    build = ARCHITECTURES[architecture].build
    seconds = 0
    for design in random_designs(10, 78, architecture=architecture):
        pool = Pool([build(read_design(design, NOMINAL.machine), NOMINAL)], NOMINAL)
        plant = pool.plants[0]
        request = Request(0, USER_C, plant.setting.first_K(USER_C), MACHINE)
        record = pool.run([request], record=True).record
        too_hot = record[:, at.R_BREW_Y] > USER_C + plant.setting.first_K(USER_C) + 3.0
        cooled = too_hot & np.isin(record[:, at.R_PHASE], (at.REFILLING, at.COOLING))
        seconds += int(np.sum(record[cooled, at.R_DT_S]))
        assert np.all(record[cooled, at.R_BREW_W] == 0.0)
    assert seconds > 60
