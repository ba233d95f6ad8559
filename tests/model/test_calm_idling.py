"""Several samples share one step while all readings go straight: that changes nothing that counts."""

from __future__ import annotations

import numpy as np
import pytest

from boilerfront.model import ARCHITECTURES
from boilerfront.model.kernel import layout as at
from boilerfront.model.runs import Pool
from tests.model.random_designs import NOMINAL, random_designs
from tests.validate.machines import pool_of, untrimmed_requests

DESIGNS = 200
SAME_START_S = 0.1


@pytest.mark.parametrize("architecture", list(ARCHITECTURES))
def test_shots_agree_with_one_step_a_sample_within_a_hundredth_of_a_kelvin(architecture: str) -> None:
    """Nor does an event begin at another sample: where a vessel overturns is foreseen."""
    designs = random_designs(DESIGNS, 55, architecture=architecture)
    stepwise, calm = Pool(pool_of(*designs).plants, NOMINAL, calm_s=1), pool_of(*designs)
    each, shared = (pool.run(untrimmed_requests(pool, 93.0)) for pool in (stepwise, calm))
    same_start = np.abs(each.out[:, at.O_END_S] - shared.out[:, at.O_END_S]) < SAME_START_S
    for i in np.flatnonzero(~same_start):
        print(f"ends at {each.out[i, at.O_END_S]} and {shared.out[i, at.O_END_S]} s: {designs[i]}")
    assert np.all(same_start)
    assert np.max(np.abs(each.shots - shared.shots)[:, :, at.H_MEAN]) < 0.01
    ready = each.out[:, at.O_READY_S], shared.out[:, at.O_READY_S]
    assert np.max(np.abs(ready[0] - ready[1])) < 0.5
    energy = each.out[:, at.O_ENERGY_J], shared.out[:, at.O_ENERGY_J]
    assert np.max(np.abs(energy[0] / energy[1] - 1.0)) < 1e-3
    assert np.mean(shared.out[:, at.O_STEPS]) < 0.75 * np.mean(each.out[:, at.O_STEPS])
