"""A lane's second: planned once at its start, then one step or several through the network."""

from __future__ import annotations

from math import isfinite

from boilerfront.model.kernel.arrays import Lanes, Net, Runs
from boilerfront.model.kernel.boiler import look_at_steam, weigh_steam
from boilerfront.model.kernel.circulation import circulate
from boilerfront.model.kernel.codes import NOT_FINITE, RUNNING, TOO_MANY_STEPS
from boilerfront.model.kernel.duty import events
from boilerfront.model.kernel.layout import (
    MODE_IDLE,
    MODE_SHOT,
    MODE_STEAM,
    N_BREW_ELEMENT,
    N_BREW_OUTLET,
    N_GROUP,
    N_PORTAFILTER,
    N_SCREEN,
    N_STEAM,
    N_STEAM_ELEMENT,
    O_CODE,
    O_STEAM_OUT_J,
    P_BLOCK_W_K,
    P_BREW_W,
    P_DRYNESS,
    P_INLET_C,
    P_LOOP_HEIGHT_M,
    P_PORTAFILTER_COLD,
    P_ROOM_C,
    P_STEAM_M3,
    P_SWING_LEVEL,
    P_SWING_M3,
    P_VENT_KG_S,
    S_ALL_FLOW,
    S_BREW_P,
    S_DT,
    S_FLOW,
    S_FLOW0,
    S_FLOW1,
    S_GROUP_P,
    S_LEVEL,
    S_LOOP,
    S_LOSS_J,
    S_MILK_LEFT,
    S_MODE,
    S_MODE_T0,
    S_OUTLET_C,
    S_PHASE,
    S_PINNED,
    S_REFILL,
    S_RUN,
    S_SPAN,
    S_STEAM_KG,
    S_STEAM_P,
    S_STEAM_UM,
    S_STEPS,
    S_SUB,
    S_SUBS,
    S_SWING_C,
    S_SWING_UM,
    S_TIME,
    S_TWO_PHASE,
    S_WAND,
    VENTING,
)
from boilerfront.model.kernel.milk import wand_kg_s
from boilerfront.model.kernel.once_through import steam_from_block
from boilerfront.model.kernel.pace import plan_second
from boilerfront.model.kernel.power import plan_span
from boilerfront.model.kernel.span import note_layers
from boilerfront.model.kernel.start import release
from boilerfront.model.kernel.swing import look_at_vessel
from boilerfront.model.props.compiled import compiled
from boilerfront.model.props.water import density, enthalpy, evaporation_enthalpy
from boilerfront.shared.shapes import Floats

MOST_STEPS = 60_000


@compiled
def begin_second(lane: int, net: Net, runs: Runs, lanes: Lanes, out: Floats, shots: Floats) -> None:
    """Plan the coming second of a lane, or end its run."""
    S = lanes.S
    P = lanes.P
    T = lanes.T
    run = int(S[S_RUN, lane])
    queue = runs.events[runs.queue[run]]
    if not isfinite(T[net.roles[N_SCREEN], lane] + T[net.roles[N_STEAM], lane]):
        out[O_CODE] = NOT_FINITE
    elif S[S_STEPS, lane] > MOST_STEPS:
        out[O_CODE] = TOO_MANY_STEPS
    else:
        S[S_OUTLET_C, lane] = T[net.roles[N_BREW_OUTLET], lane]
        if P[P_SWING_M3, lane] > 0.0:
            look_at_vessel(lane, net, lanes, out)
        events(lane, S, P, queue, runs.event_counts[runs.queue[run]], out, shots)
    if out[O_CODE] != RUNNING:
        return
    if P[P_STEAM_M3, lane] > 0.0:
        look_at_steam(lane, net, lanes, out)
    if S[S_MODE, lane] == MODE_IDLE:
        note_layers(lane, net, lanes)
    plan_second(lane, S, P, queue, out)
    if (
        P[P_PORTAFILTER_COLD, lane] > 0.0
        and S[S_MODE, lane] == MODE_SHOT
        and S[S_MODE_T0, lane] == S[S_TIME, lane]
    ):
        node = net.roles[N_PORTAFILTER]
        S[S_LOSS_J, lane] += lanes.C[node, lane] * (T[node, lane] - P[P_ROOM_C, lane])
        T[node, lane] = P[P_ROOM_C, lane]
    plan_span(lane, S, P, queue, runs.refill_C[runs.design[run]], out)
    heat_elements(lane, net, lanes)


@compiled
def heat_elements(lane: int, net: Net, lanes: Lanes) -> None:
    """Give the elements that a machine has their planned powers."""
    S = lanes.S
    if lanes.P[P_BREW_W, lane] > 0.0:
        lanes.Q[net.roles[N_BREW_ELEMENT], lane] = S[S_BREW_P, lane]
    lanes.Q[net.roles[N_GROUP], lane] = S[S_GROUP_P, lane]
    if lanes.P[P_STEAM_M3, lane] > 0.0:
        lanes.Q[net.roles[N_STEAM_ELEMENT], lane] = S[S_STEAM_P, lane]


