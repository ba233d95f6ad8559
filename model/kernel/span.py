"""How many samples of the loops share one step: more than one while all readings go straight.

The loops sample once a second at all times. While nothing is drawn and each reading keeps its course, several
samples look at that course, extrapolated to the second order, and the network takes one step with the mean of
their powers. What a reading may leave a straight line by within a step is bounded.
"""

from __future__ import annotations

from boilerfront.model.kernel.layout import (
    MODE_IDLE,
    P_CALM_S,
    S_BREW_BEND,
    S_BREW_SLOPE,
    S_BREW_Y,
    S_BREW_Y0,
    S_BREWING,
    S_BUSY_S,
    S_GROUP_BEND,
    S_GROUP_SLOPE,
    S_GROUP_Y,
    S_GROUP_Y0,
    S_MODE,
    S_PORTAFILTER_BACK,
    S_SPAN,
    S_STEAM_BEND,
    S_STEAM_SLOPE,
    S_STEAM_Y,
    S_STEAM_Y0,
    S_TIME,
)
from boilerfront.model.props.compiled import compiled
from boilerfront.shared.shapes import Floats

CALM_AFTER_S = 20.0
"""A step takes one sample until a draw or a refill has been over for so long."""
STRAIGHT_K = 0.001
"""A reading may leave a straight line by so much within a step."""
BREW_COURSE = (S_BREW_Y, S_BREW_Y0, S_BREW_SLOPE, S_BREW_BEND)
GROUP_COURSE = (S_GROUP_Y, S_GROUP_Y0, S_GROUP_SLOPE, S_GROUP_BEND)
STEAM_COURSE = (S_STEAM_Y, S_STEAM_Y0, S_STEAM_SLOPE, S_STEAM_BEND)


@compiled
def note_courses(lane: int, S: Floats) -> None:
    """Take slope [K/s] and bend [K/s2] of each reading anew, at the end of a span."""
    span = S[S_SPAN, lane]
    for reading, before, slope, bend in (BREW_COURSE, GROUP_COURSE, STEAM_COURSE):
        mean = (S[reading, lane] - S[before, lane]) / span
        S[bend, lane] = (mean - S[slope, lane]) / span
        S[slope, lane] = mean


@compiled
def span_s(lane: int, S: Floats, P: Floats, left_s: float) -> float:
    """Return the coming span [s]: at most twice the last one, and none beyond what happens in `left_s`."""
    t = S[S_TIME, lane]
    back = S[S_PORTAFILTER_BACK, lane]
    left = min(left_s, back - t) if back > t else left_s
    calm = S[S_MODE, lane] == MODE_IDLE and S[S_BREWING, lane] > 0.0 and t - S[S_BUSY_S, lane] >= CALM_AFTER_S
    bend = max(abs(S[S_BREW_BEND, lane]), abs(S[S_GROUP_BEND, lane]), abs(S[S_STEAM_BEND, lane]))
    longest = min(P[P_CALM_S, lane], 2.0 * S[S_SPAN, lane]) if calm else 1.0
    span = 1.0
    while 2.0 * span <= longest and 2.0 * span < left + 1.0 and 2.0 * bend * span * span <= STRAIGHT_K:
        span *= 2.0
    return span


@compiled
def reading_C(now_C: float, slope_K_s: float, bend_K_s2: float, since_s: float, before_s: float) -> float:
    """Return what a reading will be `since_s` into the span, from the course it took in `before_s` until now."""
    return now_C + since_s * (slope_K_s + 0.5 * bend_K_s2 * (before_s + since_s))
