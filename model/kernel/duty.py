"""What happens at the start of each second of a run: events begin, wait and end.

A duty is a queue: an event starts at its planned time or when the circuit that it needs has been above its
lower band for three seconds, whichever is later; if it is late, all later planned times shift by as much.
Events start at the controller's samples, so that a shot's course does not depend on the sample's phase; the sample
before a planned one is cut short, so that none starts at the next whole second instead.
"""

from __future__ import annotations

from boilerfront.model.kernel.bands import count_in_band, track, track_steam
from boilerfront.model.kernel.codes import DONE, NOT_READY, RUNNING, STEAM, WAIT
from boilerfront.model.kernel.flush import begin_flush, is_flushed, outlet_excess_K, plan_flush
from boilerfront.model.kernel.layout import (
    BREWING,
    E_AFTER_S,
    E_AT_S,
    E_KIND,
    E_STOP_S,
    H_DIP,
    H_MEAN,
    H_SECONDS,
    H_SQUARE,
    KIND_SHOT,
    MODE_FLUSH,
    MODE_IDLE,
    MODE_SHOT,
    MODE_STEAM,
    NEVER,
    O_CODE,
    O_HOLD_W,
    O_RECOVERY_S,
    O_SHORTFALL,
    O_SLUG_M3,
    O_WAIT_S,
    P_BREW_SET_C,
    P_FLUSH_M3,
    P_FLUSH_PAUSE_S,
    P_MILK_J,
    P_PORTAFILTER_OFF_S,
    P_ROOM_C,
    P_SETTLED,
    P_STEAM_KEPT,
    P_STEAM_SET_C,
    P_SWINGS,
    P_WAIT_LIMIT_S,
    S_BREW_Y,
    S_DIP_FROM,
    S_DIP_LOW,
    S_EVENT,
    S_FLUSH_END,
    S_FLUSH_LEFT,
    S_FLUSH_S,
    S_HOLD_J,
    S_HOLD_S,
    S_LAST_STOP,
    S_MILK_LEFT,
    S_MODE,
    S_MODE_T0,
    S_OK_BREW_S,
    S_OK_STEAM_S,
    S_PHASE,
    S_PORTAFILTER_BACK,
    S_READY,
    S_RECOVERING,
    S_SHIFT,
    S_SHOT,
    S_SPAN,
    S_STEAM_Y,
    S_TIME,
    S_WINDOW_N,
    S_WINDOW_SUM,
    S_WINDOW_SUM2,
    STEAMING,
)
from boilerfront.model.kernel.swing import (
    NEEDED_S,
    follow_swing,
    swing_down,
    swing_up,
)
from boilerfront.model.props.compiled import compiled
from boilerfront.shared.shapes import Floats

LATEST_READY_S = 3600.0
LONGEST_STEAM_S = 120.0
HOLD_WINDOW_S = 600.0


@compiled
def events(lane: int, S: Floats, P: Floats, queue: Floats, count: int, out: Floats, shots: Floats) -> None:
    """End and start events; set the run's code when the duty is over or cannot go on."""
    if S[S_READY, lane] < 0.0:
        track(lane, S, P, out)
        if S[S_READY, lane] < 0.0:
            if S[S_TIME, lane] >= LATEST_READY_S:
                _give_up(lane, S, P, out)
            return
    track_steam(lane, S, P, out)
    count_in_band(lane, S, P)
    if P[P_SWINGS, lane] > 0.0:
        follow_swing(lane, S, P, out)
    _end_event(lane, S, P, queue, count, out, shots)
    if out[O_CODE] != RUNNING:
        return
    if S[S_MODE, lane] == MODE_IDLE:
        _start_event(lane, S, P, queue, out)
    elif S[S_MODE, lane] == MODE_FLUSH:
        _go_on_flushing(lane, S, P, queue, out)
    elif _next_is_late(lane, S, queue, count):
        S[S_SHIFT, lane] += 1.0


@compiled
def _next_is_late(lane: int, S: Floats, queue: Floats, count: int) -> bool:
    """Say whether the event after the running one should have begun by now."""
    event = int(S[S_EVENT, lane]) + 1
    if event >= count or queue[event, E_AFTER_S] >= 0.0:
        return False
    late: bool = S[S_TIME, lane] >= S[S_READY, lane] + queue[event, E_AT_S] + S[S_SHIFT, lane]
    return late


