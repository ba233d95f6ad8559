"""How a lane begins a run: cold at switch-on, or settled at its set-points."""

from __future__ import annotations

from math import inf

from boilerfront.model.kernel.duty import set_step
from boilerfront.model.kernel.layout import (
    LANES,
    N_BREW_SENSOR,
    N_GROUP,
    N_STEAM,
    NEVER,
    NP,
    NS,
    O_BREW_IN_S,
    O_BREW_READY_S,
    O_STEAM_IN_S,
    O_STEAM_START_C,
    O_STEAM_START_KG,
    P_BREW_GAIN,
    P_BREW_SET_C,
    P_BREW_W,
    P_GROUP_GAIN,
    P_GROUP_REACH_C,
    P_GROUP_SET_C,
    P_GROUP_W,
    P_INLET_C,
    P_PORTAFILTER_COLD,
    P_POWER_FACTOR,
    P_ROOM_C,
    P_SETTLED,
    P_STEAM_GAIN,
    P_STEAM_SET_C,
    P_STEAM_START_KG,
    P_STEAM_W,
    S_BREW_HIGH_C,
    S_BREW_I,
    S_BREW_IN,
    S_BREW_Y,
    S_BREW_Y0,
    S_COIL_HIGH_C,
    S_DT,
    S_GROUP_I,
    S_GROUP_IN,
    S_GROUP_Y,
    S_GROUP_Y0,
    S_JOINED,
    S_LAST_STOP,
    S_LOSS_J,
    S_MINUTE,
    S_OUTLET_HIGH_C,
    S_OVERSHOOT_K,
    S_PINNED,
    S_PORTAFILTER_BACK,
    S_READY,
    S_RECOVERING,
    S_RUN,
    S_STEAM_I,
    S_STEAM_IN,
    S_STEAM_KG,
    S_STEAM_Y,
    S_STEAM_Y0,
    S_SUBS,
    Lanes,
    Net,
    Runs,
)
from boilerfront.model.props.compiled import compiled
from boilerfront.shared.shapes import Floats

PINNED_STEPS = 20.0
PINNED_DT_S = 1e7
PINNED_J_K = 1e25
"""Steps of this length find the equilibrium around nodes of this capacity."""


@compiled
def load(lane: int, run: int, net: Net, runs: Runs, lanes: Lanes, out: Floats) -> None:
    """Put a run on a lane."""
    S = lanes.S
    P = lanes.P
    for i in range(NP):
        P[i, lane] = runs.parameters[run, i]
    for i in range(NS):
        S[i, lane] = 0.0
    design = runs.design[run]
    for node in range(net.stores.size):
        lanes.sizes[node, lane] = runs.sizes[design, node]
        lanes.C[node, lane] = runs.sizes[design, node]
        lanes.T[node, lane] = P[P_ROOM_C, lane]
        lanes.Q[node, lane] = 0.0
    lanes.T[net.stores.size, lane] = P[P_ROOM_C, lane]
    lanes.T[net.stores.size + 1, lane] = P[P_INLET_C, lane]
    for link in range(net.links.shape[0]):
        for number in range(3):
            lanes.numbers[link, number, lane] = runs.numbers[run, link, number]
        lanes.G[link, lane] = runs.numbers[run, link, 0]
        lanes.J[link, lane] = 0.0
    for law in range(lanes.row_x.shape[0]):
        lanes.row_x[law, lane] = -inf
    S[S_RUN, lane] = run
    S[S_STEAM_KG, lane] = P[P_STEAM_START_KG, lane]
    S[S_LAST_STOP, lane] = -inf
    S[S_RECOVERING, lane] = NEVER
    S[S_PORTAFILTER_BACK, lane] = NEVER
    out[O_BREW_IN_S] = inf
    out[O_STEAM_IN_S] = inf
    out[O_BREW_READY_S] = inf
    _reset_extremes(lane, S)
    S[S_MINUTE, lane] = NEVER
    set_step(lane, S, P, 1.0, 1.0)
    if P[P_SETTLED, lane] > 0.0:
        _pin(lane, net, lanes)
    else:
        _switch_on(lane, S, P)
    out[O_STEAM_START_KG] = S[S_STEAM_KG, lane]
    out[O_STEAM_START_C] = lanes.T[net.roles[N_STEAM], lane]


@compiled
def _reset_extremes(lane: int, S: Floats) -> None:
    S[S_BREW_HIGH_C, lane] = -inf
    S[S_COIL_HIGH_C, lane] = -inf
    S[S_OUTLET_HIGH_C, lane] = -inf
    S[S_OVERSHOOT_K, lane] = -inf
    S[S_LOSS_J, lane] = 0.0


