"""Verdicts on a prototype as a table: a row for each figure of each log."""

from __future__ import annotations

from collections.abc import Sequence

import pyarrow as pa

from boilerfront.results.acceptance import Verdict, digits_of
from boilerfront.results.schema import added_field, table_of_columns
from boilerfront.results.show import cell_text


def verdict_table(verdicts: Sequence[Verdict]) -> pa.Table:
    """Return a row for each verdict; values as texts, each with the digits that its figure deserves."""
    text = pa.string()
    columns = {
        "log": [each.log for each in verdicts],
        "figure": [each.figure for each in verdicts],
        "value": [_shown(each, each.value) for each in verdicts],
        "at_least": [_shown(each, each.low) for each in verdicts],
        "at_most": [_shown(each, each.high) for each in verdicts],
        "unit": [each.unit for each in verdicts],
        "required_at_most": [_shown(each, each.required) for each in verdicts],
        "requirement": [each.requirement or None for each in verdicts],
        "verdict": [each.verdict for each in verdicts],
        "reason": [each.reason for each in verdicts],
    }
    return table_of_columns([(added_field(name, text), values) for name, values in columns.items()])


def _shown(verdict: Verdict, value: float | None) -> str | None:
    return None if value is None else cell_text(float(value), digits_of(verdict.figure))
