"""What a prototype must show on the bench: figures with pass bands from the batch's predicted spread.

A band is the range of a figure over the fresh machines, widened by the uncertainty of measuring it. So a machine
inside the tolerances passes, unless the model is wrong or the machine is not the one that was drawn.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from boilerfront.model.fit.log_figures import ReadyBands, ready_bands
from boilerfront.results.confirm import FRESH_MACHINES
from boilerfront.results.pack.margins import REQUIRED_FIGURES
from boilerfront.results.pack.release import releases
from boilerfront.results.pack.subject import Subject
from boilerfront.shared.toml_text import toml_text

COLD_STARTS = 3
"""Starts of the duty from cold (our judgement): one is an anecdote, two may disagree."""
FORMAT = 3
"""Version of `acceptance.toml`; the second says set-points, conditions and holding as well, the third what the sweep
asks of figures, and what must be released before anybody plugs the machine in."""
PROBE_K = 0.3
"""Uncertainty (two sigma) of a calibrated thermocouple chain in water (our judgement; type T of class 1 is within
0.5 K uncalibrated, IEC 60584-1, from memory)."""


@dataclass(frozen=True)
class Measure:
    """How a figure is measured: uncertainty as an amount and as a part of the value, which ends bound it."""

    figure: str
    uncertainty: float
    relative: float
    bounded: Literal["both", "above"]
    how: str


MEASURES = (
    Measure("warm_up_s", 10.0, 0.0, "both", "switch-on until all that counts has been in its band for 30 s"),
    Measure("brew_ready_s", 10.0, 0.0, "both", "the same, without waiting for steam"),
    Measure("shot_deviation_K", PROBE_K, 0.0, "above", "rms of probe less set-point, each shot weighing the same"),
    Measure("worst_shot_K", PROBE_K, 0.0, "above", "largest mean error of a shot"),
    Measure("shot_to_shot_K", 0.1, 0.0, "above", "spread of the shots' means; the probe's offset drops out"),
    Measure("within_shot_K", 0.1, 0.0, "above", "rms of the change within shots; the probe's offset drops out"),
    Measure("dip_K", 0.2, 0.0, "both", "fall of the brew boiler's sensor in the first nominal shot"),
    Measure("overshoot_K", 0.2, 0.0, "above", "brew boiler's sensor above its set-point outside of draws"),
    Measure("recovery_s", 5.0, 0.0, "above", "longest from a pump stop until brew boiler and group are in band"),
    Measure("steam_time_s", 3.0, 0.0, "both", "wand open until the milk has its temperature"),
    Measure("swing_up_s", 5.0, 0.0, "both", "steam switch until the steam set-point is reached"),
    Measure("swing_down_s", 5.0, 0.0, "both", "end of steaming until the brew band is reached again"),
    Measure("flush_mL", 5.0, 0.02, "both", "water flushed through the group in the whole duty"),
    Measure("holding_power_W", 1.0, 0.02, "both", "mean of the power meter over the last 10 min of idling"),
    Measure("energy_kWh_day", 0.002, 0.02, "both", "power meter, by the formula of the procedure"),
    Measure("peak_current_A", 0.0, 0.02, "above", "largest current of the power meter"),
)  # fmt: skip
"""Uncertainties are two sigma and our judgement."""


@dataclass(frozen=True)
class Check:
    """A figure's pass band; an end that bounds nothing is None."""

    measure: Measure
    unit: str
    nominal: float | None
    low: float | None
    high: float
    required: float | None = None
    """The sweep's limit, at most; None where it asks for nothing."""

    def passes(self, value: float) -> bool:
        """Return whether a measured value is inside."""
        return (self.low is None or value >= self.low) and value <= self.high


@dataclass(frozen=True)
class ShotCheck:
    """The pass band of a shot's mean error against the user's set-point."""

    number: int
    flow: str
    planned: str
    low_K: float
    high_K: float