@compiled
def _switch_on(lane: int, S: Floats, P: Floats) -> None:
    """Start cold, every integral such that its output is full."""
    room = P[P_ROOM_C, lane]
    S[S_READY, lane] = NEVER
    S[S_BREW_Y, lane] = room
    S[S_GROUP_Y, lane] = room
    S[S_STEAM_Y, lane] = room
    S[S_BREW_Y0, lane] = room
    S[S_GROUP_Y0, lane] = room
    S[S_STEAM_Y0, lane] = room
    S[S_BREW_IN, lane] = inf
    S[S_GROUP_IN, lane] = inf
    S[S_STEAM_IN, lane] = inf
    S[S_BREW_I, lane] = P[P_BREW_W, lane] + P[P_BREW_GAIN, lane] * room
    S[S_GROUP_I, lane] = P[P_GROUP_W, lane] + P[P_GROUP_GAIN, lane] * room
    S[S_STEAM_I, lane] = P[P_STEAM_W, lane] + P[P_STEAM_GAIN, lane] * room


@compiled
def _group_is_held(lane: int, P: Floats) -> bool:
    has_heater: bool = P[P_GROUP_W, lane] > 0.0
    holds: bool = P[P_GROUP_REACH_C, lane] >= P[P_GROUP_SET_C, lane] - 0.01
    return has_heater and holds


@compiled
def _pin(lane: int, net: Net, lanes: Lanes) -> None:
    """Hold brew water up to its sensor, steam and a heated group at their set-points; the rest finds its own."""
    S = lanes.S
    P = lanes.P
    T = lanes.T
    for layer in range(net.ranges[0], net.ranges[1]):
        T[layer, lane] = P[P_BREW_SET_C, lane]
    T[net.roles[N_STEAM], lane] = P[P_STEAM_SET_C, lane]
    T[net.roles[N_GROUP], lane] = P[P_GROUP_REACH_C, lane]
    S[S_JOINED, lane] = 0.0 if P[P_PORTAFILTER_COLD, lane] > 0.0 else 1.0
    if not _group_is_held(lane, P):
        lanes.Q[net.roles[N_GROUP], lane] = P[P_GROUP_W, lane] * P[P_POWER_FACTOR, lane]
    S[S_PINNED, lane] = PINNED_STEPS
    S[S_SUBS, lane] = 0.0  # so that `release` sets the step anew
    S[S_DT, lane] = PINNED_DT_S
    S[S_READY, lane] = 0.0


@compiled
def pin_capacities(net: Net, lanes: Lanes) -> None:
    """Give the held nodes of pinned lanes a capacity that no heat moves."""
    for lane in range(LANES):
        if lanes.S[S_PINNED, lane] > 0.0:
            for layer in range(net.ranges[0], net.roles[N_BREW_SENSOR] + 1):
                lanes.C[layer, lane] = PINNED_J_K
            lanes.C[net.roles[N_STEAM], lane] = PINNED_J_K
            if _group_is_held(lane, lanes.P):
                lanes.C[net.roles[N_GROUP], lane] = PINNED_J_K


@compiled
def _heat_out(first: int, last: int, lane: int, net: Net, lanes: Lanes) -> float:
    """Return what flows out of the nodes first..last - 1 by links [W]."""
    heat = 0.0
    for i in range(net.links.shape[0]):
        a = net.links[i, 1]
        b = net.links[i, 2]
        inside_a = first <= a < last
        inside_b = first <= b < last
        if inside_a != inside_b:
            flow = lanes.G[i, lane] * (lanes.T[a, lane] - lanes.T[b, lane]) - lanes.J[i, lane]
            heat += flow if inside_a else -flow
    return heat


@compiled
def release(lane: int, net: Net, lanes: Lanes) -> None:
    """End the pinned phase: loops start with the powers that hold the equilibrium."""
    S = lanes.S
    P = lanes.P
    factor = P[P_POWER_FACTOR, lane]
    steam = net.roles[N_STEAM]
    group = net.roles[N_GROUP]
    brew_W = _heat_out(net.ranges[0], net.roles[N_BREW_SENSOR] + 1, lane, net, lanes)
    steam_W = _heat_out(steam, steam + 1, lane, net, lanes)
    group_W = _heat_out(group, group + 1, lane, net, lanes) if _group_is_held(lane, P) else P[P_GROUP_W, lane]
    S[S_BREW_Y, lane] = P[P_BREW_SET_C, lane]
    S[S_STEAM_Y, lane] = P[P_STEAM_SET_C, lane]
    S[S_GROUP_Y, lane] = lanes.T[group, lane]
    S[S_BREW_I, lane] = brew_W / factor + P[P_BREW_GAIN, lane] * P[P_BREW_SET_C, lane]
    S[S_STEAM_I, lane] = steam_W / factor + P[P_STEAM_GAIN, lane] * P[P_STEAM_SET_C, lane]
    S[S_GROUP_I, lane] = group_W / factor + P[P_GROUP_GAIN, lane] * S[S_GROUP_Y, lane]
    for node in range(net.stores.size):
        if net.stores[node] == 0:
            lanes.C[node, lane] = lanes.sizes[node, lane]
    _reset_extremes(lane, S)
    set_step(lane, S, P, 1.0, 1.0)
