"""A bench log against a pack: pass, fail, or cannot tell, with the reason.

A band holds for a calibrated probe, a cold start and a bench within the tolerances. Where the log does not show that,
a figure that would fail is not failed, and one that an unchecked probe could have passed is not passed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import Field

from boilerfront.model.brief import Brief
from boilerfront.model.duty import Duty
from boilerfront.model.fit.log import Log
from boilerfront.model.fit.log_figures import LogFigures, ReadyBands, log_figures
from boilerfront.model.glossary import COLUMNS
from boilerfront.model.machine import Control, Machine
from boilerfront.model.prices import ITEMS, PriceBook
from boilerfront.model.props.air import pressure_at_altitude
from boilerfront.model.props.water import saturation_temperature
from boilerfront.model.site import Site
from boilerfront.results.pack.bench import COLD_K
from boilerfront.shared.schema import Section, validated
from boilerfront.shared.toml_file import read_toml_table

ACCEPTANCE_FILE = "acceptance.toml"
UNCHECKED_K = 1.0
"""What an unchecked thermocouple may be off by (two sigma, our judgement; IEC 60584-1, class 1, is 0.5 K for the wire
alone, from memory) [K]."""
ABSOLUTE = frozenset({"shot_deviation_K", "worst_shot_K"})
"""Figures that a probe's absolute error enters."""
PASS, FAIL, CANNOT_TELL = "pass", "fail", "cannot tell"
MEETS, DOES_NOT = "meets", "does not meet"


class FigureBand(Section):
    """The pass band of a figure."""

    unit: str = ""
    low: float | None = None
    high: float
    nominal: float | None = None
    required_at_most: float | None = None
    uncertainty: float = 0.0
    uncertainty_relative: float = 0.0
    how: str = ""


class ShotBand(Section):
    """The pass band of a shot's mean error."""

    flow: str
    planned: str
    low_K: float
    high_K: float
    uncertainty_K: float = 0.0


class Acceptance(Section):
    """What a pack's file says."""

    format: Literal[1, 2, 3]
    machines: int
    cold_starts: Annotated[int, Field(ge=1)]
    user_set_point_C: float
    scored_from_s: float
    bands: ReadyBands | None = None
    conditions: dict[str, tuple[float, float]] = Field(default_factory=dict)
    hold_s: float = 1800.0
    off_W: float = 0.5
    provenance: dict[str, Any] = Field(default_factory=dict)
    channels: dict[str, str] = Field(default_factory=dict)
    release: dict[str, str] = Field(default_factory=dict)
    figures: dict[str, FigureBand]
    shots: dict[str, ShotBand] = Field(default_factory=dict)
    design: dict[str, Any]
    site: Site
    duty: Duty

    def brief(self) -> Brief:
        """Return what figures of a log need: duty, site, holding; readings bring their own rounding."""
        control = Control(resolution_K=0.0, hold_s=self.hold_s, off_W=self.off_W)
        site = self.site.model_copy(update={"standby_rules": False})
        blank = PriceBook(prices=dict.fromkeys(ITEMS, 0.0))
        return Brief(prices=blank, site=site, duty=self.duty, machine=Machine(control=control))


@dataclass(frozen=True)
class Verdict:
    """One figure of one log: its value and band, what came of it, and why."""

    log: str
    figure: str
    unit: str
    value: float | None
    low: float | None
    high: float
    verdict: str
    reason: str = ""
    required: float | None = None
    requirement: str = ""
    """Whether the requirement is met; empty where the sweep asks for nothing."""


def read_acceptance(pack: Path) -> Acceptance:
    """Return what the pack in a folder (or its file) asks; raises `InputError` with every fault."""
    path = pack / ACCEPTANCE_FILE if pack.is_dir() else pack
    data = read_toml_table(path, allowed="a pack's folder, as `pack` writes it")
    return validated(Acceptance, data, where=str(path))


def judge(asked: Acceptance, logs: Sequence[Log]) -> list[Verdict]:
    """Return the verdict on every figure and shot of every log."""
    return [verdict for log in logs for verdict in _judge_log(asked, log)]


def overall(asked: Acceptance, verdicts: Sequence[Verdict], logs: int) -> tuple[str, str]:
    """Return the verdict on the prototype, and why: every figure of enough cold starts must pass."""
    failed = [each for each in verdicts if each.verdict == FAIL]
    if failed:
        return (
            FAIL,
            f"{len(failed)} of {len(verdicts)} outside: a finding about the machine or about the model",
        )
    untold = [each for each in verdicts if each.verdict == CANNOT_TELL]
    if untold:
        return CANNOT_TELL, f"{len(untold)} of {len(verdicts)} cannot be told"
    if logs < asked.cold_starts:
        return CANNOT_TELL, f"{logs} of {asked.cold_starts} cold starts logged"
    return PASS, f"all {len(verdicts)} inside"


