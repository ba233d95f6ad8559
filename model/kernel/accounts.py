"""What is noted of each step: sensors, shot windows, extremes, heat that crossed the boundary."""

from __future__ import annotations

from boilerfront.model.kernel.arrays import Lanes, Net
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
    V_COIL_C,
    V_LAYER_C,
    V_LOSS_W,
)
from boilerfront.model.props.compiled import compiled
from boilerfront.model.props.water import density, enthalpy
from boilerfront.shared.shapes import Floats

SENSORS = (
    (N_BREW_SENSOR, S_BREW_Y, S_BREW_DECAY, P_BREW_LAG_S),
    (N_GROUP, S_GROUP_Y, S_GROUP_DECAY, P_GROUP_LAG_S),
    (N_STEAM, S_STEAM_Y, S_STEAM_DECAY, P_STEAM_LAG_S),
)
NOTED = (N_BREW_SENSOR, N_GROUP, N_STEAM, N_SCREEN, N_REFILL)


@compiled
def keep_noted(net: Net, lanes: Lanes, before: Floats) -> None:
    """Keep in `before` [nodes + 2, LANES] where the noted nodes are at the start of a step."""
    for role in NOTED:
        node = net.roles[role]
        for lane in range(LANES):
            before[node, lane] = lanes.T[node, lane]


@compiled
def note(lane: int, net: Net, lanes: Lanes, before: Floats, out: Floats) -> None:
    """Note a step of a lane; `before` [nodes + 2, LANES] has the noted nodes at its start."""
    S = lanes.S
    a_second = 1.0 / S[S_DT, lane]
    for role, reading, decay, lag in SENSORS:
        node = net.roles[role]
        old, new = before[node, lane], lanes.T[node, lane]
        lagging = (new - old) * (lanes.P[lag, lane] * a_second)
        S[reading, lane] = new - lagging + (S[reading, lane] - old + lagging) * S[decay, lane]
    S[S_COIL_HIGH_C, lane] = max(S[S_COIL_HIGH_C, lane], lanes.V[V_COIL_C, lane])
    S[S_LOSS_J, lane] += S[S_DT, lane] * lanes.V[V_LOSS_W, lane]
    if S[S_BREWING, lane] > 0.0:
        S[S_BREW_HIGH_C, lane] = max(S[S_BREW_HIGH_C, lane], lanes.V[V_LAYER_C, lane])
        if S[S_MODE, lane] == MODE_IDLE:
            excess = lanes.T[net.roles[N_BREW_OUTLET], lane] - lanes.P[P_BREW_SET_C, lane]
            S[S_OVERSHOOT_K, lane] = max(S[S_OVERSHOOT_K, lane], excess)
    if S[S_FLOW, lane] + S[S_REFILL, lane] > 0.0:
        _note_water(lane, net.roles[N_SCREEN], lanes)
    if S[S_MODE, lane] == MODE_SHOT:
        _note_draw(lane, net, lanes, before, out)


@compiled
def _note_water(lane: int, screen: int, lanes: Lanes) -> None:
    """Add the heat of the water that entered and left in this step."""
    S = lanes.S
    end = lanes.T[screen, lane]
    middle = end - (lanes.D[screen, lane] - lanes.D1[screen, lane])
    leaving = (1.0 - GAMMA) * enthalpy(middle) + GAMMA * enthalpy(end)
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
def _note_draw(lane: int, net: Net, lanes: Lanes, before: Floats, out: Floats) -> None:
    """Add a step of a shot to the mean over the present whole second, and the second to the shot's window."""
    S = lanes.S
    dt = S[S_DT, lane]
    screen = net.roles[N_SCREEN]
    S[S_OUTLET_HIGH_C, lane] = max(S[S_OUTLET_HIGH_C, lane], lanes.T[screen, lane])
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
