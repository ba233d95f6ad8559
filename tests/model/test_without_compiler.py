"""The kernel is plain Python under its decorators: without the compiler it gives the same numbers.

In double precision: the compiler makes one rounding of a product and a sum, which single shows in the seventh digit.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest

PROGRAM = """
import json

import numpy as np
from numba import njit

from boilerfront.model import runs as model_runs
from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.design import read_design
from boilerfront.model.duty import Duty, Event, Flow
from boilerfront.model.kernel.march import _march, new_lanes
from boilerfront.model.props.compiled import ARITHMETIC
from boilerfront.model.runs import Pool, Request
from boilerfront.model.tolerances import NOMINAL as MACHINE
from tests.model.random_designs import NOMINAL


@njit(**ARITHMETIC)
def march(advance, net, runs, results):
    lanes = new_lanes(net, runs.laws.shape[1], np.float64)
    _march(advance, net, runs, results, lanes, np.empty_like(lanes.T), np.zeros(results.out.shape[1]))


model_runs.march = march
flows = {"nominal": Flow(steady_mL_s=1.55, stop_s=12)}
duty = Duty(flows=flows, events=(Event(at_s=1), Event(after_s=600)), window_start_s=6)
brief = NOMINAL.model_copy(update={"duty": duty})
design = read_design({"architecture": "dual_boiler_coil"}, brief.machine)
pool = Pool([ARCHITECTURES["dual_boiler_coil"].build(design, brief)], brief)
pool.advance = njit(**ARITHMETIC)(getattr(pool.advance, "py_func", pool.advance))  # any precision
ran = pool.run([Request(0, 93.0, 0.0, MACHINE, settled=True)])
print(json.dumps([ran.out[0].tolist(), ran.shots[0, :4].ravel().tolist(), ran.final_C[0].tolist()]))
"""


def _numbers(*, compiled: bool) -> list[object]:
    environment = {**os.environ, "NUMBA_DISABLE_JIT": "0" if compiled else "1"}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], env=environment, capture_output=True, text=True, check=True
    )
    found: list[object] = json.loads(done.stdout)
    return found


@pytest.mark.slow
def test_a_settled_run_is_the_same_with_and_without_the_compiler() -> None:
    with_compiler = _numbers(compiled=True)
    without = _numbers(compiled=False)
    for a, b in zip(with_compiler, without, strict=True):
        assert b == pytest.approx(a, rel=1e-9, abs=1e-9)
