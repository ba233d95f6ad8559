"""Thermoblock: one heated block that water passes through, for brewing and, hotter, for steam."""

from __future__ import annotations

from functools import partial

from boilerfront.model.assemblies.assembly import Assembly
from boilerfront.model.assemblies.block import add_block
from boilerfront.model.assemblies.group_head import hang_on_vessel, offset_for_group_K
from boilerfront.model.assemblies.plant import Plant, Setting
from boilerfront.model.assemblies.swing import add_swing
from boilerfront.model.brief import Brief
from boilerfront.model.design import Design


def build(design: Design, brief: Brief) -> Plant:
    """Build the plant of a design."""
    a = Assembly(design, brief)
    hang_on_vessel(a, outlet=add_block(a))
    add_swing(a, steam_set_C=brief.machine.block.steam_set_point_C)
    return a.finish(Setting("brew", partial(offset_for_group_K, a)))
