"""The powers of the coming second: three loops, feed-forward, the sharing of the mains, what it costs."""

from __future__ import annotations

from math import sqrt

from boilerfront.model.kernel.control import asked_power, next_integral, share_mains
from boilerfront.model.kernel.duty import holding
from boilerfront.model.kernel.films import LAST_X, X_PER_ROOT_FLOW
from boilerfront.model.kernel.layout import (
    COOLING,
    FLICKER_MINUTES,
    HEATING_UP,
    MODE_SHOT,
    O_ENERGY_J,
    O_HEATED_J,
    O_PEAK_A,
    O_PST_TIME_S,
    O_STARVED_S,
    P_BREW_A,
    P_BREW_FLICKER,
    P_BREW_GAIN,
    P_BREW_RESETS_A_S,
    P_BREW_SET_C,
    P_BREW_W,
    P_ELECTRONICS_A,
    P_ELECTRONICS_W,
    P_FEED_FORWARD,
    P_GROUP_A,
    P_GROUP_FLICKER,
    P_GROUP_GAIN,
    P_GROUP_RESETS_A_S,
    P_GROUP_SET_C,
    P_GROUP_W,
    P_LIMIT_A,
    P_PER_BREW_W,
    P_PER_GROUP_W,
    P_PER_STEAM_W,
    P_POWER_FACTOR,
    P_PUMP_A,
    P_PUMP_W,
    P_STEAM_A,
    P_STEAM_FLICKER,
    P_STEAM_GAIN,
    P_STEAM_RESETS_A_S,
    P_STEAM_SET_C,
    P_STEAM_W,
    P_TRACKING,
    REFILLING,
    S_BREW_BEND,
    S_BREW_I,
    S_BREW_P,
    S_BREW_SET,
    S_BREW_SLOPE,
    S_BREW_Y,
    S_BREW_Y0,
    S_FLICKER,
    S_FLOW0,
    S_FLOW1,
    S_GROUP_BEND,
    S_GROUP_I,
    S_GROUP_P,
    S_GROUP_SLOPE,
    S_GROUP_Y,
    S_GROUP_Y0,
    S_MINUTE,
    S_MINUTE_END_S,
    S_MODE,
    S_PHASE,
    S_REFILL,
    S_SPAN,
    S_SPAN_BEFORE,
    S_STARVED_BREW,
    S_STARVED_GROUP,
    S_STARVED_STEAM,
    S_STEAM_BEND,
    S_STEAM_I,
    S_STEAM_P,
    S_STEAM_SLOPE,
    S_STEAM_Y,
    S_STEAM_Y0,
    S_TIME,
)
from boilerfront.model.kernel.span import reading_C
from boilerfront.model.props.compiled import compiled
from boilerfront.model.props.water import enthalpy
from boilerfront.shared.shapes import Floats

BREW_LOOP = (P_BREW_GAIN, P_BREW_RESETS_A_S)
GROUP_LOOP = (P_GROUP_GAIN, P_GROUP_RESETS_A_S)
STEAM_LOOP = (P_STEAM_GAIN, P_STEAM_RESETS_A_S)
Three = tuple[float, float, float]
"""A number of each circuit: brew, group, steam."""


@compiled
def feed_forward(lane: int, S: Floats, P: Floats, refill_C: Floats) -> float:
    """Return the power that the expected refill needs at the present flow [W].

    The controller gives a part of the rated power: P_FEED_FORWARD is what the element makes of a rated watt.
    """
    flow = 0.5 * (S[S_FLOW0, lane] + S[S_FLOW1, lane])
    if S[S_MODE, lane] != MODE_SHOT or P[P_FEED_FORWARD, lane] == 0.0:
        return 0.0
    place = min(sqrt(flow) * X_PER_ROOT_FLOW, LAST_X)
    low = int(place)
    share = place - low
    expected = refill_C[low] * (1.0 - share) + refill_C[low + 1] * share
    needed = flow * (enthalpy(P[P_BREW_SET_C, lane]) - enthalpy(expected))
    power: float = min(max(P[P_FEED_FORWARD, lane] * needed, 0.0), P[P_BREW_W, lane])
    return power


