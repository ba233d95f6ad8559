"""Local times become instants as a person means them, over midnight and over changes of summer time."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from boilerfront.jobs.clock import local_text, next_instant
from boilerfront.shared.errors import InputError

BERLIN = ZoneInfo("Europe/Berlin")


def at(text: str, now: str) -> str:
    """Return the instant as UTC text; `now` is UTC as well."""
    after = datetime.fromisoformat(now).replace(tzinfo=UTC).timestamp()
    instant = next_instant(text, after=after, option="--at", zone=BERLIN)
    return datetime.fromtimestamp(instant, UTC).strftime("%Y-%m-%d %H:%M:%S")


def test_later_today() -> None:
    assert at("22:00", "2026-01-10T12:00:00") == "2026-01-10 21:00:00"


def test_over_midnight() -> None:
    assert at("07:00", "2026-01-10T20:00:00") == "2026-01-11 06:00:00"


def test_the_very_minute_means_tomorrow() -> None:
    assert at("21:00", "2026-01-10T20:00:00") == "2026-01-11 20:00:00"


# Directive 2000/84/EC: clocks go forward at 01:00 UTC on the last Sunday of March (2026-03-29), back at
# 01:00 UTC on the last Sunday of October (2026-10-25).
def test_a_time_that_does_not_exist_is_the_first_after() -> None:
    assert at("02:30", "2026-03-28T20:00:00") == "2026-03-29 01:00:00"


def test_a_time_that_occurs_twice_is_the_first() -> None:
    assert at("02:30", "2026-10-24T20:00:00") == "2026-10-25 00:30:00"


def test_the_morning_after_a_change_is_that_days_time() -> None:
    assert at("07:00", "2026-03-28T20:00:00") == "2026-03-29 05:00:00"


@pytest.mark.parametrize("text", ["25:00", "7", "07:60", "noon", ""])
def test_no_time(text: str) -> None:
    with pytest.raises(InputError, match="--at"):
        at(text, "2026-01-10T20:00:00")


def test_shown_with_date_and_zone() -> None:
    assert local_text(0.0, BERLIN) == "1970-01-01 01:00 CET"
