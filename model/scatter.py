"""What a machine of the batch differs in: from its values by column to the numbers that the kernel marches with."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from boilerfront.model.assemblies.assembly import CASING
from boilerfront.model.kernel import layout as at
from boilerfront.model.network.graph import Carry, Network
from boilerfront.model.parts.element import power_band
from boilerfront.model.tolerances import POWERS
from boilerfront.shared.shapes import Floats

_HEATERS = {
    "brew_power": (at.P_BREW_W, at.P_BREW_GAIN),
    "group_power": (at.P_GROUP_W, at.P_GROUP_GAIN),
    "steam_power": (at.P_STEAM_W, at.P_STEAM_GAIN),
}


def power_factor(rated_W: float, place: float) -> float:
    """Return an element's power over its rating at a place of the band allowed, -1 (lowest) to 1 (highest)."""
    low, high = power_band(rated_W)
    return 0.5 * (low + high) + 0.5 * (high - low) * place


def scatter_powers(p: Floats, machine: Mapping[str, float]) -> None:
    """Give the elements of a run, parameters `p` [NP], the powers of one machine.

    A controller asks for a part of full power: an element that gives a tenth less makes every gain a tenth
    smaller, the feed-forward's as well.
    """
    for name in POWERS:
        if name not in machine:
            continue
        power, gain = _HEATERS[name]
        factor = power_factor(p[power], machine[name])
        p[power] *= factor
        p[gain] *= factor
        if name == "brew_power":
            p[at.P_FEED_FORWARD] *= factor


class Links:
    """Which links of an architecture's network a machine's values change."""

    def __init__(self, network: Network) -> None:
        carries = [carry for carry, _, _, _ in network.links]
        self._outside = np.array([carry in (Carry.BATH, Carry.HEADER) for carry in carries])
        self._coil = self._outside | np.array(
            [carry == Carry.FORCED and a.startswith("coil_") for carry, a, _, _ in network.links]
        )
        self._sheaths = np.array([carry == Carry.SHEATH for carry in carries])
        self._losses = np.array([carry == Carry.FIXED and b == CASING for carry, _, b, _ in network.links])

    def scattered(self, numbers: Floats, machine: Mapping[str, float]) -> Floats:
        """Return the links' `numbers` [links, 3] as one machine has them.

        coil_conductance scales the coil's films and its wall alike; insulation the vessels' losses; limescale
        lies on the whole outside of coil and sheaths [m2K/W over m2], in series with what is there.
        """
        coil = machine.get("coil_conductance", 1.0)
        loss = machine.get("insulation", 1.0)
        scale = machine.get("scale", 0.0)
        if (coil, loss, scale) == (1.0, 1.0, 0.0):
            return numbers
        found = numbers.copy()
        found[self._coil, 0] *= coil
        found[self._coil, 1] /= coil
        found[self._losses, 0] *= loss
        found[self._outside, 1] += scale / numbers[self._outside, 0]
        found[self._sheaths, 2] += scale / numbers[self._sheaths, 0]
        return found
