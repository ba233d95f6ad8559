"""How a lane begins a run: cold at switch-on, or settled at its set-points."""

from __future__ import annotations

from math import inf

from boilerfront.model.kernel.arrays import Lanes, Net, Runs
from boilerfront.model.kernel.boiler import weigh_steam
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
    P_FINDS_REACH,
    P_GROUP_GAIN,
    P_GROUP_REACH_C,
    P_GROUP_SET_C,
    P_GROUP_W,
    P_INLET_C,
    P_LOOP_HEIGHT_M,
    P_PORTAFILTER_COLD,
    P_POWER_FACTOR,
    P_ROOM_C,
    P_SETTLED,
    P_STEAM_GAIN,
    P_STEAM_KEPT,
    P_STEAM_M3,
    P_STEAM_SET_C,
    P_STEAM_START_KG,
    P_STEAM_W,
    S_BREW_HIGH_C,
    S_BREW_I,
    S_BREW_IN,
    S_BREW_SET,
    S_BREW_Y,
    S_BREW_Y0,
    S_BREWING,
    S_COIL_HIGH_C,
    S_DT,
    S_FINDING,
    S_FLUSH_END,
    S_FLUSH_LEFT,
    S_GROUP_I,
    S_GROUP_IN,
    S_GROUP_Y,
    S_GROUP_Y0,
    S_JOINED,
    S_LAST_STOP,
    S_LOOP,
    S_LOSS_J,
    S_MINUTE_END_S,
    S_OUTLET_HIGH_C,
    S_OVERSHOOT_K,
    S_PINNED,
    S_PORTAFILTER_BACK,
    S_REACH_C,
    S_READY,
    S_RECOVERING,
    S_RUN,
    S_STEAM_I,
    S_STEAM_IN,
    S_STEAM_KG,
    S_STEAM_SEEN_C,
    S_STEAM_Y,
    S_STEAM_Y0,
    S_SUBS,
)
from boilerfront.model.kernel.pace import set_step
from boilerfront.model.props.compiled import compiled
from boilerfront.shared.shapes import Floats

NOT_FINDING, HEATER_OFF, HEATER_ON = 0.0, 1.0, 2.0
"""Whether it is being looked for where the group settles, and with what heater."""
PINNED_STEPS = 20.0
CIRCULATING_STEPS = 60.0
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
        lanes.start_C[node, lane] = runs.start_C[run, node]
        lanes.T[node, lane] = runs.start_C[run, node]
        lanes.Q[node, lane] = 0.0
    lanes.T[net.stores.size, lane] = P[P_ROOM_C, lane]
    lanes.T[net.stores.size + 1, lane] = P[P_INLET_C, lane]
    for link in range(net.links.shape[0]):
        for number in range(3):
            lanes.numbers[link, number, lane] = runs.numbers[run, link, number]
        lanes.G[link, lane] = runs.numbers[run, link, 0]
        lanes.J[link, lane] = 0.0
    for law in range(lanes.cell.shape[0]):
        lanes.cell[law, lane] = -inf
    S[S_RUN, lane] = run
    S[S_STEAM_KG, lane] = P[P_STEAM_START_KG, lane]
    S[S_LAST_STOP, lane] = -inf
    S[S_RECOVERING, lane] = NEVER
    S[S_PORTAFILTER_BACK, lane] = NEVER
    S[S_FLUSH_LEFT, lane] = NEVER
    S[S_FLUSH_END, lane] = -inf
    S[S_BREWING, lane] = 1.0
    S[S_BREW_SET, lane] = P[P_BREW_SET_C, lane]
    S[S_REACH_C, lane] = P[P_GROUP_REACH_C, lane]
    out[O_BREW_IN_S] = inf
    out[O_STEAM_IN_S] = inf
    out[O_BREW_READY_S] = inf
    _reset_extremes(lane, S)
    S[S_MINUTE_END_S, lane] = 0.0
    set_step(lane, S, P, 1.0, 1.0)
    if P[P_FINDS_REACH, lane] > 0.0:
        S[S_FINDING, lane] = HEATER_ON
        _pin(lane, net, lanes)
    else:
        _begin(lane, net, lanes, out)