@compiled
def plan_powers(
    lane: int,
    S: Floats,
    P: Floats,
    queue: Floats,
    refill_C: Floats,
    samples: int,
    sample_s: float,
    out: Floats,
) -> None:
    """Ask, share and grant for so many samples [s], on the readings as they last moved; set the mean powers.

    What is the same in all samples is worked out once; none of them writes into an array.
    """
    flowing = S[S_FLOW0, lane] + S[S_FLOW1, lane] > 0.0
    rest_W = P[P_ELECTRONICS_W, lane]
    rest_A = P[P_ELECTRONICS_A, lane]
    if flowing or S[S_REFILL, lane] > 0.0:
        rest_W += P[P_PUMP_W, lane]
        rest_A += P[P_PUMP_A, lane]
    extra_W = feed_forward(lane, S, P, refill_C)
    # The brew loop's integral is held while water flows and far off in a swing.
    held = flowing or _is_far_off(S[S_PHASE, lane])
    integrals = S[S_BREW_I, lane], S[S_GROUP_I, lane], S[S_STEAM_I, lane]
    starved = S[S_STARVED_BREW, lane], S[S_STARVED_GROUP, lane], S[S_STARVED_STEAM, lane]
    on_s = 0.0, 0.0, 0.0
    most_A = 0.0
    most_starved = 0.0
    flicker = 0.0
    for sample in range(samples):
        readings = _readings_C(lane, S, sample * sample_s)
        asked = _ask(lane, S, P, integrals, readings, extra_W)
        granted_brew, granted_group, granted_steam, peak_A = share_mains(
            P[P_LIMIT_A, lane] - rest_A,
            P[P_BREW_A, lane],
            P[P_GROUP_A, lane],
            P[P_STEAM_A, lane],
            asked[0],
            asked[1],
            asked[2],
        )
        granted = granted_brew, granted_group, granted_steam
        brew_I = integrals[0]
        integrals = _move_integrals(lane, S, P, integrals, readings, granted, extra_W, sample_s)
        if held:
            integrals = brew_I, integrals[1], integrals[2]
        on_s = (
            on_s[0] + granted[0] * sample_s,
            on_s[1] + granted[1] * sample_s,
            on_s[2] + granted[2] * sample_s,
        )
        starved = (
            _starved_s(starved[0], asked[0], granted[0], sample_s),
            _starved_s(starved[1], asked[1], granted[1], sample_s),
            _starved_s(starved[2], asked[2], granted[2], sample_s),
        )
        most_starved = max(most_starved, starved[0], starved[1], starved[2])
        most_A = max(most_A, peak_A)
        flicker += sample_s * _flicker_rate(lane, P, granted)
    S[S_BREW_I, lane], S[S_GROUP_I, lane], S[S_STEAM_I, lane] = integrals
    S[S_STARVED_BREW, lane], S[S_STARVED_GROUP, lane], S[S_STARVED_STEAM, lane] = starved
    out[O_STARVED_S] = max(out[O_STARVED_S], most_starved)
    out[O_PEAK_A] = max(out[O_PEAK_A], most_A + rest_A)
    _note_flicker_of(lane, S, flicker, out)
    _take_powers(lane, S, P, queue, on_s, rest_W, samples * sample_s, out)


@compiled
def _readings_C(lane: int, S: Floats, since_s: float) -> Three:
    """Return what the three sensors will read so far into the span."""
    before = S[S_SPAN_BEFORE, lane]
    return (
        reading_C(S[S_BREW_Y, lane], S[S_BREW_SLOPE, lane], S[S_BREW_BEND, lane], since_s, before),
        reading_C(S[S_GROUP_Y, lane], S[S_GROUP_SLOPE, lane], S[S_GROUP_BEND, lane], since_s, before),
        reading_C(S[S_STEAM_Y, lane], S[S_STEAM_SLOPE, lane], S[S_STEAM_BEND, lane], since_s, before),
    )


@compiled
def _ask(lane: int, S: Floats, P: Floats, integrals: Three, readings: Three, extra_W: float) -> Three:
    """Return the parts of the window that the three loops ask for."""
    brew_W = P[P_BREW_W, lane]
    asked = asked_power(integrals[0], P[P_BREW_GAIN, lane], readings[0], extra_W, brew_W)
    if S[S_PHASE, lane] == HEATING_UP:  # a swing is made at full power
        asked = brew_W
    return (
        asked * P[P_PER_BREW_W, lane],
        asked_power(integrals[1], P[P_GROUP_GAIN, lane], readings[1], 0.0, P[P_GROUP_W, lane])
        * P[P_PER_GROUP_W, lane],
        asked_power(integrals[2], P[P_STEAM_GAIN, lane], readings[2], 0.0, P[P_STEAM_W, lane])
        * P[P_PER_STEAM_W, lane],
    )


@compiled
def _move_integrals(
    lane: int,
    S: Floats,
    P: Floats,
    integrals: Three,
    readings: Three,
    granted: Three,
    extra_W: float,
    sample_s: float,
) -> Three:
    """Integrate each loop's error and track what was granted, beyond which it does not wind up."""
    brew_W = extra_W - granted[0] * P[P_BREW_W, lane]
    group_W = -granted[1] * P[P_GROUP_W, lane]
    steam_W = -granted[2] * P[P_STEAM_W, lane]
    return (
        _moved(lane, P, BREW_LOOP, integrals[0], readings[0], S[S_BREW_SET, lane], brew_W, sample_s),
        _moved(lane, P, GROUP_LOOP, integrals[1], readings[1], P[P_GROUP_SET_C, lane], group_W, sample_s),
        _moved(lane, P, STEAM_LOOP, integrals[2], readings[2], P[P_STEAM_SET_C, lane], steam_W, sample_s),
    )


