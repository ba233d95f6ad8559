"""A lane's second: planned once at its start, then one step or several through the network."""

from __future__ import annotations

from math import isfinite

from boilerfront.model.kernel.codes import NOT_FINITE, RUNNING, TOO_MANY_STEPS
from boilerfront.model.kernel.duty import events, plan_second
from boilerfront.model.kernel.layout import (
    MODE_SHOT,
    MODE_STEAM,
    N_BREW_ELEMENT,
    N_GROUP,
    N_PORTAFILTER,
    N_SCREEN,
    N_STEAM,
    N_STEAM_ELEMENT,
    O_CODE,
    O_LEVEL_LOW,
    O_PST_TIME_S,
    O_STEAM_OUT_J,
    O_STEAM_START_C,
    O_STEAM_TIME_S,
    P_AMBIENT_PA,
    P_DRYNESS,
    P_HELIX_HEIGHT_M,
    P_IMMERSED_FACTOR,
    P_INLET_C,
    P_MILK_FROM_C,
    P_MILK_J,
    P_MILK_TO_C,
    P_PORTAFILTER_COLD,
    P_ROOM_C,
    P_STEAM_HEIGHT_M,
    P_STEAM_M3,
    P_WAND_LOSS,
    P_WAND_M2,
    S_BREW_P,
    S_DT,
    S_FLICKER,
    S_FLOW,
    S_FLOW0,
    S_FLOW1,
    S_GROUP_P,
    S_LEVEL,
    S_LOSS_J,
    S_MILK_LEFT,
    S_MODE,
    S_MODE_T0,
    S_PINNED,
    S_READY,
    S_REFILL,
    S_RUN,
    S_SHARE,
    S_SPAN,
    S_STEAM_KG,
    S_STEAM_P,
    S_STEAM_SEEN_C,
    S_STEAM_SEEN_KG,
    S_STEAM_UM,
    S_STEPS,
    S_SUB,
    S_SUBS,
    S_TIME,
    S_WAND,
    Lanes,
    Net,
    Runs,
)
from boilerfront.model.kernel.power import FLICKER_MINUTES, plan_span
from boilerfront.model.kernel.start import release
from boilerfront.model.kernel.steam import (
    capacity,
    energy_of_added_mass,
    immersed_share,
    liquid_volume,
)
from boilerfront.model.laws.phase import steam_hole_mass_flux
from boilerfront.model.props.compiled import compiled
from boilerfront.model.props.water import enthalpy, evaporation_enthalpy, saturation_pressure
from boilerfront.shared.shapes import Floats

MOST_STEPS = 60_000
MOVED_K = 0.02


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
        events(lane, S, P, queue, runs.event_counts[runs.queue[run]], out, shots)
    if out[O_CODE] != RUNNING:
        return
    _look_at_steam(lane, net, lanes, out)
    plan_second(lane, S, P, queue)
    if (
        P[P_PORTAFILTER_COLD, lane] > 0.0
        and S[S_MODE, lane] == MODE_SHOT
        and S[S_MODE_T0, lane] == S[S_TIME, lane]
    ):
        node = net.roles[N_PORTAFILTER]
        S[S_LOSS_J, lane] += lanes.C[node, lane] * (T[node, lane] - P[P_ROOM_C, lane])
        T[node, lane] = P[P_ROOM_C, lane]
    plan_span(lane, S, P, queue, runs.refill_C[runs.design[run]], out)
    total = 0.0
    for minute in range(FLICKER_MINUTES):
        total += S[S_FLICKER + minute, lane]
    out[O_PST_TIME_S] = max(out[O_PST_TIME_S], total)
    lanes.Q[net.roles[N_BREW_ELEMENT], lane] = S[S_BREW_P, lane]
    lanes.Q[net.roles[N_GROUP], lane] = S[S_GROUP_P, lane]
    lanes.Q[net.roles[N_STEAM_ELEMENT], lane] = S[S_STEAM_P, lane]


@compiled
def _look_at_steam(lane: int, net: Net, lanes: Lanes, out: Floats) -> None:
    """Take level, immersed share and heat capacity of the steam boiler anew, where it has moved."""
    S = lanes.S
    P = lanes.P
    node = net.roles[N_STEAM]
    t = lanes.T[node, lane]
    mass = S[S_STEAM_KG, lane]
    if abs(t - S[S_STEAM_SEEN_C, lane]) > MOVED_K or mass != S[S_STEAM_SEEN_KG, lane]:
        S[S_STEAM_SEEN_C, lane] = t
        S[S_STEAM_SEEN_KG, lane] = mass
        volume = P[P_STEAM_M3, lane]
        level = liquid_volume(t, mass, volume) / volume
        S[S_LEVEL, lane] = level
        share = immersed_share(level, P[P_STEAM_HEIGHT_M, lane], P[P_HELIX_HEIGHT_M, lane])
        S[S_SHARE, lane] = min(share * P[P_IMMERSED_FACTOR, lane], 1.0)
        S[S_STEAM_UM, lane] = energy_of_added_mass(t)
        lanes.C[node, lane] = capacity(t, mass, volume)
    if S[S_READY, lane] >= 0.0:
        level = S[S_LEVEL, lane]
        out[O_LEVEL_LOW] = min(out[O_LEVEL_LOW], level) if out[O_LEVEL_LOW] > 0.0 else level