@compiled
def _begin(lane: int, net: Net, lanes: Lanes, out: Floats) -> None:
    """Begin the run proper: cold, or settled."""
    S = lanes.S
    if lanes.P[P_SETTLED, lane] > 0.0:
        _pin(lane, net, lanes)
    else:
        _switch_on(lane, net, lanes)
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
def _switch_on(lane: int, net: Net, lanes: Lanes) -> None:
    """Start as cold or warm as the machine is, every integral such that its output is full."""
    S = lanes.S
    P = lanes.P
    brew_C = lanes.T[net.roles[N_BREW_SENSOR], lane]
    group_C = lanes.T[net.roles[N_GROUP], lane]
    steam_C = lanes.T[net.roles[N_STEAM], lane]
    S[S_READY, lane] = NEVER
    S[S_BREW_Y, lane] = brew_C
    S[S_GROUP_Y, lane] = group_C
    S[S_STEAM_Y, lane] = steam_C
    S[S_BREW_Y0, lane] = brew_C
    S[S_GROUP_Y0, lane] = group_C
    S[S_STEAM_Y0, lane] = steam_C
    S[S_BREW_IN, lane] = inf
    S[S_GROUP_IN, lane] = inf
    S[S_STEAM_IN, lane] = inf
    S[S_BREW_I, lane] = P[P_BREW_W, lane] + P[P_BREW_GAIN, lane] * brew_C
    S[S_GROUP_I, lane] = P[P_GROUP_W, lane] + P[P_GROUP_GAIN, lane] * group_C
    S[S_STEAM_I, lane] = P[P_STEAM_W, lane] + P[P_STEAM_GAIN, lane] * steam_C


@compiled
def _steam_is_held(lane: int, P: Floats) -> bool:
    holds: bool = P[P_STEAM_M3, lane] > 0.0 and P[P_STEAM_KEPT, lane] > 0.0
    return holds


@compiled
def _group_is_held(lane: int, S: Floats, P: Floats) -> bool:
    has_heater: bool = P[P_GROUP_W, lane] > 0.0 and S[S_FINDING, lane] == NOT_FINDING
    holds: bool = S[S_REACH_C, lane] >= P[P_GROUP_SET_C, lane] - 0.01
    return has_heater and holds


@compiled
def _pin(lane: int, net: Net, lanes: Lanes) -> None:
    """Hold brew water up to its sensor, steam and a heated group at their set-points; the rest finds its own."""
    S = lanes.S
    P = lanes.P
    T = lanes.T
    for node in range(net.ranges[0], net.ranges[1]):
        T[node, lane] = P[P_BREW_SET_C, lane]
    for node in range(net.ranges[4], net.ranges[5]):
        T[node, lane] = P[P_BREW_SET_C, lane]
    if _steam_is_held(lane, P):
        T[net.roles[N_STEAM], lane] = P[P_STEAM_SET_C, lane]
    if P[P_STEAM_M3, lane] > 0.0:
        weigh_steam(lane, net, lanes)
    group = net.roles[N_GROUP]
    T[group, lane] = S[S_REACH_C, lane]
    S[S_JOINED, lane] = 0.0 if P[P_PORTAFILTER_COLD, lane] > 0.0 else 1.0
    heated = not _group_is_held(lane, S, P) and S[S_FINDING, lane] != HEATER_OFF
    lanes.Q[group, lane] = P[P_GROUP_W, lane] * P[P_POWER_FACTOR, lane] if heated else 0.0
    S[S_PINNED, lane] = PINNED_STEPS if P[P_LOOP_HEIGHT_M, lane] == 0.0 else CIRCULATING_STEPS
    S[S_SUBS, lane] = 0.0  # so that `release` sets the step anew
    S[S_DT, lane] = PINNED_DT_S
    S[S_READY, lane] = 0.0