@compiled
def _give_up(lane: int, S: Floats, P: Floats, out: Floats) -> None:
    """Not ready within an hour: say how far the boilers were from their set-points."""
    out[O_CODE] = NOT_READY
    missing_brew = (P[P_BREW_SET_C, lane] - S[S_BREW_Y, lane]) / (P[P_BREW_SET_C, lane] - P[P_ROOM_C, lane])
    missing_steam = (P[P_STEAM_SET_C, lane] - S[S_STEAM_Y, lane]) / (
        P[P_STEAM_SET_C, lane] - P[P_ROOM_C, lane]
    )
    missing_steam = missing_steam if P[P_STEAM_KEPT, lane] > 0.0 else 0.0
    out[O_SHORTFALL] = 0.1 + 0.45 * (max(missing_brew, 0.0) + max(missing_steam, 0.0))


@compiled
def _end_event(
    lane: int, S: Floats, P: Floats, queue: Floats, count: int, out: Floats, shots: Floats
) -> None:
    t = S[S_TIME, lane]
    event = int(S[S_EVENT, lane])
    ran = t - S[S_MODE_T0, lane]
    ended = False
    if S[S_MODE, lane] == MODE_SHOT and ran >= queue[event, E_STOP_S]:
        _end_shot(lane, S, P, shots)
        ended = True
    elif S[S_MODE, lane] == MODE_STEAM:
        if S[S_MILK_LEFT, lane] <= 0.0:
            ended = True
        elif ran >= LONGEST_STEAM_S:
            out[O_CODE] = STEAM
            out[O_SHORTFALL] = 0.05 + 0.05 * S[S_MILK_LEFT, lane] / P[P_MILK_J, lane]
    if ended:
        if S[S_PHASE, lane] == STEAMING:
            swing_down(lane, S, P)
        S[S_MODE, lane] = MODE_IDLE
        S[S_EVENT, lane] = event + 1.0
        if event + 1 == count:
            out[O_CODE] = DONE
    if S[S_RECOVERING, lane] >= 0.0 and S[S_OK_BREW_S, lane] <= S[S_SPAN, lane]:
        out[O_RECOVERY_S] = max(out[O_RECOVERY_S], t - S[S_OK_BREW_S, lane] - S[S_RECOVERING, lane])


@compiled
def _end_shot(lane: int, S: Floats, P: Floats, shots: Floats) -> None:
    shot = int(S[S_SHOT, lane])
    seconds = S[S_WINDOW_N, lane]
    shots[shot, H_MEAN] = S[S_WINDOW_SUM, lane] / seconds
    shots[shot, H_SQUARE] = S[S_WINDOW_SUM2, lane] / seconds
    shots[shot, H_SECONDS] = seconds
    shots[shot, H_DIP] = S[S_DIP_FROM, lane] - S[S_DIP_LOW, lane]
    S[S_SHOT, lane] = shot + 1.0
    S[S_LAST_STOP, lane] = S[S_TIME, lane]
    S[S_RECOVERING, lane] = S[S_TIME, lane]
    S[S_PORTAFILTER_BACK, lane] = S[S_TIME, lane] + P[P_PORTAFILTER_OFF_S, lane]


@compiled
def planned_s(lane: int, S: Floats, queue: Floats) -> float:
    """Return when the next event is planned, with the shift by earlier ones that were late."""
    event = int(S[S_EVENT, lane])
    after: float = queue[event, E_AFTER_S]
    planned: float = S[S_LAST_STOP, lane] + after
    if after < 0.0:
        planned = S[S_READY, lane] + queue[event, E_AT_S] + S[S_SHIFT, lane]
    return planned


@compiled
def _is_ready_for(lane: int, S: Floats, P: Floats, is_shot: bool) -> bool:
    """Say whether the circuit that an event needs has been above its lower band; a swing begins here."""
    if P[P_SWINGS, lane] > 0.0:
        if not is_shot:
            swing_up(lane, S, P)
        if S[S_PHASE, lane] != (BREWING if is_shot else STEAMING):
            return False
    needed = S[S_OK_BREW_S, lane] if is_shot else S[S_OK_STEAM_S, lane]
    ready: bool = needed >= NEEDED_S or P[P_SETTLED, lane] > 0.0
    return ready


