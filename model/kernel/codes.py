"""How a run ended: codes inside the kernel, reasons and faults outside it.

A reason is physical (the design does not do its duty), a fault is ours (the run itself failed).
"""

from __future__ import annotations

RUNNING, DONE, NOT_READY, WAIT, STEAM, TOO_MANY_STEPS, NOT_FINITE = range(7)

REASONS = {
    NOT_READY: "not ready",
    WAIT: "wait",
    STEAM: "steam",
}
"""Codes of a design that does not come through its duty."""

SENTENCES = {
    "not ready": "not in all its bands within an hour of switch-on: more power or less volume is needed",
    "wait": "the duty had to wait more than it may for the machine to come back into its bands",
    "steam": "the milk was not hot after two minutes: more steam power or a larger steam boiler is needed",
    "trim": "no boiler set-point within its bounds brings the mean shot temperature to the user's set-point",
}
"""What a reason means and what to try."""

FAULTS = {
    TOO_MANY_STEPS: "too_many_steps",
    NOT_FINITE: "not_finite",
}
"""Codes of our own faults: report them."""
