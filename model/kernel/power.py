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

PER_MINUTE = 1.0 / 60.0
BREW_LOOP = (S_BREW_I, S_BREW_Y, P_BREW_GAIN, P_BREW_RESETS_A_S)
GROUP_LOOP = (S_GROUP_I, S_GROUP_Y, P_GROUP_GAIN, P_GROUP_RESETS_A_S)
STEAM_LOOP = (S_STEAM_I, S_STEAM_Y, P_STEAM_GAIN, P_STEAM_RESETS_A_S)


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
    lane: int, S: Floats, P: Floats, queue: Floats, refill_C: Floats, sample_s: float, out: Floats
) -> None:
    """Ask, share, grant for a sample [s]; account for energy, peak current, starving elements and flicker."""
    brew_W = P[P_BREW_W, lane]
    group_W = P[P_GROUP_W, lane]
    steam_W = P[P_STEAM_W, lane]
    extra = feed_forward(lane, S, P, refill_C)
    asked_brew = asked_power(S[S_BREW_I, lane], P[P_BREW_GAIN, lane], S[S_BREW_Y, lane], extra, brew_W)
    if S[S_PHASE, lane] == HEATING_UP:  # a swing is made at full power
        asked_brew = brew_W
    asked_group = asked_power(S[S_GROUP_I, lane], P[P_GROUP_GAIN, lane], S[S_GROUP_Y, lane], 0.0, group_W)
    asked_steam = asked_power(S[S_STEAM_I, lane], P[P_STEAM_GAIN, lane], S[S_STEAM_Y, lane], 0.0, steam_W)

    rest_W = P[P_ELECTRONICS_W, lane]
    rest_A = P[P_ELECTRONICS_A, lane]
    if S[S_FLOW0, lane] + S[S_FLOW1, lane] + S[S_REFILL, lane] > 0.0:
        rest_W += P[P_PUMP_W, lane]
        rest_A += P[P_PUMP_A, lane]
    brew, group, steam, peak = share_mains(
        P[P_LIMIT_A, lane] - rest_A,
        P[P_BREW_A, lane],
        P[P_GROUP_A, lane],
        P[P_STEAM_A, lane],
        asked_brew * P[P_PER_BREW_W, lane],
        asked_group * P[P_PER_GROUP_W, lane],
        asked_steam * P[P_PER_STEAM_W, lane],
    )
    # The brew loop's integral is held while water flows and far off in a swing.
    if S[S_FLOW0, lane] + S[S_FLOW1, lane] == 0.0 and not _is_far_off(S[S_PHASE, lane]):
        _move_integral(lane, S, P, BREW_LOOP, S[S_BREW_SET, lane], extra - brew * brew_W, sample_s)
    _move_integral(lane, S, P, GROUP_LOOP, P[P_GROUP_SET_C, lane], -group * group_W, sample_s)
    _move_integral(lane, S, P, STEAM_LOOP, P[P_STEAM_SET_C, lane], -steam * steam_W, sample_s)

    factor = P[P_POWER_FACTOR, lane]
    S[S_BREW_P, lane] = brew * brew_W * factor
    S[S_GROUP_P, lane] = group * group_W * factor
    S[S_STEAM_P, lane] = steam * steam_W * factor
    heat = S[S_BREW_P, lane] + S[S_GROUP_P, lane] + S[S_STEAM_P, lane]
    out[O_HEATED_J] += heat * sample_s
    out[O_ENERGY_J] += (heat + rest_W) * sample_s
    holding(lane, S, queue, heat + rest_W, sample_s)
    out[O_PEAK_A] = max(out[O_PEAK_A], peak + rest_A)
    _starve(lane, S_STARVED_BREW, asked_brew, brew, sample_s, S, out)
    _starve(lane, S_STARVED_GROUP, asked_group, group, sample_s, S, out)
    _starve(lane, S_STARVED_STEAM, asked_steam, steam, sample_s, S, out)
    minute = S_FLICKER + int(S[S_TIME, lane] * PER_MINUTE) % FLICKER_MINUTES
    if minute != S[S_MINUTE, lane]:
        note_flicker(lane, S, out)
        S[S_MINUTE, lane] = minute
        S[minute, lane] = 0.0
    for part, rate in ((brew, P_BREW_FLICKER), (group, P_GROUP_FLICKER), (steam, P_STEAM_FLICKER)):
        if 0.0 < part < 1.0:
            S[minute, lane] += P[rate, lane] * sample_s


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
    """Plan the powers of the coming span; one of several samples takes the mean of their powers.

    Within a span the readings go on as they last moved. A span of less than a second is one short sample.
    """
    before: float = S[S_SPAN_BEFORE, lane]
    span: float = S[S_SPAN, lane]
    S[S_SPAN_BEFORE, lane] = span
    brew_y, group_y, steam_y = S[S_BREW_Y, lane], S[S_GROUP_Y, lane], S[S_STEAM_Y, lane]
    if span <= 1.0:
        plan_powers(lane, S, P, queue, refill_C, span, out)
    else:
        brew_W = 0.0
        group_W = 0.0
        steam_W = 0.0
        for sample in range(int(span)):
            S[S_BREW_Y, lane] = reading_C(brew_y, S[S_BREW_SLOPE, lane], S[S_BREW_BEND, lane], sample, before)
            S[S_GROUP_Y, lane] = reading_C(
                group_y, S[S_GROUP_SLOPE, lane], S[S_GROUP_BEND, lane], sample, before
            )
            S[S_STEAM_Y, lane] = reading_C(
                steam_y, S[S_STEAM_SLOPE, lane], S[S_STEAM_BEND, lane], sample, before
            )
            plan_powers(lane, S, P, queue, refill_C, 1.0, out)
            brew_W += S[S_BREW_P, lane]
            group_W += S[S_GROUP_P, lane]
            steam_W += S[S_STEAM_P, lane]
        S[S_BREW_P, lane] = brew_W / span
        S[S_GROUP_P, lane] = group_W / span
        S[S_STEAM_P, lane] = steam_W / span
    S[S_BREW_Y0, lane], S[S_GROUP_Y0, lane], S[S_STEAM_Y0, lane] = brew_y, group_y, steam_y
    S[S_BREW_Y, lane], S[S_GROUP_Y, lane], S[S_STEAM_Y, lane] = brew_y, group_y, steam_y


@compiled
def _move_integral(
    lane: int,
    S: Floats,
    P: Floats,
    loop: tuple[int, int, int, int],
    set_C: float,
    ungranted_W: float,
    sample_s: float,
) -> None:
    """Integrate a loop's error and track what was granted; `loop` names its places: I, Y, gain, resets a second.

    `ungranted_W` is what is fed forward less what was granted.
    """
    integral, reading, gain, resets = loop
    excess = S[integral, lane] - P[gain, lane] * S[reading, lane] + ungranted_W
    parts = P[resets, lane] * sample_s
    S[integral, lane] = next_integral(
        S[integral, lane],
        P[gain, lane],
        parts,
        P[P_TRACKING, lane] * parts,
        set_C - S[reading, lane],
        excess,
    )


@compiled
def _starve(
    lane: int, place: int, asked_W: float, got: float, sample_s: float, S: Floats, out: Floats
) -> None:
    S[place, lane] = S[place, lane] + sample_s if asked_W > 0.0 and got <= 0.0 else 0.0
    out[O_STARVED_S] = max(out[O_STARVED_S], S[place, lane])