@compiled
def _is_prepared(lane: int, S: Floats, P: Floats) -> bool:
    """Say whether a shot may start: a machine that flushes begins to where the water would be too hot."""
    if P[P_SWINGS, lane] > 0.0 or P[P_FLUSH_M3, lane] == 0.0:
        return True
    if S[S_FLUSH_LEFT, lane] < 0.0:
        if outlet_excess_K(lane, S, P) <= 0.0:
            return True
        begin_flush(lane, S, P)
        return False
    rested: bool = S[S_TIME, lane] >= S[S_FLUSH_END, lane] + P[P_FLUSH_PAUSE_S, lane]
    return rested


@compiled
def _go_on_flushing(lane: int, S: Floats, P: Floats, queue: Floats, out: Floats) -> None:
    """Plan the coming sample of a flush, or end one before a shot; it counts as waiting where an event is due."""
    coming_s = 1.0
    if P[P_SWINGS, lane] == 0.0 and is_flushed(lane, S, P):
        S[S_FLUSH_LEFT, lane] = max(S[S_FLUSH_LEFT, lane], 0.0)
        S[S_MODE, lane] = MODE_IDLE
        S[S_FLUSH_END, lane] = S[S_TIME, lane]
    else:
        plan_flush(lane, S, P)
        coming_s = S[S_FLUSH_S, lane]
    if S[S_TIME, lane] >= planned_s(lane, S, queue):
        _wait(lane, S, P, coming_s, int(S[S_EVENT, lane]) / queue.shape[0], out)


@compiled
def _wait(lane: int, S: Floats, P: Floats, seconds: float, done: float, out: Floats) -> None:
    """Let the coming event wait so much longer; `done` is the part of the duty that is over."""
    S[S_SHIFT, lane] += seconds
    out[O_WAIT_S] += seconds
    if out[O_WAIT_S] > P[P_WAIT_LIMIT_S, lane] and P[P_SETTLED, lane] == 0.0:
        out[O_CODE] = WAIT
        out[O_SHORTFALL] = 0.1 * (1.0 - done)


@compiled
def _start_event(lane: int, S: Floats, P: Floats, queue: Floats, out: Floats) -> None:
    t = S[S_TIME, lane]
    event = int(S[S_EVENT, lane])
    if t < planned_s(lane, S, queue):
        return
    is_shot = queue[event, E_KIND] == KIND_SHOT
    if not _is_ready_for(lane, S, P, is_shot) or (is_shot and not _is_prepared(lane, S, P)):
        _wait(lane, S, P, 1.0, event / queue.shape[0], out)
        return
    S[S_MODE_T0, lane] = t
    if queue[event, E_AFTER_S] < 0.0:  # what whole samples of waiting are short of
        S[S_SHIFT, lane] += t - planned_s(lane, S, queue)
    if is_shot:
        S[S_MODE, lane] = MODE_SHOT
        S[S_WINDOW_N, lane] = 0.0
        S[S_WINDOW_SUM, lane] = 0.0
        S[S_WINDOW_SUM2, lane] = 0.0
        S[S_DIP_FROM, lane] = S[S_BREW_Y, lane]
        S[S_DIP_LOW, lane] = S[S_BREW_Y, lane]
        S[S_RECOVERING, lane] = NEVER
        out[O_SLUG_M3] = 0.0
        S[S_FLUSH_LEFT, lane] = NEVER
        if S[S_HOLD_S, lane] > 0.0:
            out[O_HOLD_W] = S[S_HOLD_J, lane] / S[S_HOLD_S, lane]
    else:
        S[S_MODE, lane] = MODE_STEAM
        S[S_MILK_LEFT, lane] = P[P_MILK_J, lane]


@compiled
def holding(lane: int, S: Floats, queue: Floats, power_W: float, sample_s: float) -> None:
    """Add a sample to the mean power of the last ten minutes before an event planned after a pump stop."""
    if S[S_MODE, lane] != MODE_IDLE or S[S_READY, lane] < 0.0:
        return
    after = queue[int(S[S_EVENT, lane]), E_AFTER_S]
    if after >= 0.0 and S[S_TIME, lane] >= S[S_LAST_STOP, lane] + after - HOLD_WINDOW_S:
        S[S_HOLD_J, lane] += power_W * sample_s
        S[S_HOLD_S, lane] += sample_s
