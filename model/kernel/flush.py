"""Water run through the group to cool a machine: how much of it, to a part of a second.

A machine with a heat exchanger is flushed before a shot, until water that is cool enough has come from its tube to
the screen; one that swings is flushed after steaming, until its reading is near the brew set-point. The last sample
of a flush is as long as the water still runs: whole seconds would make a shot jump with the smallest change of the
design, as what was flushed warms up by the second until the shot begins.
"""

from __future__ import annotations

from math import inf

from boilerfront.model.kernel.layout import (
    MODE_FLUSH,
    P_FILL_M3_S,
    P_FLOW_FACTOR,
    P_FLUSH_M3,
    P_PURGE_M3,
    P_SWINGS,
    P_USER_C,
    S_FLUSH_LEFT,
    S_FLUSH_S,
    S_FLUSH_SEEN_K,
    S_FLUSH_TO_GO_S,
    S_MODE,
    S_MODE_T0,
    S_OUTLET_C,
    S_SPAN,
    S_TIME,
)
from boilerfront.model.kernel.span import part_of_a_second
from boilerfront.model.kernel.swing import return_excess_K
from boilerfront.model.props.compiled import compiled
from boilerfront.shared.shapes import Floats

FLUSH_WITHIN_K = 2.0
"""A machine that flushes before a shot does so until its water is this close to what the user asked for."""


@compiled
def outlet_excess_K(lane: int, S: Floats, P: Floats) -> float:
    """Return how much too hot for a shot the water is that the tube gives [K]."""
    excess: float = S[S_OUTLET_C, lane] - P[P_USER_C, lane] - FLUSH_WITHIN_K
    return excess


@compiled
def begin_flush(lane: int, S: Floats, P: Floats) -> None:
    """Begin a flush before a shot, with a whole sample: how fast it cools is not known yet."""
    S[S_FLUSH_LEFT, lane] = P[P_FLUSH_M3, lane]
    S[S_FLUSH_SEEN_K, lane] = outlet_excess_K(lane, S, P)
    S[S_FLUSH_TO_GO_S, lane] = inf
    S[S_MODE, lane] = MODE_FLUSH
    S[S_MODE_T0, lane] = S[S_TIME, lane]
    plan_flush(lane, S, P)


@compiled
def is_flushed(lane: int, S: Floats, P: Floats) -> bool:
    """Say whether a flush before a shot is over: what was cool at the tube's end has come to the screen.

    The tube's end was cool from a moment within the last sample on, as if it had cooled at one rate.
    """
    excess = outlet_excess_K(lane, S, P)
    if S[S_FLUSH_TO_GO_S, lane] == inf and excess <= 0.0:
        cool_s = S[S_SPAN, lane] * excess / (excess - S[S_FLUSH_SEEN_K, lane])
        S[S_FLUSH_TO_GO_S, lane] = P[P_PURGE_M3, lane] / flush_flow_m3_s(lane, P) - cool_s
    S[S_FLUSH_SEEN_K, lane] = excess
    over: bool = S[S_FLUSH_TO_GO_S, lane] <= 0.0 or S[S_FLUSH_LEFT, lane] <= 0.0
    return over


@compiled
def flush_flow_m3_s(lane: int, P: Floats) -> float:
    """Return the flow of a flush: the pump against no puck, as while a shot fills."""
    flow: float = P[P_FILL_M3_S, lane] * P[P_FLOW_FACTOR, lane]
    return flow


@compiled
def plan_flush(lane: int, S: Floats, P: Floats) -> None:
    """Set for how long the coming sample is flushed: a second, or what is left of it."""
    to_go_s = _foreseen_s(lane, S, P) if P[P_SWINGS, lane] > 0.0 else S[S_FLUSH_TO_GO_S, lane]
    to_go_s = min(to_go_s, S[S_FLUSH_LEFT, lane] / flush_flow_m3_s(lane, P))
    S[S_FLUSH_S, lane] = part_of_a_second(to_go_s)
    S[S_FLUSH_TO_GO_S, lane] -= S[S_FLUSH_S, lane]


@compiled
def _foreseen_s(lane: int, S: Floats, P: Floats) -> float:
    """Return when a machine that swings will be near its set-point, if its reading goes on falling as it did [s]."""
    excess = return_excess_K(lane, S, P)
    fell_K_s = (S[S_FLUSH_SEEN_K, lane] - excess) / S[S_SPAN, lane]
    S[S_FLUSH_SEEN_K, lane] = excess
    started = S[S_MODE_T0, lane] < S[S_TIME, lane]
    foreseen: float = max(excess, 0.0) / fell_K_s if started and fell_K_s > excess else inf
    return foreseen
