"""Limits of the constraints that a sweep may set, and where each margin's limit comes from."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from boilerfront.shared.schema import Section


class Limits(Section):
    """Margins are slack against these; `SOURCES` says where their defaults come from."""

    served: Annotated[float, Field(gt=0, le=1)] = 0.95
    """Longest unbroken time an element may get nothing though it asks, relative to warm-up."""
    watt_density_W_cm2: Annotated[float, Field(ge=3, le=40)] = 10.0
    """Surface load of an element in water."""
    watt_density_steam_W_cm2: Annotated[float, Field(ge=0.5, le=10)] = 2.0
    """Surface load that an element in steam bears: below it the steam boiler's element need not stay covered."""
    steam_s: Annotated[float, Field(gt=0, le=120)] = 60.0
    overshoot_K: Annotated[float, Field(gt=0, le=20)] = 2.0
    setpoint_K: Annotated[float, Field(gt=0, le=10)] = 1.0
    wait_s: Annotated[float, Field(ge=0, le=300)] = 300.0
    outlet_boiling_K: Annotated[float, Field(ge=0, le=10)] = 1.0
    """Distance from boiling of the water that leaves the screen [K]."""
    volume_category_L: Annotated[float, Field(gt=0, le=10)] = 2.0
    """Volume of a steam vessel that needs no more than sound engineering practice, where the rule applies [L]."""
    steam_valve_bar: Annotated[float, Field(ge=0, le=1)] = 0.1
    """Least distance of the steam boiler's pressure at its set-point from its safety valve's [bar]."""
    off_W: Annotated[float, Field(gt=0, le=5)] = 0.5
    """Highest power when switched off, where `site.standby_rules` [W]."""
    auto_off_s: Annotated[float, Field(gt=0, le=7200)] = 1800.0
    """Longest time from the last shot to auto-off, where `site.standby_rules` [s]; 3600 s with cup preheating."""


PST_LIMIT = 1.0
"""Short-term flicker that IEC 61000-3-3 allows (from memory)."""
AUTO_OFF_SOURCE = "EU 1275/2008 as amended by 801/2013, kept in an annex of EU 2023/826 (from memory)"
OFF_SOURCE = "EU 2023/826 (from memory); 0.3 W from 9 May 2027"
_JUDGEMENT = "our judgement"
_BOILING = "IAPWS-IF97 at the site's pressure (ISO 2533); the distance is our judgement"

SOURCES: dict[str, str] = {
    "margin_mains_A": (
        "national plugs and sockets; 120 V, 15 A: 80 % by NEC 210.23(A)(1), 2020 edition; all from memory"
    ),
    "margin_served": _JUDGEMENT,
    "margin_watt_density_W_cm2": (
        "10 to 15 W/cm2 are common practice in water (from memory); power +5 % or 20 W by IEC 60335-1 clause 10, "
        "mains +10 % by EN 50160 or +5 % by ANSI C84.1 (from memory)"
    ),
    "margin_level_mm": (
        "heating without water is an abnormal operation by IEC 60335-1 clause 19 (from memory); no distance above "
        "the element is our judgement; asked of more than 1 to 3 W/cm2, common practice in steam (from memory)"
    ),
    "margin_outlet_boiling_K": _BOILING,
    "margin_brew_boiling_K": "IAPWS-IF97 at the idle line's pressure; the distance is our judgement",
    "margin_coil_boiling_K": "IAPWS-IF97 at the idle line's pressure",
    "margin_steam_s": _JUDGEMENT,
    "margin_overshoot_K": _JUDGEMENT,
    "margin_setpoint_K": "shot to shot 0.5 K, within a shot 1 K: common practice (from memory)",
    "margin_trim_K": "IAPWS-IF97 at the idle line's pressure; the lower bound is our judgement",
    "margin_wait_s": _JUDGEMENT,
    "margin_coil_fit_mm": "room for bending and brazing is our judgement",
    "margin_envelope_mm": "the sweep's casing",
    "margin_wall_mm": (
        "shell ASME VIII-1 UG-27(c)(1), dished ends UG-32, flat ends a clamped plate (S. Timoshenko), formulas and "
        "stresses from memory; no code calculation"
    ),
    "margin_volume_category_L": "2014/68/EU article 4(1)(b): steam above 110 degC and more than 2 L (from memory)",
    "margin_steam_valve_bar": "the safety valve's opening pressure, gauge; the distance is our judgement",
    "margin_pump_bar": "pump curve of the sweep; 9 bar gauge on the puck is common practice (from memory)",
    "pressure_volume_bar_L": "2014/68/EU annex II table 5: category I up to 50 bar L (from memory)",
    "standby_kWh_day": f"auto-off: {AUTO_OFF_SOURCE}; off: {OFF_SOURCE}",
    "flicker_Pst": f"at most {PST_LIMIT:g} by IEC 61000-3-3, computed by its memory-time method (from memory)",
}
"""Where each margin's limit, and the rule behind a figure, comes from: the edition where there is one, 'from memory'
where the text was not at hand."""
