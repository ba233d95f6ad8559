"""What a lane is given for its coming second: flow, refill, portafilter, and the steps that cover it.

Steps are finest where temperatures move fastest: while a pump begins, has just stopped, or a vessel boils; in calm
several samples share one, as `span` says.
"""

from __future__ import annotations

from math import exp, inf

from boilerfront.model.kernel.duty import planned_s
from boilerfront.model.kernel.flush import flush_flow_m3_s
from boilerfront.model.kernel.layout import (
    E_FLOW_M3_S,
    MODE_FLUSH,
    MODE_IDLE,
    MODE_SHOT,
    MODE_STEAM,
    O_FLUSH_M3,
    P_BLOCK_W_K,
    P_BREW_LAG_S,
    P_DOSE_KG_S,
    P_FILL_M3_S,
    P_FILL_S,
    P_FINE,
    P_FLOW_FACTOR,
    P_GROUP_LAG_S,
    P_INLET_RHO,
    P_LEVEL_HIGH,
    P_LEVEL_LOW,
    P_LOOP_HEIGHT_M,
    P_PORTAFILTER_COLD,
    P_RAMP_S,
    P_REFILL_KG_S,
    P_STEAM_LAG_S,
    P_SWINGS,
    REFILLING,
    S_BREW_DECAY,
    S_BUSY_S,
    S_DT,
    S_EVENT,
    S_FLOW0,
    S_FLOW1,
    S_FLUSH_END,
    S_FLUSH_LEFT,
    S_FLUSH_S,
    S_GROUP_DECAY,
    S_JOINED,
    S_LAST_STOP,
    S_LEVEL,
    S_MODE,
    S_MODE_T0,
    S_PHASE,
    S_PORTAFILTER_BACK,
    S_READY,
    S_REFILL,
    S_SPAN,
    S_STEAM_DECAY,
    S_SUB,
    S_SUBS,
    S_TIME,
    S_TWO_PHASE,
    S_WANTED,
)
from boilerfront.model.kernel.span import idle_span_s, note_courses
from boilerfront.model.kernel.swing import missing_kg
from boilerfront.model.props.compiled import compiled
from boilerfront.shared.shapes import Floats

FINE_AFTER_S = 2.0
"""Fine steps go on for this long after a draw."""
LOOP_RUNS_S, LOOP_STEADY_S = 4.0, 10.0
"""Within these times what circulates by buoyancy has started again, and has come near its course."""
FILL_FINER, BLOCK_FILL_FINER = 3.0, 4.0
"""While the fill comes in, steps are so many times as fine where one heater or tube does it all, and where no water
behind it evens out what it does."""
FRONT_S, BLOCK_FRONT_S = 1.0, 5.0
"""Steps stay finer for this long after the flow has changed; those of a block until its metal has followed."""


@compiled
def flow_at(since_s: float, lane: int, P: Floats, steady_m3_s: float) -> float:
    """Return the mass flow [kg/s] `since_s` after pump start: fill, linear change, steady."""
    fill = P[P_FILL_M3_S, lane]
    along = min(max((since_s - P[P_FILL_S, lane]) / P[P_RAMP_S, lane], 0.0), 1.0)
    volume = fill + along * (steady_m3_s - fill)
    flow: float = volume * P[P_FLOW_FACTOR, lane] * P[P_INLET_RHO, lane]
    return flow


