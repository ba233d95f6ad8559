"""Which column of a bench log is which channel, in what unit: a small TOML beside the log.

Without one the log's own headers are the channels' names, as a pack's bench plan lists them.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, field_validator

from boilerfront.shared.schema import Section, validated
from boilerfront.shared.toml_file import read_toml_table

TEMPERATURE = {
    "°C": (1.0, 0.0),
    "C": (1.0, 0.0),
    "K": (1.0, -273.15),
    "°F": (5 / 9, -160 / 9),
    "F": (5 / 9, -160 / 9),
}
FLOW = {
    "g/s": (1.0, 0.0),
    "mL/s": (1.0, 0.0),
    "g/min": (1 / 60, 0.0),
    "mL/min": (1 / 60, 0.0),
    "L/min": (1000 / 60, 0.0),
}
POWER = {"W": (1.0, 0.0), "kW": (1000.0, 0.0)}
PRESSURE = {"bar": (1.0, 0.0), "kPa": (0.01, 0.0), "MPa": (10.0, 0.0)}
PART = {"1": (1.0, 0.0), "%": (0.01, 0.0)}
SECONDS = {"s": 1.0, "ms": 1e-3, "min": 60.0, "h": 3600.0}

INPUTS = {
    "flow_g_s": FLOW,
    "refill_g_s": FLOW,
    "steam_flow_g_s": FLOW,
    "brew_power_W": POWER,
    "group_power_W": POWER,
    "steam_power_W": POWER,
    "power_W": POWER,
    "brew_part": PART,
    "group_part": PART,
    "steam_part": PART,
    "current_A": {"A": (1.0, 0.0)},
    "voltage_V": {"V": (1.0, 0.0)},
    "steam_pressure_bar": PRESSURE,
    "room_C": TEMPERATURE,
    "inlet_C": TEMPERATURE,
}  # fmt: skip
"""Channels that are no node of the model, with the units that they may come in: factor and amount added."""

Positive = Annotated[float, Field(gt=0)]


def units_of(channel: str) -> dict[str, tuple[float, float]]:
    """Return the units that a channel may come in; none where it is no channel. Nodes are `<node>_C`."""
    if channel in INPUTS:
        return INPUTS[channel]
    return TEMPERATURE if re.fullmatch("[a-z][a-z0-9_]*_C", channel) else {}


class TimeColumn(Section):
    """The clock: its column, its unit, and how fast it goes."""

    column: str = "time_s"
    unit: Literal["s", "ms", "min", "h", "iso"] = "s"
    """iso: date and time, such as 2026-03-01T07:00:00."""
    rate: Annotated[float, Field(ge=0.9, le=1.1)] = 1.0
    """True seconds in a second of the log's clock."""


class Channel(Section):
    """One channel: its column and unit, and what is known of its error."""

    column: str
    unit: str | None = None
    """By default °C, g/s, W, bar or, of parts, 1."""
    error_K: Annotated[float, Field(ge=0, le=10)] = 0.5
    """Absolute error of a temperature (one sigma) unless an ice or boil check says more [K]."""
    drift_K: Annotated[float, Field(ge=0, le=10)] = 0.1
    """How far a temperature may drift over the log (one sigma) [K]."""
    lag_s: Annotated[float, Field(ge=0, le=60)] = 0.0
    """Lag of the probe itself, beside that of the machine's own sensors [s]."""


class Columns(Section):
    """The whole mapping."""

    delimiter: Literal[",", ";", "tab"] = ","
    decimal: Literal[".", ","] = "."
    time: TimeColumn = TimeColumn()
    event: str = "event"
    """Column of what happened; it may be missing."""
    start: Literal["auto", "cold", "settled"] = "auto"
    """cold: all is as warm as the room; settled: in equilibrium at the first readings."""
    powers: Literal["before", "after"] = "before"
    """Whether a row's powers and flows are means over the time before it or hold for the time after it."""
    channels: dict[str, Channel] = Field(default_factory=dict)
    """By the channel's name; without any, the headers are names of channels."""

    @field_validator("channels")
    @classmethod
    def _known(cls, channels: dict[str, Channel]) -> dict[str, Channel]:
        faults = []
        for name, channel in channels.items():
            units = units_of(name)
            if not units:
                faults.append(f"{name} is no channel: {', '.join(INPUTS)} or a node's temperature <node>_C")
            elif channel.unit is not None and channel.unit not in units:
                faults.append(f"{name}: unit {channel.unit!r} is none of {', '.join(units)}")
        taken = [channel.column for channel in channels.values()]
        faults += [
            f"column {each!r} is named twice" for each in sorted({c for c in taken if taken.count(c) > 1})
        ]
        if faults:
            raise ValueError("; ".join(faults))
        return channels


def read_columns(path: Path) -> Columns:
    """Return the mapping at `path`; raises `InputError` with every fault."""
    data = read_toml_table(path, allowed="a TOML file of the log's columns")
    return validated(Columns, data, where=str(path))
