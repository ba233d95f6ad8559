"""How many samples of the loops share one step: more than one while all readings go straight.

The loops sample once a second; where an event is planned between two samples, one comes early. While nothing is
drawn and each reading keeps its course, several samples look at that course, extrapolated to the second order, and
the network takes one step with the mean of their powers. What a reading may leave a straight line by within a step
is bounded, and no such step goes beyond where a layer of the brew vessel becomes lighter than the one above it.
"""

from __future__ import annotations

from math import ceil, inf

from boilerfront.model.kernel.arrays import Lanes, Net
from boilerfront.model.kernel.layout import (
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
    S_LAYERS,
    S_OVERTURN_S,
    S_PORTAFILTER_BACK,
    S_READY,
    S_SPAN,
    S_STEAM_BEND,
    S_STEAM_SLOPE,
    S_STEAM_Y,
    S_STEAM_Y0,
    S_TIME,
    VESSEL_LAYERS,
)
from boilerfront.model.props.compiled import compiled
from boilerfront.shared.shapes import Floats

TICKS_A_S = 1024.0
"""A sample of less than a second lasts whole ticks: sums of them are exact, so that no shot of 28 s becomes 29."""
CALM_AFTER_S = 20.0
"""A step takes one sample until a draw or a refill has been over for so long."""
STRAIGHT_K = 0.001
STRAIGHT_WARMING_K = 0.005
"""A reading may leave a straight line by so much within a step: more while the machine warms up, where elements are
fully on for most of the time. That moves readiness by less than 0.1 s, and no shot by 0.001 K."""
WARMING_PART = 0.25
"""Steps of a machine that warms up are at most this part of the longest: it bends too fast for more."""
BREW_COURSE = (S_BREW_Y, S_BREW_Y0, S_BREW_SLOPE, S_BREW_BEND)
GROUP_COURSE = (S_GROUP_Y, S_GROUP_Y0, S_GROUP_SLOPE, S_GROUP_BEND)
STEAM_COURSE = (S_STEAM_Y, S_STEAM_Y0, S_STEAM_SLOPE, S_STEAM_BEND)


@compiled
def note_courses(lane: int, S: Floats) -> None:
    """Take slope [K/s] and bend [K/s2] of each reading anew, at the end of a span."""
    a_second = 1.0 / S[S_SPAN, lane]
    for reading, before, slope, bend in (BREW_COURSE, GROUP_COURSE, STEAM_COURSE):
        mean = (S[reading, lane] - S[before, lane]) * a_second
        S[bend, lane] = (mean - S[slope, lane]) * a_second
        S[slope, lane] = mean


@compiled
def note_layers(lane: int, net: Net, lanes: Lanes) -> None:
    """Foresee when the next layer of a brew vessel is as warm as the one above: it overturns, and readings bend.

    Nothing else has so many layers: a block has more, whose order nothing overturns.
    """
    S = lanes.S
    first = net.ranges[0]
    if net.ranges[1] - first != VESSEL_LAYERS:
        S[S_OVERTURN_S, lane] = inf
        return
    soonest = inf
    for k in range(VESSEL_LAYERS - 1):
        excess = lanes.T[first + k, lane] - lanes.T[first + k + 1, lane]
        rise_K_s = (excess - S[S_LAYERS + k, lane]) / S[S_SPAN, lane]
        if excess < 0.0 and rise_K_s > 0.0:
            soonest = min(soonest, -excess / rise_K_s)
        S[S_LAYERS + k, lane] = excess
    S[S_OVERTURN_S, lane] = soonest


@compiled
def part_of_a_second(seconds: float) -> float:
    """Return a time, or a second where it is longer, in whole ticks: rounded up, at least one."""
    return max(ceil(TICKS_A_S * min(seconds, 1.0)), 1.0) / TICKS_A_S


@compiled
def idle_span_s(lane: int, S: Floats, P: Floats, planned_s: float, shared: bool) -> float:
    """Return the coming span while nothing is drawn [s]; samples may share it where `shared`.

    It ends where the next event is planned, or the portafilter comes back: with a short sample if need be, so that
    no event begins at the next whole second instead.
    """
    t = S[S_TIME, lane]
    back = S[S_PORTAFILTER_BACK, lane]
    left = min(planned_s - t if planned_s > t else inf, back - t if back > t else inf)
    if left < 1.0:
        return part_of_a_second(left)
    return _shared_span_s(lane, S, P, min(left, S[S_OVERTURN_S, lane])) if shared else 1.0


@compiled
def _shared_span_s(lane: int, S: Floats, P: Floats, left_s: float) -> float:
    """Return the span of samples that share a step [s]: at most twice the last one, and none beyond `left_s`."""
    t = S[S_TIME, lane]
    calm = S[S_BREWING, lane] > 0.0 and t - S[S_BUSY_S, lane] >= CALM_AFTER_S
    most, straight = P[P_CALM_S, lane], STRAIGHT_K
    if S[S_READY, lane] < 0.0:
        most, straight = WARMING_PART * most, STRAIGHT_WARMING_K
    bend = max(abs(S[S_BREW_BEND, lane]), abs(S[S_GROUP_BEND, lane]), abs(S[S_STEAM_BEND, lane]))
    longest = min(most, 2.0 * S[S_SPAN, lane]) if calm else 1.0
    span = 1.0
    while 2.0 * span <= longest and 2.0 * span <= left_s and 2.0 * bend * span * span <= straight:
        span *= 2.0
    return span


@compiled
def reading_C(now_C: float, slope_K_s: float, bend_K_s2: float, since_s: float, before_s: float) -> float:
    """Return what a reading will be `since_s` into the span, from the course it took in `before_s` until now."""
    return now_C + since_s * (slope_K_s + 0.5 * bend_K_s2 * (before_s + since_s))
