"""A bench log once it is read: readings by channel on a rising clock, events, checks of probes, what was mended."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from boilerfront.model.fit.columns import INPUTS, Channel, Columns
from boilerfront.shared.shapes import Floats


@dataclass(frozen=True)
class Log:
    """A log as it was read: `time_s` [rows] since switch-on, rising; `values` [rows] by channel, NaN where empty.

    `events`: time and text. `checks`: error of each channel in ice or boiling water, by channel, measured before or
    after the run, as (bath, error): bath °C by name. `notes`: what was mended.
    """

    name: str
    time_s: Floats
    values: dict[str, Floats]
    events: list[tuple[float, str]]
    columns: Columns
    checks: dict[str, list[tuple[str, float]]] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)

    def has(self, channel: str) -> bool:
        """Return whether a channel has readings."""
        return channel in self.values and bool(np.isfinite(self.values[channel]).any())

    def samples(self, channel: str) -> tuple[Floats, Floats]:
        """Return the times and readings of a channel where it has some."""
        known = np.isfinite(self.values[channel])
        return self.time_s[known], self.values[channel][known]

    def temperatures(self) -> list[str]:
        """Return the channels that are temperatures of the machine."""
        return [name for name in self.values if name not in INPUTS and self.has(name)]

    def channel(self, name: str) -> Channel:
        """Return what is known of a channel."""
        return self.columns.channels.get(name, Channel(column=name))
