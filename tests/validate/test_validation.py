"""The values of the table hold, are many enough, and a wrong one is seen."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from functools import cache

import pytest
from rich.console import Console

from tests.validate.checks import COUNTED, Allowed, Check, Kind
from tests.validate.published.groups import PUBLISHED, checks_of
from tests.validate.published.read_table import read_table
from tests.validate.report import allowed, difference, print_report, summary_table

CHECK = Check(
    group="water",
    row="W07",
    what="saturation pressure at 300 K",
    source="IAPWS R7-97(2012), table 35",
    expected=3536.58941,
    computed=3536.6,
    allowed=Allowed(relative=1e-5, why="printed digits"),
    unit="Pa",
    kind=Kind.PUBLISHED,
)

cached_checks = cache(checks_of)


def said(check: Check) -> str:
    return f"{check.row} {check.what}: {difference(check)}, allowed {allowed(check)}"


@pytest.mark.parametrize("name", list(PUBLISHED))
def test_values_hold(name: str) -> None:
    checks = cached_checks(name)
    assert [said(check) for check in checks if check.fails] == []


def test_there_are_enough_values_and_none_is_counted_twice() -> None:
    checks = [check for name in PUBLISHED for check in cached_checks(name)]
    counted = [check for check in checks if check.kind in COUNTED]
    assert len(counted) >= 120
    assert len({check.group for check in counted}) >= 10
    assert len({check.group for check in checks}) >= 18
    keys = [(check.group, check.row, check.what, check.source) for check in checks]
    assert len(set(keys)) == len(keys)
    assert all(check.source and check.allowed.why for check in checks)


@pytest.mark.parametrize("computed", [3536.7, -3536.58941, math.nan, math.inf, -math.inf])
def test_a_wrong_number_fails(computed: float) -> None:
    assert not CHECK.fails
    assert replace(CHECK, computed=computed).fails


@pytest.mark.parametrize("expected", [math.nan, math.inf])
def test_an_expected_value_that_is_no_number_fails(expected: float) -> None:
    assert replace(CHECK, expected=expected).fails


def test_a_band_decides_nothing_but_says_where_the_number_lies() -> None:
    outside = replace(CHECK, kind=Kind.BAND, computed=1.0)
    assert not outside.holds
    assert not outside.fails


def printed(checks: list[Check], width: int) -> str:
    sink = io.StringIO()
    print_report(Console(width=width, file=sink), checks, brief=False)
    return " ".join(sink.getvalue().split())


@pytest.mark.parametrize("width", [20, 80, 190])
def test_the_report_names_what_fails_on_any_terminal(width: int) -> None:
    outside = replace(CHECK, what="recalled", kind=Kind.BAND, computed=1.0)
    text = printed([CHECK, outside, replace(CHECK, what="broken", computed=math.nan)], width)
    assert "FAILS: water, broken" in text
    assert "outside its band: water, recalled" in text
    assert "FAILS: water, recalled" not in text


def test_a_report_of_nothing_is_a_report() -> None:
    assert "0 values" in printed([], 80)
    assert summary_table([]).row_count == 0


def test_every_table_is_read_with_numbers_in_all_its_rows() -> None:
    for line in read_table("liquid"):
        assert line["rho_kg_m3"] > 900.0
        assert line.row.startswith("L")
