"""What a calibration says to people: coefficients with intervals, and in sentences what to make of them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pyarrow as pa

from boilerfront.model.coefficients import COEFFICIENTS
from boilerfront.model.fit.calibrate import Calibrated
from boilerfront.model.fit.solve import LEVEL, Found
from boilerfront.results.schema import added_field, table_of_columns

WIDER_THAN = 0.1
"""A coefficient whose interval reaches further than this (of a logarithm) is worth a further test."""
WEAK = 0.1
"""A direction whose singular value is below this part of the largest deserves a word."""
SPREAD_OF_COSTS = 0.01


def coefficient_table(calibrated: Calibrated) -> pa.Table:
    """Return a row for each coefficient: value, the design's own, interval, verdict."""
    found = calibrated.fit.found
    text, number = pa.string(), pa.float64()
    columns: list[tuple[pa.Field, list[Any]]] = [
        (added_field("coefficient", text), [each.name for each in found]),
        (added_field("value", number, digits=3), [each.value for each in found]),
        (added_field("design", number, digits=3), [each.nominal for each in found]),
        (added_field("low", number, digits=3), [each.low if each.told else None for each in found]),
        (added_field("high", number, digits=3), [each.high if each.told else None for each in found]),
        (added_field("unit", text), [COEFFICIENTS[each.name].unit or "factor" for each in found]),
        (added_field("verdict", text), [_verdict(each) for each in found]),
    ]
    return table_of_columns(columns)


def prediction_table(calibrated: Calibrated) -> pa.Table:
    """Return how well each log is predicted by the others, by channel."""
    rows = calibrated.predictions
    logs = [calibrated.cases[row.case].log.name for row in rows]
    text, number = pa.string(), pa.float64()
    columns: list[tuple[pa.Field, list[Any]]] = [
        (added_field("held_back", text), logs),
        (added_field("channel", text), [row.channel for row in rows]),
        (added_field("rms_before", number, unit="K", digits=2), [row.before_rms_K for row in rows]),
        (added_field("rms_after", number, unit="K", digits=2), [row.after_rms_K for row in rows]),
        (added_field("noise", number, unit="K", digits=2), [row.noise_K for row in rows]),
    ]
    return table_of_columns(columns)


def findings(calibrated: Calibrated) -> list[str]:
    """Return what is to be known before the coefficients are used, a sentence each."""
    return [
        *_notes_of_logs(calibrated),
        *_not_white(calibrated),
        *_out_of_range(calibrated),
        *_alike(calibrated),
        *_weakest(calibrated),
        *_tests(calibrated),
        *_starts(calibrated),
        *_probes(calibrated),
    ]


def _verdict(found: Found) -> str:
    if found.at_bound:
        return "at the end of its range: not told"
    if not found.told:
        return "not told by these logs"
    return "told" if found.sensible else "told, but outside of what is sensible"


def _notes_of_logs(calibrated: Calibrated) -> Iterator[str]:
    for case in calibrated.cases:
        for note in (*case.log.notes, *case.notes):
            yield f"{case.log.name}: {note}"


def _not_white(calibrated: Calibrated) -> Iterator[str]:
    bad = [each for each in calibrated.fit.whiteness if not each.white]
    if not bad:
        yield "What is left looks like noise in every channel."
        return
    for each in bad:
        name = calibrated.cases[each.case].log.name
        yield (
            f"{name}: {each.channel} leaves {each.structured_K:.2g} K that is no noise (noise {each.noise_K:.2g} K): "
            "something is missing in the model or in the log; intervals are widened for it"
        )
    withheld = [each.name for each in calibrated.fit.found if not each.told]
    if withheld:
        yield f"Intervals withheld: {', '.join(withheld)}"


def _out_of_range(calibrated: Calibrated) -> Iterator[str]:
    for each in calibrated.fit.found:
        low, high = COEFFICIENTS[each.name].sensible
        if not each.sensible:
            yield (
                f"{each.name} = {each.value:.3g} is outside of what is physically sensible, {low:g} to {high:g}: "
                "look for a wrong design, a wrong unit or a probe out of place first"
            )


def _alike(calibrated: Calibrated) -> Iterator[str]:
    for a, b, correlation in calibrated.alike():
        tests = dict.fromkeys((COEFFICIENTS[a].told_by, COEFFICIENTS[b].told_by))
        yield (
            f"{a} and {b} are hardly told from each other (correlation {correlation:+.2f}): "
            f"{' or '.join(tests)} would separate them"
        )


def _weakest(calibrated: Calibrated) -> Iterator[str]:
    """Say which combination the logs tell least, where it is told much less than the best one."""
    values, directions = calibrated.fit.singular
    if len(values) < 2 or values[-1] > WEAK * values[0]:
        return
    names = calibrated.fit.problem.names
    parts = sorted(zip(directions[-1], names, strict=True), key=lambda part: -abs(part[0]))[:3]
    mixed = " ".join(f"{weight:+.2f} {name}" for weight, name in parts if abs(weight) > 0.1)
    yield f"Told least (singular value {values[-1]:.3g} of {values[0]:.3g}): {mixed} (of the logarithms)"


def _tests(calibrated: Calibrated) -> Iterator[str]:
    """Say which further test would narrow what is wide, grouped by test."""
    if not calibrated.fit.white:
        yield "Find what is missing before another test: none tells of an effect that the model does not have"
        return
    by_test: dict[str, list[str]] = {}
    for each in calibrated.advice:
        if each.now > WIDER_THAN and each.after < 0.7 * each.now:
            words = f"{each.name} from ±{_percent(each.now)} to ±{_percent(each.after)}"
            by_test.setdefault(each.test, []).append(words)
    for test, narrowed in by_test.items():
        yield f"A log of {test} would narrow {', '.join(narrowed)}"


def _percent(half_width: float) -> str:
    return f"{100.0 * half_width:.0f} %" if half_width < 2.0 else "more than 200 %"


def _starts(calibrated: Calibrated) -> Iterator[str]:
    costs = np.array(calibrated.fit.costs)
    if costs.size > 1 and costs.max() > (1.0 + SPREAD_OF_COSTS) * costs.min():
        near = int(np.sum(costs <= (1.0 + SPREAD_OF_COSTS) * costs.min()))
        yield f"{near} of {costs.size} starts ended in the best fit: the others found a worse one"


def _probes(calibrated: Calibrated) -> Iterator[str]:
    checked = {channel for case in calibrated.cases for channel in case.log.checks}
    free = {seen.channel for case in calibrated.cases for seen in case.observed} - checked
    if free:
        yield f"Without an ice or boil check the absolute errors of {', '.join(sorted(free))} were left free"


def heading(calibrated: Calibrated) -> str:
    """Return a sentence above the coefficients."""
    readings = calibrated.fit.readings
    logs = len(calibrated.cases)
    return f"{readings:,} readings of {logs} log{'s' if logs > 1 else ''}, intervals of {LEVEL:.0%}"
