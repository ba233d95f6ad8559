"""The kernel against scipy's LSODA on the same right-hand side: a design of each kind, events and outputs imposed.

`make validate` compares many more, imposed and free, and lists every one that differs.
"""

from __future__ import annotations

import numpy as np
import pytest

from boilerfront.model import ARCHITECTURES
from boilerfront.model.kernel import layout as at
from tests.model.random_designs import random_designs
from tests.validate.machines import nominal_request, pool_of, random_machine
from tests.validate.stiff import SHOT_K, imposed_error_K


@pytest.mark.parametrize("heated", [True, False])
@pytest.mark.parametrize("architecture", list(ARCHITECTURES))
def test_shots_follow_the_stiff_solver_with_events_and_outputs_imposed(
    architecture: str, heated: bool
) -> None:
    pool = pool_of(*random_designs(1, 11, architecture=architecture, heated=heated))
    record = pool.run([nominal_request(pool)], record=True).record
    assert imposed_error_K(pool, nominal_request(pool), record) <= SHOT_K


def test_a_small_boiler_that_steams_and_refills_follows_the_stiff_solver() -> None:
    """Heat exchanger 18 of `make validate`: its steam boiler gains and loses a tenth of its water in a steaming."""
    pool = pool_of(random_machine("heat_exchanger", 18))
    record = pool.run([nominal_request(pool)], record=True).record
    assert np.any((record[:, at.R_WAND_KG_S] > 0.0) & (record[:, at.R_REFILL_KG_S] > 0.0))
    assert imposed_error_K(pool, nominal_request(pool), record) <= SHOT_K
