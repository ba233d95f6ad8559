"""What the controller does once a second: I-PD loops and the sharing of the mains.

Proportional action on the measurement alone (set-point weight 0), integral with back-calculation (Astrom and
Hagglund, Advanced PID Control, 2006, chapters 3.3 and 3.5).
"""

from __future__ import annotations

from boilerfront.model.props.compiled import compiled


@compiled
def asked_power(
    integral_W: float, gain_W_K: float, measured_C: float, extra_W: float, rated_W: float
) -> float:
    """Return the power that a loop asks for, clamped to its element [W]; `extra_W` is feed-forward."""
    return min(max(integral_W - gain_W_K * measured_C + extra_W, 0.0), rated_W)


@compiled
def next_integral(
    integral_W: float,
    gain_W_K: float,
    resets_a_s: float,
    trackings_a_s: float,
    error_K: float,
    excess_W: float,
) -> float:
    """Return the integral a second later; `excess_W` is what was wanted beyond what was granted.

    `resets_a_s` and `trackings_a_s` are one over the reset and the tracking time.
    """
    return integral_W + gain_W_K * resets_a_s * error_K - trackings_a_s * excess_W


@compiled
def share_mains(
    limit_A: float, brew_A: float, group_A: float, steam_A: float, brew: float, group: float, steam: float
) -> tuple[float, float, float, float]:
    """Return the granted parts of the window (brew, group, steam) and the peak current of the three [A].

    Each element is either on or off. By priority brew, group, steam each takes the part of the window that
    it asks for, beside those already placed where the sum of currents fits, else in the time left.
    """
    got_brew = brew if brew_A <= limit_A else 0.0
    if brew_A + group_A <= limit_A:
        got_group = group
        both = min(got_brew, got_group)
    else:
        got_group = min(group, 1.0 - got_brew) if group_A <= limit_A else 0.0
        both = 0.0
    only_brew = got_brew - both
    only_group = got_group - both
    free = 1.0 - only_brew - only_group - both
    peak = 0.0
    if both > 0.0:
        peak = brew_A + group_A
    elif max(only_brew, only_group) > 0.0:
        peak = max(brew_A if only_brew > 0.0 else 0.0, group_A if only_group > 0.0 else 0.0)
    left = steam
    for beside_A, room in (
        (brew_A + group_A, both),
        (brew_A, only_brew),
        (group_A, only_group),
        (0.0, free),
    ):
        if beside_A + steam_A <= limit_A and room > 0.0 and left > 0.0:
            left -= min(left, room)
            peak = max(peak, beside_A + steam_A)
    return got_brew, got_group, steam - left, peak


def flicker_rate(current_A: float, voltage_V: float, window_s: float) -> float:
    """Return the flicker time that a second of a modulated element adds [s/s].

    Memory-time method of IEC 61000-3-3 (from memory): 2.3 (100 dU/U)^3.2 for each step, dU = 0.4 ohm x I;
    two steps a firing window while the element is neither off nor fully on.
    """
    step_percent = 100.0 * 0.4 * current_A / voltage_V
    return float(2.3 * step_percent**3.2 * 2.0 / window_s)
