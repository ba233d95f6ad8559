"""Tuning of the loops: an integrator with dead time, by the SIMC rule.

S. Skogestad, J. Process Control 13 (2003) 291-309: Kc = C / (2 theta), Ti = min(tau, 8 theta) with the tight
choice tau_c = theta. The dead time is the sum of sensor lag, sheath lag, half a firing window and half a
sample; loss drops out of the gain.
"""

from __future__ import annotations

from dataclasses import dataclass

SAMPLE_S = 1.0


@dataclass(frozen=True)
class Loop:
    """Tuning of one control loop: gain [W/K], reset time [s], dead time it was tuned for [s]."""

    gain_W_K: float
    reset_s: float
    dead_time_s: float


def tune(capacity_J_K: float, loss_W_K: float, lags_s: float, window_s: float) -> Loop:
    """Return the loop for what it moves: heat capacity, conductance to the surroundings, lags in series."""
    dead = lags_s + 0.5 * window_s + 0.5 * SAMPLE_S
    return Loop(
        gain_W_K=capacity_J_K / (2.0 * dead),
        reset_s=min(capacity_J_K / loss_W_K, 8.0 * dead),
        dead_time_s=dead,
    )
