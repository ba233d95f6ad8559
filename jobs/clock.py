"""What the time is, and which instant a person means by a local time such as 07:00.

The clock is injected: tests turn it, nobody sets the machine's. A local time is fixed once, at the start, to
an instant; after that only instants are compared, so a change of summer time in the night moves nothing.
"""

from __future__ import annotations

import re
import time
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import Protocol

from boilerfront.shared.errors import Fault, InputError

_LONGEST_GAP_S = 26 * 3600.0  # wider than any change of a zone's offset


class Clock(Protocol):
    """What the driver needs of time."""

    def now(self) -> float:
        """Return seconds since the epoch."""
        ...

    def sleep(self, seconds: float) -> None:
        """Let `seconds` go by."""
        ...


@dataclass(frozen=True)
class MachineClock:
    """The machine's own clock."""

    def now(self) -> float:
        """Return seconds since the epoch."""
        return time.time()

    def sleep(self, seconds: float) -> None:
        """Let `seconds` go by."""
        time.sleep(seconds)


def next_instant(text: str, *, after: float, option: str, zone: tzinfo | None = None) -> float:
    """Return the next instant after `after` [s since the epoch] at which local clocks show `text` (HH:MM).

    A time that does not exist that day means the first instant after the gap; one that occurs twice means the
    first. `zone` None is the machine's own zone. Raises `InputError` naming `option` if `text` is no time.
    """
    match = re.fullmatch(r"([01]?\d|2[0-3]):([0-5]\d)", text.strip())
    if not match:
        raise InputError([Fault(option, repr(text), "a local time as HH:MM, 00:00 to 23:59")])
    today = datetime.fromtimestamp(after, zone).replace(tzinfo=None)
    wanted = today.replace(hour=int(match[1]), minute=int(match[2]), second=0, microsecond=0)
    for days in range(3):
        instant = _instant(wanted + timedelta(days=days), zone)
        if instant > after:
            return instant
    raise AssertionError("a local time comes within three days")


def local_text(instant: float, zone: tzinfo | None = None) -> str:
    """Return an instant as a person reads it, with date and zone."""
    local = datetime.fromtimestamp(instant, zone) if zone else datetime.fromtimestamp(instant).astimezone()
    return local.strftime("%Y-%m-%d %H:%M %Z").strip()


def stamp(instant: float) -> str:
    """Return an instant as it stands in a run's files: local, to the second, with the zone's offset."""
    return datetime.fromtimestamp(instant).astimezone().isoformat(timespec="seconds")


def _instant(wall: datetime, zone: tzinfo | None) -> float:
    first = wall.replace(tzinfo=zone, fold=0).timestamp()
    if datetime.fromtimestamp(first, zone).replace(tzinfo=None) == wall:
        return first
    return _first_after_gap(first, zone)


def _first_after_gap(near: float, zone: tzinfo | None) -> float:
    """Return the instant, to the second, at which the offset last changed before `near` plus the gap."""
    after = near
    before = near - _LONGEST_GAP_S
    new = _offset_s(after, zone)
    if _offset_s(before, zone) == new:  # `near` itself still lies before the change
        before, after = near, near + _LONGEST_GAP_S
        new = _offset_s(after, zone)
    while after - before > 1.0:
        middle = float(int((before + after) / 2))
        if middle in (before, after):
            break
        before, after = (before, middle) if _offset_s(middle, zone) == new else (middle, after)
    return after


def _offset_s(instant: float, zone: tzinfo | None) -> float:
    local = datetime.fromtimestamp(instant, zone) if zone else datetime.fromtimestamp(instant).astimezone()
    offset = local.utcoffset()
    return offset.total_seconds() if offset is not None else 0.0
