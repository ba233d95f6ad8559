"""Heat exchanger: one steam boiler; the brew water passes through a tube in it, and circulates to the group."""

from __future__ import annotations

import numpy as np

from boilerfront.model.assemblies.assembly import Assembly
from boilerfront.model.assemblies.exchanger import add_exchanger
from boilerfront.model.assemblies.plant import Plant, Setting
from boilerfront.model.assemblies.steam_vessel import add_steam_vessel, size_steam_vessel
from boilerfront.model.brief import Brief
from boilerfront.model.design import Design
from boilerfront.model.duty import mean_flow_mL_s
from boilerfront.model.parts.films import FLOWS_KG_S
from boilerfront.model.props.water import density

STEAM_C = 122.0
"""Steam set-point at which the tube is rated for the first guess; the trim finds the real one."""


def build(design: Design, brief: Brief) -> Plant:
    """Build the plant of a design."""
    a = Assembly(design, brief)
    vessel = size_steam_vessel(a)
    helix = add_exchanger(a, vessel, steam_C=STEAM_C)
    add_steam_vessel(a, vessel, helix=helix, set_C=STEAM_C)
    gain = _effectiveness(a)
    inlet = brief.site.inlet_C
    return a.finish(
        Setting(
            "steam",
            lambda user_C: inlet + (user_C - inlet) / gain - user_C,
            per_user_K=1.0 / gain,
            narrow_K=brief.machine.circulation.range_K,
        )
    )


def _effectiveness(a: Assembly) -> float:
    """Return how far a nominal shot comes from inlet to steam temperature, steady at its mean flow."""
    site = a.brief.site
    flow = 1e-6 * mean_flow_mL_s(a.brief.duty) * density(site.inlet_C)
    leaving = float(np.interp(flow, FLOWS_KG_S, a.refill_C))
    return (leaving - site.inlet_C) / (STEAM_C - site.inlet_C)