def overall_requirement(verdicts: Sequence[Verdict]) -> tuple[str, str]:
    """Return whether all that the sweep asks for is met, and why; an empty verdict where it asks for nothing."""
    asked = [each for each in verdicts if each.requirement]
    missed = [each for each in asked if each.requirement == DOES_NOT]
    untold = [each for each in asked if each.requirement == CANNOT_TELL]
    if missed:
        return DOES_NOT, f"{len(missed)} of {len(asked)} beyond the sweep's limit"
    if untold:
        return CANNOT_TELL, f"{len(untold)} of {len(asked)} cannot be told"
    return (MEETS, f"all {len(asked)}") if asked else ("", "the sweep asks for nothing that was measured")


def _meets(value: float | None, limit: float, band: FigureBand, doubts: list[str]) -> str:
    """Return whether a value is at most a limit: beyond doubt, beyond hope, or neither (ISO 14253-1, from memory)."""
    if value is None or not np.isfinite(value) or doubts:
        return CANNOT_TELL
    unsure = band.uncertainty + band.uncertainty_relative * abs(value)
    if value + unsure <= limit:
        return MEETS
    return DOES_NOT if value - unsure > limit else CANNOT_TELL


def _judge_log(asked: Acceptance, log: Log) -> Iterator[Verdict]:
    doubts = list(_doubts(asked, log))
    checked = "shot_C" in log.checks and log.has("shot_C")
    if checked:
        log = replace(log, values={**log.values, "shot_C": log.values["shot_C"] - _error_K(asked, log)})
    if asked.bands is None:
        reason = "this pack does not say its set-points: write it again"
        found = LogFigures({}, why_no_shots=reason)
    else:
        reason = "not in the log"
        found = log_figures(log, asked.bands, asked.brief(), user_C=asked.user_set_point_C)
    for figure, band in asked.figures.items():
        value = found.figures.get(figure, reason)
        told = value if isinstance(value, float) else None
        why = value if isinstance(value, str) else ""
        unsure = 0.0 if checked or figure not in ABSOLUTE else max(UNCHECKED_K - band.uncertainty, 0.0)
        verdict, why = _verdict(told, (band.low, band.high), why, doubts, unsure)
        limit = band.required_at_most
        meets = "" if limit is None else _meets(told, limit, band, doubts)
        yield Verdict(log.name, figure, band.unit, told, band.low, band.high, verdict, why, limit, meets)
    for number, (name, shot) in enumerate(asked.shots.items()):
        known = number < len(found.shot_errors_K)
        told = found.shot_errors_K[number] if known else None
        unsure = 0.0 if checked else max(UNCHECKED_K - shot.uncertainty_K, 0.0)
        verdict, why = _verdict(told, (shot.low_K, shot.high_K), found.why_no_shots, doubts, unsure)
        yield Verdict(log.name, name, "K", told, shot.low_K, shot.high_K, verdict, why)


def _verdict(
    value: float | None, band: tuple[float | None, float], why: str, doubts: list[str], unsure: float
) -> tuple[str, str]:
    """Return verdict and reason; `unsure` is how much more than the band assumes the value may be off."""
    if value is None or not np.isfinite(value):
        return CANNOT_TELL, why or "not in the log"
    low, high = -np.inf if band[0] is None else band[0], band[1]
    if doubts:
        return CANNOT_TELL, "; ".join(doubts)
    if low <= value <= high:
        if unsure and not (low + unsure <= value <= high - unsure):
            return CANNOT_TELL, f"no ice or boil check of shot_C: it may be off by {UNCHECKED_K:g} K"
        return PASS, ""
    outside = low - value if value < low else value - high
    if unsure and outside < unsure:
        return CANNOT_TELL, f"no ice or boil check of shot_C: it may be off by {UNCHECKED_K:g} K"
    return FAIL, f"{'below' if value < low else 'above'} by {outside:.3g}"


def _doubts(asked: Acceptance, log: Log) -> Iterator[str]:
    """Say why the bands are not meant for this log."""
    first = {name: float(log.samples(name)[1][0]) for name in log.temperatures() if name != "shot_C"}
    room = float(np.median(log.samples("room_C")[1])) if log.has("room_C") else asked.site.ambient_C
    warm = [name for name, value in first.items() if abs(value - room) > COLD_K + 1.0]
    if warm:
        yield f"no cold start: {warm[0]} begins at {first[warm[0]]:.1f} °C, the room is at {room:.1f} °C"
    for channel, (low, high) in asked.conditions.items():
        if log.has(channel):
            value = float(np.median(log.samples(channel)[1]))
            if not low <= value <= high:
                yield f"{channel} {value:.1f} is outside of {low:.1f} to {high:.1f}"


def _error_K(asked: Acceptance, log: Log) -> float:
    """Return the error of the probe under the screen by its checks."""
    boils = saturation_temperature(pressure_at_altitude(asked.site.altitude_m))
    return float(
        np.mean([reading - (0.0 if bath == "ice" else boils) for bath, reading in log.checks["shot_C"]])
    )


def digits_of(figure: str) -> int:
    """Return with how many decimals a figure is told."""
    return COLUMNS[figure].digits if figure in COLUMNS else 2
