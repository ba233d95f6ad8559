"""A machine that swings between brewing and steaming: what it is at, second by second.

Up: heated to the steam set-point; a vessel then vents water through the wand until it has a steam space. Down:
a vessel is refilled; both a vessel and a block are flushed through the group until they are near the brew
set-point, and wait there until they are in its band.
"""

from __future__ import annotations

from boilerfront.model.kernel.arrays import Lanes, Net
from boilerfront.model.kernel.bands import RETURN_ABOVE_K, STEAM_BELOW_K
from boilerfront.model.kernel.layout import (
    BREWING,
    COOLING,
    HEATING_UP,
    LANES,
    MODE_FLUSH,
    MODE_IDLE,
    O_LEVEL_LOW,
    O_SWING_DOWN_S,
    O_SWING_UP_S,
    P_BREW_GAIN,
    P_BREW_LAG_S,
    P_BREW_SET_C,
    P_FLUSH_M3,
    P_STEAM_SET_C,
    P_SWING_LEVEL,
    P_SWING_M3,
    REFILLING,
    RETURNING,
    S_BREW_HELD_W,
    S_BREW_I,
    S_BREW_SET,
    S_BREW_Y,
    S_BREW_Y0,
    S_BREWING,
    S_FLUSH_LEFT,
    S_LEVEL,
    S_MODE,
    S_MODE_T0,
    S_OK_BREW_S,
    S_PHASE,
    S_PHASE_T0,
    S_SPAN,
    S_STEAM_KG,
    S_SWING_C,
    S_SWING_J_K,
    S_SWING_UM,
    S_TIME,
    S_TWO_PHASE,
    S_VENTED_AT_C,
    S_WATER_OUT_J,
    STEAMING,
    VENTING,
)
from boilerfront.model.kernel.steam import weigh
from boilerfront.model.props.compiled import compiled
from boilerfront.model.props.water import density, enthalpy
from boilerfront.shared.shapes import Floats

NEEDED_S = 3.0
CLOSE_K = 0.1
VENTED_WITHIN = 1e-3
"""A vessel counts as vented when its level is this close, part of its volume."""
SLICES = 8
FULL_WITHIN_KG = 1e-4
"""A vessel counts as full when less than this is missing."""


@compiled
def swing_up(lane: int, S: Floats, P: Floats) -> None:
    """Begin to heat up for steam, unless that has begun already."""
    if S[S_PHASE, lane] != BREWING:
        return
    S[S_PHASE, lane] = HEATING_UP
    S[S_PHASE_T0, lane] = S[S_TIME, lane]
    S[S_BREWING, lane] = 0.0
    S[S_BREW_SET, lane] = P[P_STEAM_SET_C, lane]
    S[S_BREW_HELD_W, lane] = S[S_BREW_I, lane]
    # The element is on until the band is reached; the loop then goes on from holding power.
    S[S_BREW_I, lane] += P[P_BREW_GAIN, lane] * (P[P_STEAM_SET_C, lane] - P[P_BREW_SET_C, lane])


@compiled
def swing_down(lane: int, S: Floats, P: Floats) -> None:
    """Begin to return to brewing: the loop goes on with the integral that it held before."""
    S[S_PHASE, lane] = REFILLING if P[P_SWING_M3, lane] > 0.0 else COOLING
    S[S_PHASE_T0, lane] = S[S_TIME, lane]
    S[S_BREW_SET, lane] = P[P_BREW_SET_C, lane]
    S[S_BREW_I, lane] = S[S_BREW_HELD_W, lane]
    S[S_FLUSH_LEFT, lane] = P[P_FLUSH_M3, lane]


@compiled
def follow_swing(lane: int, S: Floats, P: Floats, out: Floats) -> None:
    """Go on to the next phase where the present one has done its work."""
    phase = S[S_PHASE, lane]
    reading = S[S_BREW_Y, lane]
    hot = reading >= P[P_STEAM_SET_C, lane] - STEAM_BELOW_K
    if phase == HEATING_UP and hot:
        if P[P_SWING_M3, lane] > 0.0:
            S[S_PHASE, lane] = VENTING
            S[S_TWO_PHASE, lane] = 1.0
            S[S_STEAM_KG, lane] = P[P_SWING_M3, lane] * density(S[S_SWING_C, lane])
            S[S_VENTED_AT_C, lane] = S[S_SWING_C, lane]
            _weigh(lane, S, P)
        else:
            S[S_PHASE, lane] = STEAMING
    elif phase == VENTING and S[S_LEVEL, lane] <= P[P_SWING_LEVEL, lane] + VENTED_WITHIN and hot:
        S[S_PHASE, lane] = STEAMING
    elif phase == REFILLING and missing_kg(lane, S, P) < FULL_WITHIN_KG:
        S[S_TWO_PHASE, lane] = 0.0
        S[S_PHASE, lane] = COOLING
        refilled_at = S[S_SWING_C, lane]
        S[S_WATER_OUT_J, lane] += expelled_J(P[P_SWING_M3, lane], refilled_at, S[S_VENTED_AT_C, lane])
    if S[S_PHASE, lane] == STEAMING and phase != STEAMING:
        out[O_SWING_UP_S] = max(out[O_SWING_UP_S], S[S_TIME, lane] - S[S_PHASE_T0, lane])
    _cool(lane, S, P, out)


