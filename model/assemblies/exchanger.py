"""Brew water through a tube in the steam boiler, which water circulates through to the group by buoyancy."""

from __future__ import annotations

from math import pi

from boilerfront.model.assemblies.assembly import CASING, Assembly
from boilerfront.model.assemblies.coil import add_coil
from boilerfront.model.assemblies.group_head import add_group
from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.bands import STEAM_BELOW_K
from boilerfront.model.machine import Circulation
from boilerfront.model.network.graph import ALL_FLOW, Carry, Store
from boilerfront.model.parts import films, group
from boilerfront.model.parts.helix import Helix
from boilerfront.model.parts.vessel import Vessel

NO_UPPER_BAND_K = 1e9
PIPES_MINUTES = 8.0
RESTRICTOR_FLOW = 0.62
"""Discharge coefficient of a sharp orifice (common practice, from memory)."""


def add_exchanger(a: Assembly, vessel: Vessel, *, steam_C: float) -> Helix:
    """Add the tube in `vessel`, the pipe up to the group, the group, and the pipe back.

    Nodes as of a coil, and riser, jacket (the group's side of the loop), return.
    """
    helix = add_coil(a, vessel, steam_C=steam_C, follows=ALL_FLOW, bought_as="exchanger")
    data, passage = a.machine.circulation, a.machine.group
    pipe_m3 = pi / 4.0 * (1e-3 * data.bore_mm) ** 2 * data.pipe_m
    a.node("riser", Store.WATER, pipe_m3)
    a.net.path.append("riser")
    add_group(a, hangs_on="riser", link_W_K=data.flange_W_K)
    a.node("jacket", Store.WATER, group.passage_m3(passage))
    law = a.law("jacket", ALL_FLOW, films.passage_table(1e-3 * passage.bore_mm, passage.length_m))
    a.link(Carry.FORCED, "jacket", "group", group.passage_area_m2(passage), law=law)
    a.node("return", Store.WATER, pipe_m3)
    for pipe in ("riser", "return"):
        a.link(Carry.FIXED, pipe, CASING, data.loss_W_K)
    a.net.loop = [*a.net.coil, "riser", "jacket", "return", a.net.coil[0]]
    a.net.roles |= {
        "brew_sensor": "steam",
        "brew_outlet": a.net.coil[-1],
        "brew_inlet": a.net.coil[0],
        "loop_hot": a.net.coil[-1],
        "loop_cold": "return",
    }
    a.parameters |= _circulation(data, helix, passage.bore_mm, passage.length_m, a.design.restrictor_m)
    a.parameters |= {
        at.P_BREW_LAG_S: a.machine.control.steam_lag_s,  # its only sensor is the steam boiler's
        at.P_BREW_BELOW_K: STEAM_BELOW_K,
        at.P_BREW_ABOVE_K: NO_UPPER_BAND_K,
        at.P_FINDS_REACH: 1.0,
        at.P_FLUSH_M3: 1e-6 * a.machine.swing.flush_mL,
        at.P_FLUSH_PAUSE_S: float(a.machine.swing.flush_pause_s),
        at.P_PURGE_M3: pipe_m3 + group.passage_m3(passage),
    }
    a.minutes += PIPES_MINUTES
    a.buy("thermosyphon_pipe", 2.0 * data.pipe_m, of="coil")
    a.buy("group_bolted", 1.0, of="group")
    return helix


def _circulation(
    data: Circulation, helix: Helix, bore_mm: float, length_m: float, restrictor_m: float
) -> dict[int, float]:
    """Return height and friction of the loop: tube, pipes, the group's passage and the restrictor in a row."""
    bores = (
        (helix.bore_m, helix.length_m + 2.0 * helix.header_m),
        (1e-3 * data.bore_mm, 2.0 * data.pipe_m),
        (1e-3 * bore_mm, length_m),
    )
    area = pi / 4.0 * (1e-3 * data.bore_mm) ** 2
    orifice = pi / 4.0 * restrictor_m**2
    through_orifice = (1.0 / (RESTRICTOR_FLOW * orifice)) ** 2
    return {
        at.P_LOOP_HEIGHT_M: data.height_m,
        at.P_LOOP_FRICTION: sum(128.0 * length / (pi * bore**4) for bore, length in bores),
        at.P_LOOP_FITTINGS: 0.5 * (data.fittings / area**2 + through_orifice),
    }
