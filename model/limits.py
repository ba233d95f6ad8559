"""Limits of the constraints that a sweep may set; margins are slack against them."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from boilerfront.shared.schema import Section


class Limits(Section):
    """Defaults are our judgement unless a source is named."""

    served: Annotated[float, Field(gt=0, le=1)] = 0.95
    """Longest unbroken time an element may get nothing though it asks, relative to warm-up."""
    watt_density_W_cm2: Annotated[float, Field(ge=3, le=40)] = 10.0
    """Surface load of an element in water: 10 to 15 W/cm² is common practice (from memory)."""
    steam_s: Annotated[float, Field(gt=0, le=120)] = 60.0
    overshoot_K: Annotated[float, Field(gt=0, le=20)] = 2.0
    setpoint_K: Annotated[float, Field(gt=0, le=10)] = 1.0
    wait_s: Annotated[float, Field(ge=0, le=300)] = 300.0
    outlet_boiling_K: Annotated[float, Field(ge=0, le=10)] = 1.0
    """Distance from boiling of the water that leaves the screen [K]."""
    volume_category_L: Annotated[float, Field(gt=0, le=10)] = 2.0
    """Pressure equipment directive 2014/68/EU, article 4(1)(b) (from memory) [L]."""