def checks(subject: Subject) -> list[Check]:
    """Return the pass bands of all figures that the candidate has."""
    found = []
    for measure in MEASURES:
        band = subject.band(measure.figure)
        if band is None or band[-1] == 0.0:  # none, or never: a machine that needs no flush
            continue
        low, high = float(band[0]), float(band[-1])
        widened_low = low - measure.uncertainty - measure.relative * abs(low)
        found.append(
            Check(
                measure=measure,
                unit=subject.unit(measure.figure),
                nominal=_nominal(subject, measure.figure),
                low=max(widened_low, 0.0) if measure.bounded == "both" else None,
                high=high + measure.uncertainty + measure.relative * abs(high),
                required=_required(subject, measure.figure),
            )
        )
    return found


def _required(subject: Subject, figure: str) -> float | None:
    limit = REQUIRED_FIGURES.get(figure)
    return None if limit is None else limit(subject.brief)


def _nominal(subject: Subject, figure: str) -> float | None:
    of_nominal = f"{figure}_nominal"
    return subject.number(of_nominal if of_nominal in subject.candidate.row else figure)


def shot_checks(subject: Subject) -> list[ShotCheck]:
    """Return the pass band of each shot of the duty."""
    shots = [event for event in subject.brief.duty.events if event.kind == "shot"]
    errors = subject.spread.shot_errors_K
    errors = errors[np.isfinite(errors).all(axis=1)]
    return [
        ShotCheck(
            number=k + 1,
            flow=event.flow,
            planned=f"ready + {event.at_s} s" if event.at_s is not None else f"last stop + {event.after_s} s",
            low_K=float(errors[:, k].min()) - PROBE_K,
            high_K=float(errors[:, k].max()) + PROBE_K,
        )
        for k, event in enumerate(shots)
    ]


def _ready(subject: Subject) -> ReadyBands:
    return ready_bands(subject.design, subject.brief, offset_K=subject.spread.offset_K)


def _conditions(subject: Subject) -> dict[str, list[float]]:
    """Return between which ends the bench must hold room, inlet and mains for the bands to be meant."""
    site = subject.brief.site
    ends = subject.brief.ends()
    nominal = {"ambient": ("room_C", site.ambient_C), "inlet": ("inlet_C", site.inlet_C)}
    found = {
        channel: [value + end for end in ends[name]]
        for name, (channel, value) in nominal.items()
        if name in ends
    }
    if "mains" in ends:
        found["voltage_V"] = [site.voltage_V * end for end in ends["mains"]]
    return found


def acceptance_toml(subject: Subject, channels: Mapping[str, str], provenance: Mapping[str, Any]) -> str:
    """Return the pass bands for a program that compares a bench log: figures, shots, conditions, channels."""
    heading = (
        "# Pass bands of a prototype, for a bench log: the predicted spread of its batch, widened by what measuring\n"
        "# leaves uncertain. Figures are simulation.\n"
    )
    figures = {
        check.measure.figure: {
            "unit": check.unit,
            "low": check.low,
            "high": check.high,
            "nominal": check.nominal,
            "required_at_most": check.required,
            "uncertainty": check.measure.uncertainty,
            "uncertainty_relative": check.measure.relative,
            "how": check.measure.how,
        }
        for check in checks(subject)
    }
    shots = {
        f"shot_{shot.number}": {
            "flow": shot.flow, "planned": shot.planned, "low_K": shot.low_K, "high_K": shot.high_K,
            "uncertainty_K": PROBE_K,
        }
        for shot in shot_checks(subject)
    }  # fmt: skip
    released = releases(subject.machine, subject.required)
    return heading + toml_text(
        {
            "format": FORMAT,
            "machines": FRESH_MACHINES,
            "cold_starts": COLD_STARTS,
            "user_set_point_C": subject.machine.user_set_point_C,
            "scored_from_s": subject.trace.scored_from_s,
            "bands": _ready(subject).model_dump(),
            "conditions": _conditions(subject),
            "hold_s": subject.brief.machine.control.hold_s,
            "off_W": subject.brief.machine.control.off_W,
            "provenance": dict(provenance),
            "channels": dict(channels),
            "release": {each.tag: f"{each.what}: {each.must}" for each in released if each.tag},
            "figures": figures,
            "shots": shots,
            "design": {name: value for name, value in subject.design.items() if value is not None},
            "site": subject.brief.site.model_dump(exclude_none=True),
            "duty": subject.brief.duty.model_dump(exclude_none=True),
        }
    )
