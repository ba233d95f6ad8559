"""A machine that is switched off: its nodes lose their heat by the network's own conductances at rest.

Nothing is pumped, heated, steamed or refilled; a thermosyphon goes on until it is cold. The steps are those of the
march, grown with the time: the film coefficients change with the temperatures, which fall by ever less.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from boilerfront.model.kernel.arrays import Lanes, Net, Runs
from boilerfront.model.kernel.boiler import weigh_steam
from boilerfront.model.kernel.circulation import circulate
from boilerfront.model.kernel.compile_step import Advance
from boilerfront.model.kernel.films import prepare
from boilerfront.model.kernel.layout import (
    LANES,
    NO,
    P_LOOP_HEIGHT_M,
    P_PORTAFILTER_COLD,
    P_STEAM_M3,
    S_ALL_FLOW,
    S_FLOW,
    S_JOINED,
    S_LOOP,
    S_PINNED,
    S_STEAM_KG,
)
from boilerfront.model.kernel.march import SINGLE, move, new_lanes
from boilerfront.model.kernel.start import load
from boilerfront.model.props.compiled import ARITHMETIC, compiled
from boilerfront.shared.shapes import Floats

STEPS = 100
GROWTH = 1.06
"""Each step is longer than the one before: four hours begin with 3 s and end with a quarter of an hour."""


@compiled
def _put_to_rest(lane: int, net: Net, lanes: Lanes, start_C: Floats, steam_kg: float) -> None:
    """Take a lane's temperatures and leave it without flow and power."""
    S = lanes.S
    for node in range(net.stores.size):
        lanes.T[node, lane] = start_C[node]
        lanes.Q[node, lane] = 0.0
    S[S_FLOW, lane] = 0.0
    S[S_PINNED, lane] = 1.0  # what circulates follows in halves: the steps are long
    S[S_JOINED, lane] = 0.0 if lanes.P[P_PORTAFILTER_COLD, lane] > 0.0 else 1.0
    S[S_STEAM_KG, lane] = steam_kg


@njit(cache=True, **ARITHMETIC)
def cool_down(
    advance: Advance, net: Net, runs: Runs, steam_kg: Floats, gap_s: float, cooled_C: Floats
) -> None:
    """Let the machines of `runs` cool from `cooled_C` [runs, nodes] for `gap_s` seconds; the result replaces it.

    `steam_kg` [runs]: what the steam vessel holds.
    """
    lanes = new_lanes(net, runs.laws.shape[1], SINGLE)
    nowhere = np.zeros(NO)
    count = runs.design.size
    step_s = gap_s * (GROWTH - 1.0) / (GROWTH**STEPS - 1.0)
    for first in range(0, count, LANES):
        for lane in range(LANES):
            run = min(first + lane, count - 1)
            load(lane, run, net, runs, lanes, nowhere)
            _put_to_rest(lane, net, lanes, cooled_C[run], steam_kg[run])
        for step in range(STEPS):
            for lane in range(LANES):
                if lanes.P[P_STEAM_M3, lane] > 0.0:
                    weigh_steam(lane, net, lanes)
                if lanes.P[P_LOOP_HEIGHT_M, lane] > 0.0:
                    circulate(lane, net, lanes)
                lanes.S[S_ALL_FLOW, lane] = lanes.S[S_LOOP, lane]
                lanes.DT[0, lane] = step_s * GROWTH**step
            prepare(net, lanes, runs)
            move(advance, lanes)
        for lane in range(min(LANES, count - first)):
            for node in range(net.stores.size):
                cooled_C[first + lane, node] = lanes.T[node, lane]
