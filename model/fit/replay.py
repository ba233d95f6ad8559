"""Machines marched through what a log imposes: flows, powers, steam, the room; up to 32 side by side.

The same steps as the kernel's march, with the log in place of the duty's events. What a log does not say (NaN) the
machine does by its own control.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isnan

import numpy as np
from numba import njit, types

from boilerfront.model.kernel.accounts import note
from boilerfront.model.kernel.arrays import Lanes, Net, Runs
from boilerfront.model.kernel.boiler import look_at_steam
from boilerfront.model.kernel.compile_step import Advance
from boilerfront.model.kernel.layout import (
    LANES,
    MODE_IDLE,
    MODE_SHOT,
    MODE_STEAM,
    N_SCREEN,
    N_STEAM,
    NEVER,
    NO,
    P_DRYNESS,
    P_GROUP_REACH_C,
    P_GROUP_SET_C,
    P_INLET_C,
    P_LEVEL_HIGH,
    P_LEVEL_LOW,
    P_MILK_J,
    P_REFILL_KG_S,
    P_ROOM_C,
    P_STEAM_M3,
    P_STEAM_SET_C,
    P_WAND_M2,
    S_BREW_P,
    S_BREW_Y,
    S_DT,
    S_FLOW0,
    S_FLOW1,
    S_GROUP_P,
    S_GROUP_Y,
    S_JOINED,
    S_LEVEL,
    S_MILK_LEFT,
    S_MODE,
    S_MODE_T0,
    S_PINNED,
    S_READY,
    S_REFILL,
    S_STEAM_P,
    S_STEAM_UM,
    S_STEAM_Y,
    S_SUB,
    S_TIME,
    S_WAND,
    S_WANTED,
)
from boilerfront.model.kernel.march import (
    ADVANCE,
    FLOATS_2,
    FLOATS_3,
    INTS_1,
    NET,
    RUNS,
    SINGLE,
    new_lanes,
    take_step,
)
from boilerfront.model.kernel.pace import set_step
from boilerfront.model.kernel.power import plan_powers
from boilerfront.model.kernel.second import begin_step, end_step, heat_elements
from boilerfront.model.kernel.start import load
from boilerfront.model.props.compiled import ARITHMETIC, compiled
from boilerfront.model.props.water import enthalpy, evaporation_enthalpy
from boilerfront.model.runs import Pool, Request, default_user_C
from boilerfront.shared.shapes import Floats, Ints

(
    I_FLOW_KG_S,
    I_BREW_W,
    I_GROUP_W,
    I_STEAM_W,
    I_REFILL_KG_S,
    I_WAND_KG_S,
    I_STEAMS,
    I_ROOM_C,
    I_INLET_C,
    I_JOINED,
    I_SUBS,
    I_FILLS,
    I_GAP,
    I_SPAN_S,
    I_SECOND,
) = range(15)
NI = 15
"""Inputs of a second or of a part of it: means over it; I_STEAMS whether the wand is open, I_JOINED whether the
portafilter is in, I_SUBS steps, I_FILLS whether the level control may refill, I_GAP whether the powers are a guess
across a gap, I_SPAN_S how long it is, I_SECOND which second it belongs to."""

SENSORS = ("brew_sensor_C", "group_sensor_C", "steam_sensor_C")
GAPS = ("brew_gap_W", "group_gap_W", "steam_gap_W")
ERRORS = ("flow_meter", "power_meter", "wand_meter", "room_probe", "inlet_probe", "start_probe", *GAPS)
"""Errors of what is imposed, by the name that they have in a machine: factors of meters, that of the wand's law
included, kelvin added by probes, those of where a cold machine begins included, watts added across gaps."""
ENDLESS_J = 1e15
"""Milk that is never hot: a log says itself when the wand closes."""
HELD_STILL_S = 1e-9


@compiled
def _impose(
    lane: int, net: Net, runs: Runs, lanes: Lanes, second: Floats, scales: Floats, out: Floats
) -> None:
    """Set what a lane is given for the coming second, and what its own control does."""
    S = lanes.S
    P = lanes.P
    nodes = net.stores.size
    run = min(lane, scales.shape[1] - 1)
    P[P_ROOM_C, lane] = second[I_ROOM_C] + scales[I_ROOM_C, run]
    P[P_INLET_C, lane] = second[I_INLET_C] + scales[I_INLET_C, run]
    lanes.T[nodes, lane] = P[P_ROOM_C, lane]
    lanes.T[nodes + 1, lane] = P[P_INLET_C, lane]
    mode = MODE_SHOT if second[I_FLOW_KG_S] > 0.0 else (MODE_STEAM if second[I_STEAMS] > 0.0 else MODE_IDLE)
    if mode != S[S_MODE, lane]:
        S[S_MODE, lane] = mode
        S[S_MODE_T0, lane] = S[S_TIME, lane]
    S[S_MILK_LEFT, lane] = ENDLESS_J
    S[S_FLOW0, lane] = second[I_FLOW_KG_S] * scales[I_FLOW_KG_S, run]
    S[S_FLOW1, lane] = S[S_FLOW0, lane]
    S[S_JOINED, lane] = second[I_JOINED]
    if P[P_STEAM_M3, lane] > 0.0:
        look_at_steam(lane, net, lanes, out)
    if S[S_LEVEL, lane] >= P[P_LEVEL_HIGH, lane] or second[I_FILLS] == 0.0:
        S[S_WANTED, lane] = 0.0
    elif S[S_LEVEL, lane] < P[P_LEVEL_LOW, lane]:
        S[S_WANTED, lane] = 1.0
    refill = second[I_REFILL_KG_S] * scales[I_REFILL_KG_S, run]
    if isnan(refill):
        refill = 0.0 if mode == MODE_SHOT else S[S_WANTED, lane] * P[P_REFILL_KG_S, lane]
    S[S_REFILL, lane] = refill if P[P_STEAM_M3, lane] > 0.0 else 0.0
    set_step(lane, S, P, second[I_SUBS], second[I_SPAN_S])
    S[S_SUB, lane] = 0.0
    if isnan(second[I_BREW_W] + second[I_GROUP_W] + second[I_STEAM_W]):
        refill_C = runs.refill_C[runs.design[min(lane, runs.design.size - 1)]]
        plan_powers(lane, S, P, runs.events[0], refill_C, 1, second[I_SPAN_S], out)
    for place, given in ((S_BREW_P, I_BREW_W), (S_GROUP_P, I_GROUP_W), (S_STEAM_P, I_STEAM_W)):
        if not isnan(second[given]):
            guessed = second[I_GAP] * scales[NI + given, run]
            S[place, lane] = max(second[given] * scales[given, run] + guessed, 0.0)
    heat_elements(lane, net, lanes)


@compiled
def _draw_steam(lane: int, net: Net, lanes: Lanes, wand_kg_s: float) -> None:
    """Take a given flow of wet steam out of the boiler."""
    S = lanes.S
    steam_C = lanes.T[net.roles[N_STEAM], lane]
    leaving = enthalpy(steam_C) + lanes.P[P_DRYNESS, lane] * evaporation_enthalpy(steam_C)
    S[S_WAND, lane] = wand_kg_s
    lanes.Q[net.roles[N_STEAM], lane] -= wand_kg_s * (leaving - S[S_STEAM_UM, lane])


@compiled
def _settle(advance: Advance, net: Net, runs: Runs, lanes: Lanes, before: Floats, out: Floats) -> None:
    """Let the lanes find the equilibrium that they begin with; those that have it stand still."""
    waiting = True
    while waiting:
        waiting = False
        for lane in range(LANES):
            pinned = lanes.S[S_PINNED, lane] > 0.0
            waiting = waiting or pinned
            if pinned:
                begin_step(lane, net, lanes, out)
            lanes.DT[0, lane] = lanes.S[S_DT, lane] if pinned else HELD_STILL_S
        if waiting:
            take_step(advance, net, runs, lanes, before)
            for lane in range(LANES):
                if lanes.S[S_PINNED, lane] > 0.0:
                    end_step(lane, net, lanes, out)


@compiled
def _note(net: Net, lanes: Lanes, nodes: Ints, row: Floats) -> None:
    """Note sensors and the asked nodes in `row` [3 + nodes, runs]."""
    for lane in range(row.shape[1]):
        row[0, lane] = lanes.S[S_BREW_Y, lane]
        row[1, lane] = lanes.S[S_GROUP_Y, lane]
        row[2, lane] = lanes.S[S_STEAM_Y, lane]
        for k in range(nodes.size):
            row[3 + k, lane] = lanes.T[nodes[k], lane]


@compiled
def _follow(
    advance: Advance,
    net: Net,
    runs: Runs,
    inputs: Floats,
    scales: Floats,
    nodes: Ints,
    course: Floats,
    lanes: Lanes,
    before: Floats,
    out: Floats,
) -> None:
    for lane in range(LANES):
        load(lane, min(lane, runs.design.size - 1), net, runs, lanes, out)
        lanes.P[P_MILK_J, lane] = ENDLESS_J
    _settle(advance, net, runs, lanes, before, out)
    for lane in range(LANES):
        lanes.S[S_READY, lane] = NEVER  # no event is waited for
    _note(net, lanes, nodes, course[0])
    for k in range(inputs.shape[0]):
        second = inputs[k]
        for lane in range(LANES):
            _impose(lane, net, runs, lanes, second, scales, out)
        for _ in range(int(second[I_SUBS])):
            for lane in range(LANES):
                begin_step(lane, net, lanes, out)
                if second[I_WAND_KG_S] > 0.0 and lanes.P[P_STEAM_M3, lane] > 0.0:
                    wand_kg_s = second[I_WAND_KG_S] * scales[I_WAND_KG_S, min(lane, scales.shape[1] - 1)]
                    _draw_steam(lane, net, lanes, wand_kg_s)
                lanes.DT[0, lane] = lanes.S[S_DT, lane]
            take_step(advance, net, runs, lanes, before)
            for lane in range(LANES):
                note(lane, net, lanes, before, out)
                end_step(lane, net, lanes, out)
        _note(net, lanes, nodes, course[int(second[I_SECOND]) + 1])


SIGNATURE = types.void(
    ADVANCE,
    NET,
    RUNS,
    FLOATS_2,
    FLOATS_2,
    INTS_1,
    FLOATS_3,
)


@njit(SIGNATURE, cache=True, **ARITHMETIC)
def follow(
    advance: Advance, net: Net, runs: Runs, inputs: Floats, scales: Floats, nodes: Ints, course: Floats
) -> None:
    """March at most LANES runs through `inputs` [parts, NI] and fill `course` [seconds + 1, 3 + nodes, runs].

    `scales` [2 NI, runs] are the errors of what is imposed, as `_scales` says. Rows are the ends of seconds, the
    first one the start; see SENSORS for the first three places of each.
    """
    lanes = new_lanes(net, runs.laws.shape[1], SINGLE)
    _follow(advance, net, runs, inputs, scales, nodes, course, lanes, np.empty_like(lanes.T), np.zeros(NO))


def whole_seconds(count: int) -> Floats:
    """Return inputs of so many seconds, none of them parted, all else 0 [count, NI]."""
    inputs = np.zeros((count, NI))
    inputs[:, I_SPAN_S] = 1.0
    inputs[:, I_SECOND] = np.arange(count)
    return inputs


@dataclass(frozen=True)
class Start:
    """How a log begins: all at `start_C`, or `settled` at the set-points of its circuits; None for the design's own.

    `set_C` is the set-point of the circuit that the factory trims.
    """

    settled: bool
    start_C: float
    set_C: float
    group_set_C: float | None = None
    steam_set_C: float | None = None


def replay(
    pool: Pool,
    inputs: Floats,
    machines: Sequence[Mapping[str, float]],
    *,
    start: Start,
    channels: Sequence[str],
) -> Floats:
    """Return the courses of the pool's first plant as several machines: [seconds + 1, channels, machines] in °C.

    `channels` are SENSORS or nodes, `<node>_C`. Beside coefficients a machine may have the errors of what is imposed
    on it, see ERRORS. A wand whose flow is not logged is by the model's own law.
    """
    names = pool.topology.names
    wanted = [name for name in channels if name not in SENSORS]
    nodes = np.array([node_of(pool, name) for name in wanted], dtype=np.int64)
    places = [SENSORS.index(name) if name in SENSORS else 3 + wanted.index(name) for name in channels]
    user_C = default_user_C(pool.brief)
    found = []
    for first in range(0, len(machines), LANES):
        part = machines[first : first + LANES]
        begin = [np.full(len(names), start.start_C + each.get("start_probe", 0.0)) for each in part]
        requests = [
            Request(0, user_C, start.set_C - user_C, each, settled=start.settled, start_C=from_C)
            for each, from_C in zip(part, begin, strict=True)
        ]
        runs = pool.arrays(requests)
        if start.group_set_C is not None:
            runs.parameters[:, [P_GROUP_SET_C, P_GROUP_REACH_C]] = start.group_set_C
        runs.parameters[:, P_WAND_M2] *= [each.get("wand_meter", 1.0) for each in part]
        if start.steam_set_C is not None:
            runs.parameters[:, P_STEAM_SET_C] = start.steam_set_C
        course = np.zeros((int(inputs[-1, I_SECOND]) + 2, 3 + len(nodes), len(part)))
        follow(pool.advance, pool.net, runs, inputs, _scales(part), nodes, course)
        found.append(course[:, places])
    return np.concatenate(found, axis=2)


def _scales(machines: Sequence[Mapping[str, float]]) -> Floats:
    """Return how each machine's inputs differ from the log [2 NI, machines]: factors, of temperatures kelvin added;
    then what is added to powers across gaps [W]."""
    scales = np.ones((2 * NI, len(machines)))
    scales[[I_ROOM_C, I_INLET_C]], scales[NI:] = 0.0, 0.0
    for k, machine in enumerate(machines):
        flow, power = machine.get("flow_meter", 1.0), machine.get("power_meter", 1.0)
        scales[[I_FLOW_KG_S, I_REFILL_KG_S, I_WAND_KG_S], k] = flow
        for place, name in ((I_BREW_W, "brew"), (I_GROUP_W, "group"), (I_STEAM_W, "steam")):
            scales[place, k] = power * machine.get(f"{name}_power_factor", 1.0)
            scales[NI + place, k] = machine.get(f"{name}_gap_W", 0.0)
        scales[I_ROOM_C, k], scales[I_INLET_C, k] = (
            machine.get("room_probe", 0.0),
            machine.get("inlet_probe", 0.0),
        )
    return scales


def node_of(pool: Pool, channel: str) -> int:
    """Return the node that a channel is read at; the water at the screen is `shot_C`."""
    if channel == "shot_C":
        return int(pool.net.roles[N_SCREEN])
    return pool.topology.names.index(channel.removesuffix("_C"))
