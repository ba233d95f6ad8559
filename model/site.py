"""Where the machine stands: mains, water, air, altitude, and the warm-up that counts there."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from boilerfront.shared.schema import Section


class Site(Section):
    """Mains and surroundings of one market. Defaults: 230 V, 10 A socket, sea level."""

    name: str = "230 V 10 A"
    voltage_V: Annotated[float, Field(ge=90, le=260)] = 230.0
    """Nominal mains voltage; elements of the market are rated at it [V]."""
    current_limit_A: Annotated[float, Field(ge=4, le=32)] = 10.0
    """What the cord-and-plug load may draw [A]: 12 A on a 120 V 15 A circuit by the 80 % rule."""
    frequency_Hz: Literal[50, 60] = 50
    mains_tolerance: Annotated[float, Field(ge=0, le=0.2)] = 0.10
    """Supply tolerance, part of the nominal voltage: 0.10 in Europe, 0.05 at 120 V."""
    ambient_C: Annotated[float, Field(ge=5, le=40)] = 22.0
    inlet_C: Annotated[float, Field(ge=2, le=35)] = 15.0
    altitude_m: Annotated[float, Field(ge=0, le=4000)] = 0.0
    pressure_category: bool = True
    """Whether the 2 L limit of the lowest pressure equipment category applies (European sites)."""
    standby_rules: bool = True
    """Whether the European limits of off power and auto-off delay apply (see [limits])."""

    @property
    def flicker_counts(self) -> bool:
        """Return whether flicker is rated here: the method is tied to 230 V, 50 Hz."""
        return self.frequency_Hz == 50 and 220 <= self.voltage_V <= 240


class WarmUp(Section):
    """Which readiness is the objective `warm_up_s`; `brew_ready_s` and `all_ready_s` are both in the table."""

    counts: Literal["all", "brew"] = "all"
    """all: brew boiler, group and steam; brew: without waiting for steam."""


class Markets(Section):
    """How the figures of several sites become one."""

    weights: dict[str, Annotated[float, Field(gt=0)]] = Field(default_factory=dict)
    """Weight of each site: objectives are then their weighted mean; without weights their worst."""
