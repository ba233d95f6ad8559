"""Single boiler: one vessel that brews, and steams after it was heated up and vented."""

from __future__ import annotations

from functools import partial

from boilerfront.model.assemblies.assembly import Assembly
from boilerfront.model.assemblies.brew_vessel import LAYERS, add_brew_vessel
from boilerfront.model.assemblies.group_head import hang_on_vessel, offset_for_group_K
from boilerfront.model.assemblies.plant import Plant, Setting, Waterline
from boilerfront.model.assemblies.swing import add_swing, add_vented_vessel
from boilerfront.model.brief import Brief
from boilerfront.model.design import Design
from boilerfront.model.parts.element import BREW_HEIGHT_SHARE


def build(design: Design, brief: Brief) -> Plant:
    """Build the plant of a design."""
    a = Assembly(design, brief)
    vessel = add_brew_vessel(a)
    hang_on_vessel(a, outlet=f"brew_{LAYERS}")
    add_swing(a, steam_set_C=design.steam_set_C)
    add_vented_vessel(a, vessel.volume_m3)
    a.steaming.add("brew")
    a.waterline = Waterline(vessel.height_m, BREW_HEIGHT_SHARE)
    return a.finish(Setting("brew", partial(offset_for_group_K, a)))