@compiled
def plan_second(lane: int, S: Floats, P: Floats, queue: Floats, out: Floats) -> None:
    """Set flow, refill, portafilter and the number of steps for the coming second."""
    t = S[S_TIME, lane]
    mode = S[S_MODE, lane]
    S[S_FLOW0, lane] = 0.0
    S[S_FLOW1, lane] = 0.0
    if mode == MODE_SHOT:
        steady = queue[int(S[S_EVENT, lane]), E_FLOW_M3_S]
        since = t - S[S_MODE_T0, lane]
        S[S_FLOW0, lane] = flow_at(since, lane, P, steady)
        S[S_FLOW1, lane] = flow_at(since + 1.0, lane, P, steady)
    elif mode == MODE_FLUSH:
        flow = flush_flow_m3_s(lane, P)
        flushed_s = S[S_FLUSH_S, lane]
        S[S_FLOW0, lane] = flow * P[P_INLET_RHO, lane]
        S[S_FLOW1, lane] = flow * P[P_INLET_RHO, lane]
        S[S_FLUSH_LEFT, lane] -= flow * flushed_s
        out[O_FLUSH_M3] += flow * flushed_s
    if S[S_LEVEL, lane] >= P[P_LEVEL_HIGH, lane] or S[S_READY, lane] < 0.0:
        S[S_WANTED, lane] = 0.0
    elif S[S_LEVEL, lane] < P[P_LEVEL_LOW, lane]:
        S[S_WANTED, lane] = 1.0
    S[S_REFILL, lane] = 0.0 if mode == MODE_SHOT else S[S_WANTED, lane] * P[P_REFILL_KG_S, lane]
    if S[S_PHASE, lane] == REFILLING:
        S[S_REFILL, lane] = min(P[P_REFILL_KG_S, lane], max(missing_kg(lane, S, P), 0.0))
    elif mode == MODE_STEAM and P[P_BLOCK_W_K, lane] > 0.0:
        S[S_REFILL, lane] = P[P_DOSE_KG_S, lane]
    in_place = t >= S[S_PORTAFILTER_BACK, lane]
    if P[P_PORTAFILTER_COLD, lane] > 0.0:
        in_place = mode == MODE_SHOT
    S[S_JOINED, lane] = 1.0 if in_place else 0.0
    if mode != MODE_IDLE or S[S_REFILL, lane] > 0.0:
        S[S_BUSY_S, lane] = t
    note_courses(lane, S)
    steps = steps_a_second(lane, S, P)
    span = S[S_FLUSH_S, lane] if mode == MODE_FLUSH else 1.0
    if mode == MODE_IDLE:
        planned = planned_s(lane, S, queue) if S[S_READY, lane] >= 0.0 else inf
        span = idle_span_s(lane, S, P, planned, steps == 1.0)
    set_step(lane, S, P, steps, span)
    S[S_SUB, lane] = 0.0


@compiled
def steps_a_second(lane: int, S: Floats, P: Floats) -> float:
    """Return how many steps the coming second takes: most while a pump begins or has just stopped.

    A shot's flow is steady once the fill and the change after it are over: the fronts that they sent through
    the water are past, and what changes then does so with the powers, once a second.
    """
    finest: float = P[P_FINE, lane]
    if S[S_TWO_PHASE, lane] > 0.0:  # vented, steaming or refilled: a degree or two a second
        return finest
    if S[S_MODE, lane] == MODE_IDLE:
        since = S[S_TIME, lane] - max(S[S_LAST_STOP, lane], S[S_FLUSH_END, lane])
        if P[P_LOOP_HEIGHT_M, lane] > 0.0:
            return _as_the_loop_starts(since, finest)
        return finest if since < FINE_AFTER_S else 1.0
    since = S[S_TIME, lane] - S[S_MODE_T0, lane]
    # Where one heater or tube does it all, temperatures move more, most of all while the first cold water comes in.
    moves = P[P_SWINGS, lane] > 0.0 or P[P_LOOP_HEIGHT_M, lane] > 0.0
    if S[S_MODE, lane] == MODE_STEAM and P[P_BLOCK_W_K, lane] == 0.0:  # a boiler of its own cools slowly
        return finest if moves else _fewer(finest, 2.0)
    if S[S_MODE, lane] != MODE_SHOT or since < P[P_FILL_S, lane] + FRONT_S:
        finer = BLOCK_FILL_FINER if P[P_BLOCK_W_K, lane] > 0.0 else FILL_FINER
        return finer * finest if moves and since <= P[P_FILL_S, lane] else finest
    changed = since - P[P_FILL_S, lane] - P[P_RAMP_S, lane]
    if P[P_BLOCK_W_K, lane] > 0.0 and changed < BLOCK_FRONT_S:
        return finest
    return _fewer(finest, 2.0 if changed < FRONT_S or moves else 4.0)


@compiled
def _fewer(steps: float, times: float) -> float:
    """Return so many times fewer steps a second, but one at least."""
    return max(steps // times, 1.0)


@compiled
def _as_the_loop_starts(since_s: float, finest: float) -> float:
    """Return the steps of a second after the pump: at first the tube's cold water warms by ten degrees a second."""
    if since_s < LOOP_RUNS_S:
        return finest
    return _fewer(finest, 2.0) if since_s < LOOP_STEADY_S else 1.0


@compiled
def set_step(lane: int, S: Floats, P: Floats, steps: float, span_s: float) -> None:
    """Set how many steps cover the coming span, and what the sensors keep of their past in each."""
    if steps == S[S_SUBS, lane] and span_s == S[S_SPAN, lane]:
        return
    dt = span_s / steps
    S[S_SUBS, lane] = steps
    S[S_SPAN, lane] = span_s
    S[S_DT, lane] = dt
    S[S_BREW_DECAY, lane] = exp(-dt / P[P_BREW_LAG_S, lane])
    S[S_GROUP_DECAY, lane] = exp(-dt / P[P_GROUP_LAG_S, lane])
    S[S_STEAM_DECAY, lane] = exp(-dt / P[P_STEAM_LAG_S, lane])
