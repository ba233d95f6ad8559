"""Dual boiler: a brew boiler refilled with cold water, and a separate steam boiler."""

from __future__ import annotations

from functools import partial

from boilerfront.model.assemblies.assembly import Assembly
from boilerfront.model.assemblies.brew_vessel import LAYERS, add_brew_vessel
from boilerfront.model.assemblies.group_head import hang_on_vessel, offset_for_group_K
from boilerfront.model.assemblies.plant import Plant, Setting
from boilerfront.model.assemblies.steam_vessel import add_steam_vessel, is_held_off, size_steam_vessel
from boilerfront.model.brief import Brief
from boilerfront.model.design import Design


def build(design: Design, brief: Brief) -> Plant:
    """Build the plant of a design."""
    a = Assembly(design, brief)
    add_brew_vessel(a)
    add_steam_vessel(
        a, size_steam_vessel(a), helix=None, set_C=design.steam_set_C, held_off=is_held_off(brief)
    )
    hang_on_vessel(a, outlet=f"brew_{LAYERS}")
    return a.finish(Setting("brew", partial(offset_for_group_K, a)))
