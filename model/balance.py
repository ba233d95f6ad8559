"""Does the heat of a run add up: what went in, what came out, what stayed."""

from __future__ import annotations

import numpy as np

from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.steam import internal_energy
from boilerfront.model.props.compiled import compiled, compiled_making_arrays
from boilerfront.model.props.water import density, heat_capacity
from boilerfront.shared.shapes import Floats, Ints

SIMPSON = 16


@compiled
def stored_in_water(from_C: float, to_C: float) -> float:
    """Return the heat that a cubic metre of a full vessel takes up [J/m3]; what expands leaves at its temperature.

    The integral of density times heat capacity, by Simpson's rule.
    """
    step = (to_C - from_C) / SIMPSON
    total = 0.0
    for k in range(SIMPSON + 1):
        weight = 1.0 if k in (0, SIMPSON) else (4.0 if k % 2 == 1 else 2.0)
        t = from_C + k * step
        total += weight * density(t) * heat_capacity(t)
    return total * step / 3.0


@compiled_making_arrays
def residuals(
    stores: Ints, sizes: Floats, volumes_m3: Floats, rooms_C: Floats, out: Floats, final_C: Floats
) -> Floats:
    """Return the balance left open of cold-started runs, relative to the electrical energy [runs].

    `sizes` [runs, nodes], `volumes_m3` [runs] of the steam vessels, `rooms_C` [runs], `out` [runs, NO],
    `final_C` [runs, nodes].
    """
    left = np.empty(out.shape[0])
    for run in range(out.shape[0]):
        stored = 0.0
        for node in range(stores.size):
            end = final_C[run, node]
            if stores[node] == 0:
                stored += sizes[run, node] * (end - rooms_C[run])
            elif stores[node] == 1:
                stored += sizes[run, node] * stored_in_water(rooms_C[run], end)
            else:
                stored += internal_energy(end, out[run, at.O_STEAM_END_KG], volumes_m3[run])
                stored -= internal_energy(rooms_C[run], out[run, at.O_STEAM_START_KG], volumes_m3[run])
        went_in = out[run, at.O_HEATED_J] + out[run, at.O_WATER_IN_J]
        came_out = out[run, at.O_LOSS_J] + out[run, at.O_WATER_OUT_J] + out[run, at.O_STEAM_OUT_J]
        left[run] = (went_in - came_out - stored) / out[run, at.O_ENERGY_J]
    return left