@compiled
def begin_step(lane: int, net: Net, lanes: Lanes, out: Floats) -> None:
    """Set the step's mean flow and what enters and leaves the steam boiler as matter."""
    S = lanes.S
    P = lanes.P
    if S[S_FLOW0, lane] + S[S_FLOW1, lane] + S[S_REFILL, lane] == 0.0 and S[S_MODE, lane] != MODE_STEAM:
        S[S_FLOW, lane] = 0.0
        S[S_WAND, lane] = 0.0
        lanes.Q[net.roles[N_STEAM], lane] = 0.0
        return
    along = (S[S_SUB, lane] + 0.5) / S[S_SUBS, lane]
    S[S_FLOW, lane] = S[S_FLOW0, lane] + along * (S[S_FLOW1, lane] - S[S_FLOW0, lane])
    S[S_WAND, lane] = 0.0
    source = 0.0
    steam_C = lanes.T[net.roles[N_STEAM], lane]
    if S[S_REFILL, lane] > 0.0:
        source += S[S_REFILL, lane] * (enthalpy(P[P_INLET_C, lane]) - S[S_STEAM_UM, lane])
    if S[S_MODE, lane] == MODE_STEAM and S[S_MILK_LEFT, lane] > 0.0:
        wet_J_kg = enthalpy(steam_C) + P[P_DRYNESS, lane] * evaporation_enthalpy(steam_C)
        S[S_WAND, lane] = _steam_milk(lane, S, P, steam_C, wet_J_kg, out)
        source -= S[S_WAND, lane] * (wet_J_kg - S[S_STEAM_UM, lane])
        out[O_STEAM_OUT_J] += S[S_WAND, lane] * wet_J_kg * S[S_DT, lane]
    lanes.Q[net.roles[N_STEAM], lane] = source


@compiled
def _steam_milk(lane: int, S: Floats, P: Floats, steam_C: float, wet_J_kg: float, out: Floats) -> float:
    """Return the wand's mean flow in this step [kg/s]; the last step ends where the milk is hot."""
    boiler_Pa = saturation_pressure(steam_C)
    ambient_Pa = P[P_AMBIENT_PA, lane]
    at_holes_Pa = boiler_Pa - P[P_WAND_LOSS, lane] * max(boiler_Pa - ambient_Pa, 0.0)
    flow = P[P_WAND_M2, lane] * steam_hole_mass_flux(at_holes_Pa, ambient_Pa, steam_C)
    given = 1.0 - S[S_MILK_LEFT, lane] / P[P_MILK_J, lane]
    milk_C = P[P_MILK_FROM_C, lane] + given * (P[P_MILK_TO_C, lane] - P[P_MILK_FROM_C, lane])
    heat = flow * (wet_J_kg - enthalpy(milk_C)) * S[S_DT, lane]
    part = 1.0
    if heat >= S[S_MILK_LEFT, lane]:
        part = S[S_MILK_LEFT, lane] / heat
        began = S[S_TIME, lane] - S[S_MODE_T0, lane] + S[S_SUB, lane] * S[S_DT, lane]
        out[O_STEAM_TIME_S] = max(out[O_STEAM_TIME_S], began + part * S[S_DT, lane])
    S[S_MILK_LEFT, lane] = S[S_MILK_LEFT, lane] - heat if part == 1.0 else 0.0
    mean: float = flow * part
    return mean


@compiled
def end_step(lane: int, net: Net, lanes: Lanes, out: Floats) -> None:
    """Note the step and move the lane's clock."""
    S = lanes.S
    S[S_STEPS, lane] += 1.0
    if S[S_PINNED, lane] > 0.0:
        S[S_PINNED, lane] -= 1.0
        if S[S_PINNED, lane] == 0.0:
            release(lane, net, lanes)
            out[O_STEAM_START_C] = lanes.T[net.roles[N_STEAM], lane]
        return
    S[S_STEAM_KG, lane] += (S[S_REFILL, lane] - S[S_WAND, lane]) * S[S_DT, lane]
    S[S_SUB, lane] += 1.0
    if S[S_SUB, lane] == S[S_SUBS, lane]:
        S[S_SUB, lane] = 0.0
        S[S_TIME, lane] += S[S_SPAN, lane]
