"""When is the machine ready: the stay of its sensors in their bands, crossings interpolated."""

from __future__ import annotations

from math import inf

from boilerfront.model.kernel.layout import (
    O_BREW_IN_S,
    O_BREW_READY_S,
    O_READY_S,
    O_STEAM_IN_S,
    P_BREW_ABOVE_K,
    P_BREW_BELOW_K,
    P_BREW_SET_C,
    P_COUNTS_ALL,
    P_STEAM_KEPT,
    P_STEAM_SET_C,
    S_BREW_IN,
    S_BREW_Y,
    S_BREW_Y0,
    S_GROUP_IN,
    S_GROUP_Y,
    S_GROUP_Y0,
    S_OK_BREW_S,
    S_OK_STEAM_S,
    S_REACH_C,
    S_READY,
    S_SPAN,
    S_STEAM_IN,
    S_STEAM_Y,
    S_STEAM_Y0,
    S_TIME,
)
from boilerfront.model.props.compiled import compiled
from boilerfront.shared.shapes import Floats

BREW_BELOW_K, BREW_ABOVE_K = 0.5, 2.0
RETURN_ABOVE_K = 2.0
"""After a swing a shot may start this far above the brew set-point."""
GROUP_BELOW_K, GROUP_ABOVE_K = 1.5, 3.0
STEAM_BELOW_K = 3.0
STAY_S = 30.0


@compiled
def above_for_s(before: float, now: float, low: float, span_s: float) -> float:
    """Return for how long [s] of a span a reading that went from `before` to `now`, above `low`, was above it."""
    return span_s * (now - low) / (now - before) if before < low else span_s


@compiled
def entry(
    since_s: float, before: float, now: float, low: float, high: float, end: tuple[float, float]
) -> float:
    """Return when a reading entered low..high, inf outside; `end` is the time and the length of the span.

    It was `before` at the span's start and is `now` at its end.
    """
    t, span_s = end
    if now < low or now > high:
        return inf
    if since_s < inf:
        return since_s
    if before < low:
        return t - above_for_s(before, now, low, span_s)
    if before > high:
        return t - span_s * (high - now) / (before - now)
    return t


@compiled
def track(lane: int, S: Floats, P: Floats, out: Floats) -> None:
    """Follow the bands up to the first stay that counts; the upper bounds apply to warm-up only."""
    t = S[S_TIME, lane]
    brew = P[P_BREW_SET_C, lane]
    group = S[S_REACH_C, lane]
    steam = P[P_STEAM_SET_C, lane]
    end = (t, S[S_SPAN, lane])
    S[S_BREW_IN, lane] = entry(
        S[S_BREW_IN, lane],
        S[S_BREW_Y0, lane],
        S[S_BREW_Y, lane],
        brew - P[P_BREW_BELOW_K, lane],
        brew + P[P_BREW_ABOVE_K, lane],
        end,
    )
    S[S_GROUP_IN, lane] = entry(
        S[S_GROUP_IN, lane],
        S[S_GROUP_Y0, lane],
        S[S_GROUP_Y, lane],
        group - GROUP_BELOW_K,
        group + GROUP_ABOVE_K,
        end,
    )
    S[S_STEAM_IN, lane] = entry(
        S[S_STEAM_IN, lane], S[S_STEAM_Y0, lane], S[S_STEAM_Y, lane], steam - STEAM_BELOW_K, inf, end
    )
    out[O_BREW_IN_S] = min(out[O_BREW_IN_S], S[S_BREW_IN, lane])
    out[O_STEAM_IN_S] = min(out[O_STEAM_IN_S], S[S_STEAM_IN, lane])
    both = max(S[S_BREW_IN, lane], S[S_GROUP_IN, lane])
    if t - both >= STAY_S:
        out[O_BREW_READY_S] = min(out[O_BREW_READY_S], both + STAY_S)
    waits_for_steam = P[P_COUNTS_ALL, lane] > 0.0 and P[P_STEAM_KEPT, lane] > 0.0
    counts = max(both, S[S_STEAM_IN, lane]) if waits_for_steam else both
    if t - counts >= STAY_S:
        S[S_READY, lane] = counts + STAY_S
        out[O_READY_S] = counts + STAY_S


@compiled
def track_steam(lane: int, S: Floats, P: Floats, out: Floats) -> None:
    """Go on looking for steam's first time in its band, where the machine was ready before it."""
    if P[P_STEAM_KEPT, lane] > 0.0 and out[O_STEAM_IN_S] == inf:
        low = P[P_STEAM_SET_C, lane] - STEAM_BELOW_K
        out[O_STEAM_IN_S] = entry(
            inf, S[S_STEAM_Y0, lane], S[S_STEAM_Y, lane], low, inf, (S[S_TIME, lane], S[S_SPAN, lane])
        )


@compiled
def count_in_band(lane: int, S: Floats, P: Floats) -> None:
    """Count for how many seconds on end the circuits have been above their lower bands, crossings interpolated."""
    span = S[S_SPAN, lane]
    brew_low = P[P_BREW_SET_C, lane] - P[P_BREW_BELOW_K, lane]
    group_low = S[S_REACH_C, lane] - GROUP_BELOW_K
    steam_low = P[P_STEAM_SET_C, lane] - STEAM_BELOW_K
    brew_s = S[S_OK_BREW_S, lane] + span
    if S[S_OK_BREW_S, lane] == 0.0:
        brew_s = min(
            above_for_s(S[S_BREW_Y0, lane], S[S_BREW_Y, lane], brew_low, span),
            above_for_s(S[S_GROUP_Y0, lane], S[S_GROUP_Y, lane], group_low, span),
        )
    steam_s = S[S_OK_STEAM_S, lane] + span
    if S[S_OK_STEAM_S, lane] == 0.0:
        steam_s = above_for_s(S[S_STEAM_Y0, lane], S[S_STEAM_Y, lane], steam_low, span)
    brews = S[S_BREW_Y, lane] >= brew_low and S[S_GROUP_Y, lane] >= group_low
    S[S_OK_BREW_S, lane] = brew_s if brews else 0.0
    S[S_OK_STEAM_S, lane] = steam_s if S[S_STEAM_Y, lane] >= steam_low else 0.0