@compiled
def _moved(
    lane: int,
    P: Floats,
    loop: tuple[int, int],
    integral: float,
    reading_C: float,
    set_C: float,
    ungranted_W: float,
    sample_s: float,
) -> float:
    """Return a loop's integral after a sample; `ungranted_W` is what is fed forward less what was granted."""
    gain, resets = loop
    parts = P[resets, lane] * sample_s
    excess = integral - P[gain, lane] * reading_C + ungranted_W
    moved: float = next_integral(
        integral, P[gain, lane], parts, P[P_TRACKING, lane] * parts, set_C - reading_C, excess
    )
    return moved


@compiled
def _starved_s(starved_s: float, asked: float, granted: float, sample_s: float) -> float:
    """Return for how long an element has asked and got nothing."""
    return starved_s + sample_s if asked > 0.0 and granted <= 0.0 else 0.0


@compiled
def _flicker_rate(lane: int, P: Floats, granted: Three) -> float:
    """Return the flicker time that a second adds: of the elements that are neither off nor fully on."""
    rate = P[P_BREW_FLICKER, lane] if 0.0 < granted[0] < 1.0 else 0.0
    rate += P[P_GROUP_FLICKER, lane] if 0.0 < granted[1] < 1.0 else 0.0
    rate += P[P_STEAM_FLICKER, lane] if 0.0 < granted[2] < 1.0 else 0.0
    return rate


@compiled
def _take_powers(
    lane: int, S: Floats, P: Floats, queue: Floats, on_s: Three, rest_W: float, span_s: float, out: Floats
) -> None:
    """Set the mean powers of a span in which the elements were on for so long, and account for their energy."""
    factor = P[P_POWER_FACTOR, lane] / span_s
    S[S_BREW_P, lane] = on_s[0] * P[P_BREW_W, lane] * factor
    S[S_GROUP_P, lane] = on_s[1] * P[P_GROUP_W, lane] * factor
    S[S_STEAM_P, lane] = on_s[2] * P[P_STEAM_W, lane] * factor
    heat_W = S[S_BREW_P, lane] + S[S_GROUP_P, lane] + S[S_STEAM_P, lane]
    out[O_HEATED_J] += heat_W * span_s
    out[O_ENERGY_J] += (heat_W + rest_W) * span_s
    holding(lane, S, queue, heat_W + rest_W, span_s)


@compiled
def _note_flicker_of(lane: int, S: Floats, flicker_s: float, out: Floats) -> None:
    """Add a span's flicker time to that of its minute."""
    if S[S_TIME, lane] >= S[S_MINUTE_END_S, lane]:
        note_flicker(lane, S, out)
        minutes = int(S[S_TIME, lane] / 60.0)
        S[S_MINUTE_END_S, lane] = 60.0 * (minutes + 1)
        S[S_MINUTE, lane] = S_FLICKER + minutes % FLICKER_MINUTES
        S[int(S[S_MINUTE, lane]), lane] = 0.0
    S[int(S[S_MINUTE, lane]), lane] += flicker_s


@compiled
def _is_far_off(phase: float) -> bool:
    """Say whether the brew element is simply on or off in a swing: so far from its set-point an integral winds up."""
    far_off: bool = phase in (HEATING_UP, REFILLING, COOLING)
    return far_off


@compiled
def note_flicker(lane: int, S: Floats, out: Floats) -> None:
    """Note the flicker time of the last ten minutes: it only grows until the oldest of them is dropped."""
    total = 0.0
    for minute in range(FLICKER_MINUTES):
        total += S[S_FLICKER + minute, lane]
    out[O_PST_TIME_S] = max(out[O_PST_TIME_S], total)


@compiled
def plan_span(lane: int, S: Floats, P: Floats, queue: Floats, refill_C: Floats, out: Floats) -> None:
    """Plan the powers of the coming span: of one sample, short where it is less than a second, or of several."""
    span: float = S[S_SPAN, lane]
    samples = max(int(span), 1)
    plan_powers(lane, S, P, queue, refill_C, samples, span / samples, out)
    S[S_SPAN_BEFORE, lane] = span
    S[S_BREW_Y0, lane] = S[S_BREW_Y, lane]
    S[S_GROUP_Y0, lane] = S[S_GROUP_Y, lane]
    S[S_STEAM_Y0, lane] = S[S_STEAM_Y, lane]
