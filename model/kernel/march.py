"""A pool of runs, marched on lanes: each lane has its own clock, and takes the next run when it is done.

No lane ever looks at another, so a run's result does not depend on its neighbours or on its place. A lane's
second: events, powers and flows are planned once (`second`), then the network takes one step in idling,
several in a draw.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit, types

from boilerfront.model.kernel.accounts import keep_noted, note
from boilerfront.model.kernel.arrays import Lanes, Net, Results, Runs, row_places
from boilerfront.model.kernel.codes import RUNNING
from boilerfront.model.kernel.compile_step import Advance
from boilerfront.model.kernel.films import prepare
from boilerfront.model.kernel.layout import (
    COEFFICIENTS,
    LANES,
    NP,
    NR,
    NS,
    O_BREW_HIGH_C,
    O_CODE,
    O_COIL_HIGH_C,
    O_END_S,
    O_LOSS_J,
    O_OUTLET_HIGH_C,
    O_OVERSHOOT_K,
    O_STEAM_END_KG,
    O_STEPS,
    O_WATER_IN_J,
    O_WATER_OUT_J,
    R_BREW_W,
    R_BREW_Y,
    R_DT_S,
    R_FLOW_KG_S,
    R_GROUP_W,
    R_GROUP_Y,
    R_JOINED,
    R_LEVEL,
    R_LOOP_KG_S,
    R_MODE,
    R_PHASE,
    R_REFILL_KG_S,
    R_SHARE,
    R_STEAM_KG,
    R_STEAM_W,
    R_STEAM_Y,
    R_TIME_S,
    R_TWO_PHASE,
    R_WAND_KG_S,
    S_BREW_HIGH_C,
    S_BREW_P,
    S_BREW_Y,
    S_COIL_HIGH_C,
    S_DT,
    S_FLOW,
    S_GROUP_P,
    S_GROUP_Y,
    S_JOINED,
    S_LEVEL,
    S_LOOP,
    S_LOSS_J,
    S_MODE,
    S_OUTLET_HIGH_C,
    S_OVERSHOOT_K,
    S_PHASE,
    S_PINNED,
    S_REFILL,
    S_RUN,
    S_SHARE,
    S_STEAM_KG,
    S_STEAM_P,
    S_STEAM_Y,
    S_STEPS,
    S_SUB,
    S_TIME,
    S_TWO_PHASE,
    S_WAND,
    S_WATER_IN_J,
    S_WATER_OUT_J,
)
from boilerfront.model.kernel.power import note_flicker
from boilerfront.model.kernel.second import begin_second, begin_step, end_step
from boilerfront.model.kernel.start import load, pin_capacities
from boilerfront.model.kernel.swing import swing_capacities
from boilerfront.model.props.compiled import ARITHMETIC, compiled, compiled_making_arrays
from boilerfront.shared.shapes import Floats

FREE = -1
SINGLE = np.float32


@compiled_making_arrays
def new_lanes(net: Net, laws: int, precision: Any) -> Lanes:
    """Return working arrays for a network with so many film laws; `precision` is SINGLE, tests have np.float64.

    The views are those of ROWS, in that order.
    """
    nodes = net.stores.size
    links = net.links.shape[0]
    at = row_places(nodes, links, net.flows.shape[0], laws)
    buffer = np.zeros(at[-1] * LANES, dtype=precision)
    rows = buffer.reshape((at[-1], LANES))
    return Lanes(
        np.zeros((nodes + 2, LANES)),
        np.zeros((LANES, NS)).T,
        np.zeros((LANES, NP)).T,
        np.zeros((nodes, LANES)),
        np.zeros((nodes, LANES), dtype=precision),
        buffer,
        rows[at[0] : at[1]],
        rows[at[1] : at[2]],
        rows[at[2] : at[3]],
        rows[at[3] : at[4]],
        rows[at[4] : at[5]],
        rows[at[5] : at[6]],
        rows[at[6] : at[7]],
        rows[at[7] : at[8]],
        rows[at[8] : at[9]],
        rows[at[9] : at[10]],
        rows[at[10] : at[11]],
        rows[at[11] : at[12]].reshape((links, 3, LANES)),
        rows[at[12] : at[13]],
        rows[at[13] : at[14]],
        rows[at[14] : at[15]].reshape((laws, COEFFICIENTS, LANES)),
        rows[at[15] : at[16]].reshape((laws, COEFFICIENTS, LANES)),
    )


@compiled
def move(advance: Advance, lanes: Lanes) -> None:
    """Take the written-out step, for what `films.prepare` has laid out, and add what it finds to the temperatures."""
    advance(lanes.buffer)
    for node in range(lanes.D.shape[0]):
        for lane in range(LANES):
            lanes.T[node, lane] += lanes.D[node, lane]


@compiled
def _store(lane: int, lanes: Lanes, out: Floats, results: Results) -> None:
    S = lanes.S
    note_flicker(lane, S, out)
    for place, of in (
        (O_END_S, S_TIME),
        (O_STEPS, S_STEPS),
        (O_STEAM_END_KG, S_STEAM_KG),
        (O_LOSS_J, S_LOSS_J),
        (O_WATER_IN_J, S_WATER_IN_J),
        (O_WATER_OUT_J, S_WATER_OUT_J),
        (O_BREW_HIGH_C, S_BREW_HIGH_C),
        (O_COIL_HIGH_C, S_COIL_HIGH_C),
        (O_OUTLET_HIGH_C, S_OUTLET_HIGH_C),
        (O_OVERSHOOT_K, S_OVERSHOOT_K),
    ):
        out[place] = S[of, lane]
    run = int(lanes.S[S_RUN, lane])
    for node in range(results.final_C.shape[1]):
        results.final_C[run, node] = lanes.T[node, lane]


@compiled
def _record(lane: int, net: Net, lanes: Lanes, results: Results) -> None:
    row = results.record_rows[0]
    if row >= results.record.shape[0]:
        return
    S = lanes.S
    record = results.record[row]
    along = S[S_SUB, lane] * S[S_DT, lane]
    record[R_TIME_S] = S[S_TIME, lane] + along
    record[R_MODE] = S[S_MODE, lane]
    record[R_FLOW_KG_S] = S[S_FLOW, lane]
    record[R_REFILL_KG_S] = S[S_REFILL, lane]
    record[R_WAND_KG_S] = S[S_WAND, lane]
    record[R_BREW_W] = S[S_BREW_P, lane]
    record[R_GROUP_W] = S[S_GROUP_P, lane]
    record[R_STEAM_W] = S[S_STEAM_P, lane]
    record[R_BREW_Y] = S[S_BREW_Y, lane]
    record[R_GROUP_Y] = S[S_GROUP_Y, lane]
    record[R_STEAM_Y] = S[S_STEAM_Y, lane]
    record[R_STEAM_KG] = S[S_STEAM_KG, lane]
    record[R_LEVEL] = S[S_LEVEL, lane]
    record[R_DT_S] = S[S_DT, lane]
    record[R_JOINED] = S[S_JOINED, lane]
    record[R_SHARE] = S[S_SHARE, lane]
    record[R_PHASE] = S[S_PHASE, lane]
    record[R_TWO_PHASE] = S[S_TWO_PHASE, lane]
    record[R_LOOP_KG_S] = S[S_LOOP, lane]
    for node in range(net.stores.size):
        record[NR + node] = lanes.T[node, lane]
    results.record_rows[0] = row + 1


@compiled
def take_step(advance: Advance, net: Net, runs: Runs, lanes: Lanes, before: Floats) -> None:
    """Take one step of all lanes, each as long as its DT says; `before` keeps where the noted nodes were."""
    keep_noted(net, lanes, before)
    prepare(net, lanes, runs)
    swing_capacities(net, lanes)
    pin_capacities(net, lanes)
    move(advance, lanes)


@compiled
def _march(
    advance: Advance,
    net: Net,
    runs: Runs,
    results: Results,
    lanes: Lanes,
    before: Floats,
    nowhere: Floats,
) -> None:
    """March on these lanes; a lane without a run computes into `nowhere`."""
    count = runs.design.size
    waiting = 0
    busy = 0
    for lane in range(LANES):
        if waiting < count:
            load(lane, waiting, net, runs, lanes, results.out[waiting])
            waiting += 1
            busy += 1
        else:
            load(lane, 0, net, runs, lanes, nowhere)
            lanes.S[S_RUN, lane] = FREE
    stepped = False
    while busy > 0:
        # What a lane does between two steps it does in one go, while its numbers are at hand.
        for lane in range(LANES):
            run = int(lanes.S[S_RUN, lane])
            if stepped and run >= 0:
                note(lane, net, lanes, before, results.out[run])
                end_step(lane, net, lanes, results.out[run])
                if run == 0 and lanes.S[S_PINNED, lane] == 0.0:
                    _record(lane, net, lanes, results)
            # A run that ends gives its lane to the next one, which plans its own first second here.
            while run >= 0 and lanes.S[S_SUB, lane] == 0.0 and lanes.S[S_PINNED, lane] == 0.0:
                begin_second(lane, net, runs, lanes, results.out[run], results.shots[run])
                if results.out[run, O_CODE] == RUNNING:
                    break
                _store(lane, lanes, results.out[run], results)
                run = waiting if waiting < count else FREE
                if run == FREE:
                    lanes.S[S_RUN, lane] = FREE
                    busy -= 1
                else:
                    load(lane, run, net, runs, lanes, results.out[run])
                    waiting += 1
            if run >= 0:
                begin_step(lane, net, lanes, results.out[run])
            lanes.DT[0, lane] = lanes.S[S_DT, lane]
        take_step(advance, net, runs, lanes, before)
        stepped = True


FLOATS_2 = types.float64[:, ::1]
FLOATS_3, FLOATS_4 = types.float64[:, :, ::1], types.float64[:, :, :, ::1]
INTS_1, INTS_2 = types.int64[::1], types.int64[:, ::1]
RECORD: Any = types.NamedTuple
ADVANCE = types.FunctionType(types.void(types.float32[::1]))
NET = RECORD([INTS_1, INTS_2, INTS_2, INTS_1, INTS_1, INTS_1], Net)
RUNS = RECORD(
    [INTS_1, INTS_1, FLOATS_2, FLOATS_3, FLOATS_2, FLOATS_4, FLOATS_2, FLOATS_3, INTS_1, FLOATS_2], Runs
)
SIGNATURE = types.void(
    ADVANCE,
    NET,
    RUNS,
    RECORD([FLOATS_2, FLOATS_3, FLOATS_2, FLOATS_2, INTS_1], Results),
)
"""Written out so that one compilation serves the steps of all architectures."""


@njit(SIGNATURE, cache=True, nogil=True, **ARITHMETIC)
def march(advance: Advance, net: Net, runs: Runs, results: Results) -> None:
    """March every run to its end and fill the results; the record is of run 0 and only where it has rows.

    `advance` is the written-out step of the topology that `net` describes. Other threads run meanwhile: a worker's
    answers go out while its next task is on, which takes seconds.
    """
    lanes = new_lanes(net, runs.laws.shape[1], SINGLE)
    _march(
        advance,
        net,
        runs,
        results,
        lanes,
        np.empty_like(lanes.T),
        np.zeros(results.out.shape[1]),
    )
