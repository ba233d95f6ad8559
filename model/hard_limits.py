"""The limits of a sweep that law, standards and physics set, in words, each with its source."""

from __future__ import annotations

from typing import NamedTuple

from boilerfront.model.brief import Brief
from boilerfront.model.limits import AUTO_OFF_SOURCE, OFF_SOURCE, SOURCES
from boilerfront.model.runs import boiling_C, set_point_range_C


class HardLimit(NamedTuple):
    """One limit: what it limits, how, and where that comes from."""

    what: str
    limit: str
    source: str


def hard_limits(brief: Brief) -> list[HardLimit]:
    """Return the hard limits of a sweep; those that no site of it has are left out."""
    limits, vessels = brief.limits, brief.machine.vessels
    by_name = {name: own.site for name, own in brief.by_site().items()}
    sites = list(by_name.values())
    mains = ", ".join(f"{name} {site.current_limit_A:g} A".strip() for name, site in by_name.items())
    valves = f"brew {vessels.brew_valve_bar:g}, steam {vessels.steam_valve_bar:g} bar gauge"
    found = [
        HardLimit("mains", mains, SOURCES["margin_mains_A"]),
        HardLimit(
            "load in water", f"{limits.watt_density_W_cm2:g} W/cm²", SOURCES["margin_watt_density_W_cm2"]
        ),
        HardLimit("load in steam", f"{limits.watt_density_steam_W_cm2:g} W/cm²", SOURCES["margin_level_mm"]),
        HardLimit("safety valves", valves, SOURCES["margin_steam_valve_bar"]),
        HardLimit(
            "walls", f"for the valves' pressure and 10 %, {vessels.ends} ends", SOURCES["margin_wall_mm"]
        ),
    ]
    if any(site.pressure_category for site in sites):
        volume = f"steam boiler up to {limits.volume_category_L:g} L"
        found.append(HardLimit("pressure", volume, SOURCES["margin_volume_category_L"]))
    if any(site.standby_rules for site in sites):
        found.append(HardLimit("auto-off", f"after {limits.auto_off_s / 60:g} min at most", AUTO_OFF_SOURCE))
        found.append(HardLimit("switched off", f"{limits.off_W:g} W at most", OFF_SOURCE))
    found += [
        HardLimit("boiling", _boiling(own), SOURCES["margin_outlet_boiling_K"]) for own in _at_heights(brief)
    ]
    return found


def _at_heights(brief: Brief) -> list[Brief]:
    """Return the brief of one site for each altitude."""
    heights = {own.site.altitude_m: own for own in brief.by_site().values()}
    return list(heights.values())


def _boiling(brief: Brief) -> str:
    low, top = set_point_range_C(brief)
    words = f"{boiling_C(brief):.1f} °C at {brief.site.altitude_m:g} m; set-points {low:g} to {top:g} °C"
    asked = brief.duty.set_point_high_C
    return f"{words} ({asked:g} asked for)" if top < asked else words
