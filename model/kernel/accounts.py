"""What is noted of each step: sensors, shot windows, extremes, heat that crossed the boundary."""

from __future__ import annotations

from math import exp

from boilerfront.model.kernel.layout import (
    GAMMA,
    MODE_SHOT,
    N_BREW_OUTLET,
    N_BREW_SENSOR,
    N_GROUP,
    N_REFILL,
    N_SCREEN,
    N_STEAM,
    O_BREW_HIGH_C,
    O_COIL_HIGH_C,
    O_LOSS_J,
    O_OUTLET_HIGH_C,
    O_OVERSHOOT_K,
    O_SLUG_M3,
    O_WATER_IN_J,
    O_WATER_OUT_J,
    P_BREW_LAG_S,
    P_BREW_SET_C,
    P_GROUP_LAG_S,
    P_INLET_C,
    P_STEAM_LAG_S,
    P_USER_C,
    P_WINDOW_S,
    S_BREW_Y,
    S_DIP_LOW,
    S_DT,
    S_FLOW,
    S_GROUP_Y,
    S_MODE,
    S_MODE_T0,
    S_SECOND_SUM,
    S_STEAM_Y,
    S_SUB,
    S_SUBS,
    S_TIME,
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
def sensor(reading: float, before: float, after: float, lag_s: float, dt: float) -> float:
    """Return a first-order sensor's reading after a ramp from `before` to `after`: exact."""
    lagging = (after - before) / dt * lag_s
    return after - lagging + (reading - before + lagging) * exp(-dt / lag_s)


@compiled
def note_step(lane: int, net: Net, lanes: Lanes, before: Floats, out: Floats) -> None:
    """Note one step of a lane; `before` [nodes + 2, LANES] are the temperatures at its start."""
    S = lanes.S
    P = lanes.P
    T = lanes.T
    roles = net.roles
    dt = S[S_DT, lane]
    node = roles[N_BREW_SENSOR]
    S[S_BREW_Y, lane] = sensor(
        S[S_BREW_Y, lane], before[node, lane], T[node, lane], P[P_BREW_LAG_S, lane], dt
    )
    node = roles[N_GROUP]
    S[S_GROUP_Y, lane] = sensor(
        S[S_GROUP_Y, lane], before[node, lane], T[node, lane], P[P_GROUP_LAG_S, lane], dt
    )
    node = roles[N_STEAM]
    S[S_STEAM_Y, lane] = sensor(
        S[S_STEAM_Y, lane], before[node, lane], T[node, lane], P[P_STEAM_LAG_S, lane], dt
    )
    outlet = T[roles[N_BREW_OUTLET], lane]
    for layer in range(net.ranges[0], net.ranges[1]):
        out[O_BREW_HIGH_C] = max(out[O_BREW_HIGH_C], T[layer, lane])
    for cell in range(net.ranges[2], net.ranges[3]):
        out[O_COIL_HIGH_C] = max(out[O_COIL_HIGH_C], T[cell, lane])
    if S[S_MODE, lane] == MODE_SHOT:
        out[O_OUTLET_HIGH_C] = max(out[O_OUTLET_HIGH_C], T[roles[N_SCREEN], lane])
        _note_draw(lane, net, lanes, before, out)
    else:
        out[O_OVERSHOOT_K] = max(out[O_OVERSHOOT_K], outlet - P[P_BREW_SET_C, lane])
    _note_heat(lane, net, lanes, out)


@compiled
def _note_draw(lane: int, net: Net, lanes: Lanes, before: Floats, out: Floats) -> None:
    """Add a step to the mean over the present whole second, and the second to the shot's window."""
    S = lanes.S
    dt = S[S_DT, lane]
    screen = net.roles[N_SCREEN]
    S[S_SECOND_SUM, lane] += 0.5 * dt * (before[screen, lane] + lanes.T[screen, lane])
    S[S_DIP_LOW, lane] = min(S[S_DIP_LOW, lane], S[S_BREW_Y, lane])
    entering = lanes.T[net.roles[N_REFILL], lane]
    if entering > lanes.P[P_BREW_SET_C, lane]:
        out[O_SLUG_M3] += S[S_FLOW, lane] * dt / density(entering)
    if S[S_SUB, lane] + 1.0 == S[S_SUBS, lane]:
        if S[S_TIME, lane] - S[S_MODE_T0, lane] >= lanes.P[P_WINDOW_S, lane]:
            error = S[S_SECOND_SUM, lane] - lanes.P[P_USER_C, lane]
            S[S_WINDOW_N, lane] += 1.0
            S[S_WINDOW_SUM, lane] += error
            S[S_WINDOW_SUM2, lane] += error * error
        S[S_SECOND_SUM, lane] = 0.0


@compiled
def _note_heat(lane: int, net: Net, lanes: Lanes, out: Floats) -> None:
    """Add what crossed the boundary in this step, with the weights of the scheme's two stages."""
    S = lanes.S
    dt = S[S_DT, lane]
    room = net.stores.size
    loss = 0.0
    for i in range(net.links.shape[0]):
        if net.links[i, 2] == room:
            a = net.links[i, 1]
            mean = (1.0 - GAMMA) * lanes.T1[a, lane] + GAMMA * lanes.T[a, lane]
            loss += lanes.G[i, lane] * (mean - lanes.T[room, lane])
    out[O_LOSS_J] += dt * loss
    if S[S_FLOW, lane] > 0.0:
        screen = net.roles[N_SCREEN]
        leaving = (1.0 - GAMMA) * enthalpy(lanes.T1[screen, lane]) + GAMMA * enthalpy(lanes.T[screen, lane])
        out[O_WATER_IN_J] += dt * S[S_FLOW, lane] * enthalpy(lanes.P[P_INLET_C, lane])
        out[O_WATER_OUT_J] += dt * S[S_FLOW, lane] * leaving