@compiled
def _cool(lane: int, S: Floats, P: Floats, out: Floats) -> None:
    """Flush until the reading is near the set-point or the water is used up, then wait for the band.

    Where the reading stops falling too soon, as when a refill that had cooled the vessel ends, it is flushed again.
    """
    near = return_excess_K(lane, S, P) <= CLOSE_K
    if S[S_PHASE, lane] == RETURNING and not near and S[S_FLUSH_LEFT, lane] > 0.0:
        S[S_PHASE, lane] = COOLING
    if S[S_PHASE, lane] == COOLING:
        if near or S[S_FLUSH_LEFT, lane] <= 0.0:
            S[S_MODE, lane] = MODE_IDLE
            S[S_PHASE, lane] = RETURNING
            S[S_OK_BREW_S, lane] = 0.0
        elif S[S_MODE, lane] == MODE_IDLE:
            S[S_MODE, lane] = MODE_FLUSH
            S[S_MODE_T0, lane] = S[S_TIME, lane]
    elif S[S_PHASE, lane] == RETURNING and near and S[S_OK_BREW_S, lane] >= NEEDED_S:
        S[S_PHASE, lane] = BREWING
        S[S_BREWING, lane] = 1.0
        out[O_SWING_DOWN_S] = max(out[O_SWING_DOWN_S], S[S_TIME, lane] - S[S_PHASE_T0, lane])


@compiled
def expelled_J(volume_m3: float, from_C: float, to_C: float) -> float:
    """Return the enthalpy of the water that a full vessel loses by expansion between two temperatures [J].

    A full vessel is balanced with what expands leaving unseen; one that was vented and refilled colder took that
    water in again, and it has to be counted as gone.
    """
    total = 0.0
    step = (to_C - from_C) / SLICES
    for k in range(SLICES):
        t = from_C + k * step
        total += volume_m3 * (density(t) - density(t + step)) * enthalpy(t + 0.5 * step)
    return total


@compiled
def return_excess_K(lane: int, S: Floats, P: Floats) -> float:
    """Return how far what the sensor will read, once it has caught up, is above where a shot may start [K].

    A flush that waited for the reading itself would go too far.
    """
    slope_K_s = (S[S_BREW_Y, lane] - S[S_BREW_Y0, lane]) / S[S_SPAN, lane]
    coming: float = S[S_BREW_Y, lane] + P[P_BREW_LAG_S, lane] * slope_K_s
    excess: float = coming - P[P_BREW_SET_C, lane] - RETURN_ABOVE_K
    return excess


@compiled
def missing_kg(lane: int, S: Floats, P: Floats) -> float:
    """Return how much water the vessel lacks to be full [kg]."""
    full: float = P[P_SWING_M3, lane] * density(S[S_SWING_C, lane])
    missing: float = full - S[S_STEAM_KG, lane]
    return missing


@compiled
def look_at_vessel(lane: int, net: Net, lanes: Lanes, out: Floats) -> None:
    """Take the vessel's mean temperature, and its level and heat capacity while it has a steam space."""
    S = lanes.S
    first, last = net.ranges[0], net.ranges[1]
    mean = 0.0
    for layer in range(first, last):
        mean += lanes.T[layer, lane] / (last - first)
    S[S_SWING_C, lane] = mean
    if S[S_TWO_PHASE, lane] > 0.0:
        _weigh(lane, S, lanes.P)
        level = S[S_LEVEL, lane]
        out[O_LEVEL_LOW] = min(out[O_LEVEL_LOW], level) if out[O_LEVEL_LOW] > 0.0 else level


@compiled
def _weigh(lane: int, S: Floats, P: Floats) -> None:
    """Take level, heat capacity and energy of added water from the vessel's temperature and mass."""
    level, added_J_kg, heat_J_K = weigh(S[S_SWING_C, lane], S[S_STEAM_KG, lane], P[P_SWING_M3, lane])
    S[S_LEVEL, lane] = level
    S[S_SWING_UM, lane] = added_J_kg
    S[S_SWING_J_K, lane] = heat_J_K


@compiled
def swing_capacities(net: Net, lanes: Lanes) -> None:
    """Give the layers of a vessel with a steam space their equal parts of its heat capacity."""
    first, last = net.ranges[0], net.ranges[1]
    for lane in range(LANES):
        if lanes.S[S_TWO_PHASE, lane] > 0.0:
            for layer in range(first, last):
                lanes.C[layer, lane] = lanes.S[S_SWING_J_K, lane] / (last - first)
