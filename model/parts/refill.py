"""What temperature the feed-forward expects of the refill: the coil as a heat exchanger in a steady bath."""

from __future__ import annotations

from math import pi

import numpy as np

from boilerfront.model.kernel.layout import NX
from boilerfront.model.kernel.steam import immersed_share
from boilerfront.model.laws.closed_forms import effectiveness_isothermal
from boilerfront.model.laws.external import horizontal_cylinder_in_water
from boilerfront.model.laws.internal import nusselt_helical, reynolds
from boilerfront.model.laws.phase import film_condensation
from boilerfront.model.parts.films import flow_of
from boilerfront.model.parts.helix import Helix
from boilerfront.model.props.compiled import compiled_making_arrays
from boilerfront.model.props.water import conductivity, heat_capacity, prandtl
from boilerfront.shared.shapes import Floats

ITERATIONS = 8


def expected_refill_C(
    helix: Helix | None, *, inlet_C: float, steam_C: float, level: float, height_m: float
) -> Floats:
    """Return the refill's temperature at each flow of the grid [NX] by eps-NTU with mean properties."""
    if helix is None:
        return np.full(NX, inlet_C)
    share = immersed_share(level, height_m, helix.height_m)
    wall = helix.wall_mK_W / (helix.length_m + 2.0 * helix.header_m)
    return _outlet(
        helix.bore_m,
        helix.outer_m,
        helix.length_m,
        2.0 * helix.header_m * level,
        helix.curvature,
        share,
        wall,
        inlet_C,
        steam_C,
    )


@compiled_making_arrays
def _outlet(
    bore_m: float,
    outer_m: float,
    length_m: float,
    wet_header_m: float,
    curvature: float,
    share: float,
    wall_K_W: float,
    inlet_C: float,
    steam_C: float,
) -> Floats:
    """March over the grid's flows; the mean wall temperature is found by repeated substitution."""
    outlet = np.empty(NX)
    outlet[0] = steam_C
    area_in = pi * bore_m * (length_m + wet_header_m)
    area_out = pi * outer_m * (length_m + wet_header_m)
    for i in range(1, NX):
        flow = flow_of(i)
        out = 0.5 * (inlet_C + steam_C)
        wall = 0.5 * (out + steam_C)
        for _ in range(ITERATIONS):
            mean = 0.5 * (inlet_C + out)
            film = nusselt_helical(reynolds(flow, bore_m, mean), prandtl(mean), curvature)
            inside = film * conductivity(mean) / bore_m * area_in
            wet = horizontal_cylinder_in_water(wall, steam_C, outer_m)
            dry = film_condensation(steam_C, wall, outer_m)
            outside = (share * wet + (1.0 - share) * dry) * area_out
            total = 1.0 / (1.0 / inside + wall_K_W + 1.0 / outside)
            capacity = flow * heat_capacity(mean)
            out = inlet_C + (steam_C - inlet_C) * effectiveness_isothermal(total / capacity)
            wall = steam_C - capacity * (out - inlet_C) / outside
        outlet[i] = out
    return outlet
