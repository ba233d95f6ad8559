"""A helix in the steam boiler that heats the water on its way: a preheat coil, or a heat exchanger's tube."""

from __future__ import annotations

from math import pi

from boilerfront.model.assemblies.assembly import Assembly
from boilerfront.model.network.graph import FLOW, Carry, Store
from boilerfront.model.parts import films
from boilerfront.model.parts.helix import SEGMENTS, Helix, make_helix
from boilerfront.model.parts.refill import expected_refill_C
from boilerfront.model.parts.vessel import Vessel

COIL_MINUTES = 6.0


def add_coil(
    a: Assembly, vessel: Vessel, *, steam_C: float, follows: str = FLOW, bought_as: str = "coil"
) -> Helix:
    """Wind the coil into `vessel`, the steam boiler; its film follows FLOW or all flow through it.

    `bought_as` begins its items in the price book.

    Nodes coil_header_in, coil_1 ..., coil_header_out and tube_...; the steam node may come later.
    """
    helix = make_helix(a.design, vessel, a.machine.coil)
    inside = a.law("helix", follows, films.helix_table(helix.bore_m, helix.curvature))
    straight = a.law("header", follows, films.straight_table(helix.bore_m, helix.header_m))
    bath = a.law("bath", "steam", films.bath_table(helix.outer_m))
    a.law("condensation", "steam", films.condensation_table(helix.outer_m))
    segment = helix.length_m / SEGMENTS
    cells = [
        ("header_in", helix.header_m, straight, Carry.HEADER),
        *((str(k), segment, inside, Carry.BATH) for k in range(1, SEGMENTS + 1)),
        ("header_out", helix.header_m, straight, Carry.HEADER),
    ]
    for name, length, _, _ in cells:
        a.node(f"coil_{name}", Store.WATER, pi / 4.0 * helix.bore_m**2 * length)
        a.net.path.append(f"coil_{name}")
        a.net.coil.append(f"coil_{name}")
    for name, length, law, carry in cells:
        a.node(f"tube_{name}", Store.SOLID, helix.heat_capacity_J_mK * length)
        a.link(Carry.FORCED, f"coil_{name}", f"tube_{name}", pi * helix.bore_m * length, law=law)
        outside = pi * helix.outer_m * length
        a.link(carry, f"tube_{name}", "steam", outside, helix.wall_mK_W / length, law=bath)
    a.net.roles["refill"] = "coil_header_out"
    level = a.machine.steam_vessel
    a.refill_C = expected_refill_C(
        helix,
        inlet_C=a.brief.site.inlet_C,
        steam_C=steam_C,
        level=0.5 * (level.level_low + level.level_high),
        height_m=vessel.height_m,
    )
    a.helix = helix
    a.fit_m = helix.fit_m
    a.mass_kg += helix.mass_kg
    a.minutes += COIL_MINUTES
    a.buy(f"{bought_as}_tube_{a.design.coil_material}", helix.length_m + 2.0 * helix.header_m, of="coil")
    a.buy(f"{bought_as}_piece", 1.0, of="coil")
    return helix