@compiled
def _found_reach(lane: int, net: Net, lanes: Lanes) -> bool:
    """Take where the group settled: with its heater on, and again without where that is above its set-point.

    Returns whether it is known now where the group stands.
    """
    S = lanes.S
    set_C = lanes.P[P_GROUP_SET_C, lane]
    reached = lanes.T[net.roles[N_GROUP], lane]
    if S[S_FINDING, lane] == HEATER_ON and lanes.P[P_GROUP_W, lane] > 0.0 and reached > set_C:
        S[S_FINDING, lane] = HEATER_OFF
        return False
    S[S_REACH_C, lane] = max(reached, set_C) if S[S_FINDING, lane] == HEATER_OFF else reached
    S[S_FINDING, lane] = NOT_FINDING
    return True


@compiled
def _back_to_start(lane: int, net: Net, lanes: Lanes) -> None:
    """Put everything back to where the run begins."""
    for node in range(net.stores.size):
        lanes.T[node, lane] = lanes.start_C[node, lane]
        lanes.C[node, lane] = lanes.sizes[node, lane]
        lanes.Q[node, lane] = 0.0
    for link in range(net.links.shape[0]):
        lanes.G[link, lane] = lanes.numbers[link, 0, lane]
    lanes.S[S_JOINED, lane] = 0.0
    lanes.S[S_LOOP, lane] = 0.0
    lanes.S[S_LOSS_J, lane] = 0.0
    lanes.S[S_STEAM_SEEN_C, lane] = -inf  # weighed when hot: to be weighed anew
    set_step(lane, lanes.S, lanes.P, 1.0, 1.0)


@compiled
def pin_capacities(net: Net, lanes: Lanes) -> None:
    """Give the held nodes of pinned lanes a capacity that no heat moves."""
    for lane in range(LANES):
        if lanes.S[S_PINNED, lane] > 0.0:
            for node in range(net.ranges[4], net.ranges[5]):
                lanes.C[node, lane] = PINNED_J_K
            if _steam_is_held(lane, lanes.P):
                lanes.C[net.roles[N_STEAM], lane] = PINNED_J_K
            if _group_is_held(lane, lanes.S, lanes.P):
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
def release(lane: int, net: Net, lanes: Lanes, out: Floats) -> None:
    """End a pinned phase: go on to the next one or to the run proper."""
    S = lanes.S
    if S[S_FINDING, lane] == NOT_FINDING:
        _settle(lane, net, lanes)
        out[O_STEAM_START_C] = lanes.T[net.roles[N_STEAM], lane]
    elif _found_reach(lane, net, lanes):
        _back_to_start(lane, net, lanes)
        _begin(lane, net, lanes, out)
    else:
        _pin(lane, net, lanes)


@compiled
def _settle(lane: int, net: Net, lanes: Lanes) -> None:
    """Let the loops start with the powers that hold the equilibrium."""
    S = lanes.S
    P = lanes.P
    factor = P[P_POWER_FACTOR, lane]
    steam = net.roles[N_STEAM]
    group = net.roles[N_GROUP]
    brew_W = _heat_out(net.ranges[4], net.ranges[5], lane, net, lanes)
    steam_W = _heat_out(steam, steam + 1, lane, net, lanes)
    group_W = (
        _heat_out(group, group + 1, lane, net, lanes) if _group_is_held(lane, S, P) else P[P_GROUP_W, lane]
    )
    S[S_BREW_Y, lane] = lanes.T[net.roles[N_BREW_SENSOR], lane]
    S[S_STEAM_Y, lane] = lanes.T[steam, lane]
    S[S_GROUP_Y, lane] = lanes.T[group, lane]
    S[S_BREW_I, lane] = brew_W / factor + P[P_BREW_GAIN, lane] * P[P_BREW_SET_C, lane]
    S[S_STEAM_I, lane] = steam_W / factor + P[P_STEAM_GAIN, lane] * P[P_STEAM_SET_C, lane]
    S[S_GROUP_I, lane] = group_W / factor + P[P_GROUP_GAIN, lane] * S[S_GROUP_Y, lane]
    for node in range(net.stores.size):
        if net.stores[node] == 0:
            lanes.C[node, lane] = lanes.sizes[node, lane]
    _reset_extremes(lane, S)
    set_step(lane, S, P, 1.0, 1.0)