@compiled
def begin_step(lane: int, net: Net, lanes: Lanes, out: Floats) -> None:
    """Set the step's mean flow, what circulates, and what enters and leaves a vessel or block as steam."""
    S = lanes.S
    P = lanes.P
    if P[P_LOOP_HEIGHT_M, lane] > 0.0:
        circulate(lane, net, lanes)
    S[S_FLOW, lane] = 0.0
    if S[S_FLOW0, lane] + S[S_FLOW1, lane] > 0.0:
        along = (S[S_SUB, lane] + 0.5) / S[S_SUBS, lane]
        S[S_FLOW, lane] = S[S_FLOW0, lane] + along * (S[S_FLOW1, lane] - S[S_FLOW0, lane])
    S[S_ALL_FLOW, lane] = S[S_FLOW, lane] + S[S_LOOP, lane]
    steamed = S[S_WAND, lane] > 0.0
    gained_kg = S[S_DT, lane] * (S[S_REFILL, lane] - S[S_WAND, lane])
    S[S_WAND, lane] = 0.0
    if P[P_STEAM_M3, lane] > 0.0:
        steam = net.roles[N_STEAM]
        if gained_kg != 0.0:
            # What steams or is refilled weighs less or more within a second: taken at the middle of each step.
            S[S_STEAM_KG, lane] += 0.5 * gained_kg
            weigh_steam(lane, net, lanes)
            S[S_STEAM_KG, lane] -= 0.5 * gained_kg
        lanes.Q[steam, lane] = _source_W(lane, lanes, lanes.T[steam, lane], S[S_STEAM_UM, lane], out)
    elif P[P_SWING_M3, lane] > 0.0:
        first, last = net.ranges[0], net.ranges[1]
        source = 0.0
        if S[S_TWO_PHASE, lane] > 0.0:
            # The refill chills a small vessel fast: weighed in each step, at the mass of its middle.
            half_kg = 0.5 * S[S_DT, lane] * S[S_REFILL, lane]
            S[S_STEAM_KG, lane] += half_kg
            look_at_vessel(lane, net, lanes, out)
            S[S_STEAM_KG, lane] -= half_kg
            source = _source_W(lane, lanes, S[S_SWING_C, lane], S[S_SWING_UM, lane], out)
        for layer in range(first, last):
            lanes.Q[layer, lane] = source / (last - first)
    elif P[P_BLOCK_W_K, lane] > 0.0:
        if S[S_MODE, lane] == MODE_STEAM and S[S_MILK_LEFT, lane] > 0.0:
            steam_from_block(lane, net, lanes, out)
        elif steamed:
            S[S_REFILL, lane] = 0.0
            for cell in range(net.ranges[6], net.ranges[7]):
                lanes.Q[cell, lane] = 0.0


@compiled
def _source_W(lane: int, lanes: Lanes, vessel_C: float, added_J_kg: float, out: Floats) -> float:
    """Return what refill, wand and venting bring into a vessel with a steam space [W].

    Each mass brings its own enthalpy and takes `added_J_kg`, what a kilogram more would hold at rest.
    """
    S = lanes.S
    P = lanes.P
    source = 0.0
    if S[S_REFILL, lane] > 0.0:
        source += S[S_REFILL, lane] * (enthalpy(P[P_INLET_C, lane]) - added_J_kg)
    leaving_J_kg = 0.0
    if S[S_MODE, lane] == MODE_STEAM and S[S_MILK_LEFT, lane] > 0.0:
        leaving_J_kg = enthalpy(vessel_C) + P[P_DRYNESS, lane] * evaporation_enthalpy(vessel_C)
        S[S_WAND, lane] = wand_kg_s(lane, lanes, vessel_C, leaving_J_kg, out)
    elif S[S_PHASE, lane] == VENTING:
        leaving_J_kg = enthalpy(vessel_C)
        above = max(S[S_LEVEL, lane] - P[P_SWING_LEVEL, lane], 0.0) * P[P_SWING_M3, lane]
        S[S_WAND, lane] = min(P[P_VENT_KG_S, lane], above * density(vessel_C))
    if S[S_WAND, lane] > 0.0:
        source -= S[S_WAND, lane] * (leaving_J_kg - added_J_kg)
        out[O_STEAM_OUT_J] += S[S_WAND, lane] * leaving_J_kg * S[S_DT, lane]
    return source


@compiled
def end_step(lane: int, net: Net, lanes: Lanes, out: Floats) -> None:
    """Note the step and move the lane's clock."""
    S = lanes.S
    S[S_STEPS, lane] += 1.0
    if S[S_PINNED, lane] > 0.0:
        S[S_PINNED, lane] -= 1.0
        if S[S_PINNED, lane] == 0.0:
            release(lane, net, lanes, out)
        return
    S[S_STEAM_KG, lane] += (S[S_REFILL, lane] - S[S_WAND, lane]) * S[S_DT, lane]
    S[S_SUB, lane] += 1.0
    if S[S_SUB, lane] == S[S_SUBS, lane]:
        S[S_SUB, lane] = 0.0
        S[S_TIME, lane] += S[S_SPAN, lane]
