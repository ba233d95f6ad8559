"""What is noted of each step: sensors, shot windows, extremes, heat that crossed the boundary."""

from __future__ import annotations

from boilerfront.model.kernel.layout import (
    GAMMA,
    LANES,
    MODE_IDLE,
    MODE_SHOT,
    N_BREW_OUTLET,
    N_BREW_SENSOR,
    N_GROUP,
    N_REFILL,
    N_SCREEN,
    N_STEAM,
    O_SLUG_M3,
    P_BREW_LAG_S,
    P_BREW_SET_C,
    P_GROUP_LAG_S,
    P_INLET_C,
    P_STEAM_LAG_S,
    P_USER_C,
    P_WINDOW_S,
    S_BREW_DECAY,
    S_BREW_HIGH_C,
    S_BREW_Y,
    S_BREWING,
    S_COIL_HIGH_C,
    S_DIP_LOW,
    S_DT,
    S_FLOW,
    S_GROUP_DECAY,
    S_GROUP_Y,
    S_LOSS_J,
    S_MODE,
    S_MODE_T0,
    S_OUTLET_HIGH_C,
    S_OVERSHOOT_K,
    S_REFILL,
    S_SECOND_SUM,
    S_STEAM_DECAY,
    S_STEAM_Y,
    S_SUB,
    S_SUBS,
    S_TIME,
    S_WATER_IN_J,
    S_WATER_OUT_J,
    S_WINDOW_N,
    S_WINDOW_SUM,
    S_WINDOW_SUM2,
    Lanes,
    Net,
)
from boilerfront.model.props.compiled import compiled
from boilerfront.model.props.water import density, enthalpy
from boilerfront.shared.shapes import Floats


@compiled
def note_all(net: Net, lanes: Lanes, before: Floats) -> None:
    """Note one step of every lane; `before` [nodes + 2, LANES] are the temperatures at its start."""
    _sensor(net.roles[N_BREW_SENSOR], S_BREW_Y, S_BREW_DECAY, P_BREW_LAG_S, lanes, before)
    _sensor(net.roles[N_GROUP], S_GROUP_Y, S_GROUP_DECAY, P_GROUP_LAG_S, lanes, before)
    _sensor(net.roles[N_STEAM], S_STEAM_Y, S_STEAM_DECAY, P_STEAM_LAG_S, lanes, before)
    _extremes(net, lanes)
    _heat(net, lanes)


@compiled
def _sensor(node: int, reading: int, decay: int, lag: int, lanes: Lanes, before: Floats) -> None:
    """Move a first-order sensor along the step's ramp: exact."""
    for lane in range(LANES):
        old = before[node, lane]
        new = lanes.T[node, lane]
        lagging = (new - old) / lanes.S[S_DT, lane] * lanes.P[lag, lane]
        lanes.S[reading, lane] = (
            new - lagging + (lanes.S[reading, lane] - old + lagging) * lanes.S[decay, lane]
        )


@compiled
def _extremes(net: Net, lanes: Lanes) -> None:
    S = lanes.S
    for layer in range(net.ranges[0], net.ranges[1]):
        for lane in range(LANES):
            highest = max(S[S_BREW_HIGH_C, lane], lanes.T[layer, lane])
            S[S_BREW_HIGH_C, lane] = highest if S[S_BREWING, lane] > 0.0 else S[S_BREW_HIGH_C, lane]
    for cell in range(net.ranges[2], net.ranges[3]):
        for lane in range(LANES):
            S[S_COIL_HIGH_C, lane] = max(S[S_COIL_HIGH_C, lane], lanes.T[cell, lane])
    outlet = net.roles[N_BREW_OUTLET]
    screen = net.roles[N_SCREEN]
    for lane in range(LANES):
        drawing = S[S_MODE, lane] == MODE_SHOT
        counts = S[S_BREWING, lane] > 0.0 and S[S_MODE, lane] == MODE_IDLE
        excess = lanes.T[outlet, lane] - lanes.P[P_BREW_SET_C, lane]
        leaving = max(S[S_OUTLET_HIGH_C, lane], lanes.T[screen, lane])
        over = max(S[S_OVERSHOOT_K, lane], excess)
        S[S_OUTLET_HIGH_C, lane] = leaving if drawing else S[S_OUTLET_HIGH_C, lane]
        S[S_OVERSHOOT_K, lane] = over if counts else S[S_OVERSHOOT_K, lane]


@compiled
def _heat(net: Net, lanes: Lanes) -> None:
    """Add what crossed the boundary in this step, with the weights of the scheme's two stages."""
    S = lanes.S
    room = net.stores.size
    for k in range(net.to_room.size):
        i = net.to_room[k]
        a = net.links[i, 1]
        for lane in range(LANES):
            mean = (1.0 - GAMMA) * lanes.T1[a, lane] + GAMMA * lanes.T[a, lane]
            S[S_LOSS_J, lane] += S[S_DT, lane] * lanes.G[i, lane] * (mean - lanes.T[room, lane])
    screen = net.roles[N_SCREEN]
    for lane in range(LANES):
        leaving = (1.0 - GAMMA) * enthalpy(lanes.T1[screen, lane]) + GAMMA * enthalpy(lanes.T[screen, lane])
        entering = enthalpy(lanes.P[P_INLET_C, lane])
        dt = S[S_DT, lane]
        S[S_WATER_IN_J, lane] += dt * (S[S_FLOW, lane] + S[S_REFILL, lane]) * entering
        S[S_WATER_OUT_J, lane] += dt * S[S_FLOW, lane] * leaving


@compiled
def part_above(start: float, end: float, level: float) -> float:
    """Return the part of a linear course from `start` to `end` that lies above `level`."""
    high = max(start, end)
    low = min(start, end)
    if high <= level:
        return 0.0
    return 1.0 if low >= level else (high - level) / (high - low)


@compiled
def note_draw(lane: int, net: Net, lanes: Lanes, before: Floats, out: Floats) -> None:
    """Add a step of a shot to the mean over the present whole second, and the second to the shot's window."""
    S = lanes.S
    dt = S[S_DT, lane]
    screen = net.roles[N_SCREEN]
    S[S_SECOND_SUM, lane] += 0.5 * dt * (before[screen, lane] + lanes.T[screen, lane])
    S[S_DIP_LOW, lane] = min(S[S_DIP_LOW, lane], S[S_BREW_Y, lane])
    refill = net.roles[N_REFILL]
    above = part_above(before[refill, lane], lanes.T[refill, lane], lanes.P[P_BREW_SET_C, lane])
    out[O_SLUG_M3] += above * S[S_FLOW, lane] * dt / density(lanes.T[refill, lane])
    if S[S_SUB, lane] + 1.0 == S[S_SUBS, lane]:
        if S[S_TIME, lane] - S[S_MODE_T0, lane] >= lanes.P[P_WINDOW_S, lane]:
            error = S[S_SECOND_SUM, lane] - lanes.P[P_USER_C, lane]
            S[S_WINDOW_N, lane] += 1.0
            S[S_WINDOW_SUM, lane] += error
            S[S_WINDOW_SUM2, lane] += error * error
        S[S_SECOND_SUM, lane] = 0.0
