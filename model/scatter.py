"""What a machine of the batch differs in: from its values by column to the numbers that the kernel marches with."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from boilerfront.model.assemblies.assembly import CASING
from boilerfront.model.kernel import layout as at
from boilerfront.model.network.graph import Carry, Network
from boilerfront.model.parts.element import power_band
from boilerfront.model.tolerances import POWERS
from boilerfront.shared.shapes import Bools, Floats

_HEATERS = {
    "brew_power": (at.P_BREW_W, at.P_BREW_GAIN),
    "group_power": (at.P_GROUP_W, at.P_GROUP_GAIN),
    "steam_power": (at.P_STEAM_W, at.P_STEAM_GAIN),
}

_LAGS = {"brew_lag_s": at.P_BREW_LAG_S, "group_lag_s": at.P_GROUP_LAG_S, "steam_lag_s": at.P_STEAM_LAG_S}


def power_factor(rated_W: float, place: float) -> float:
    """Return an element's power over its rating at a place of the band allowed, -1 (lowest) to 1 (highest)."""
    low, high = power_band(rated_W)
    return 0.5 * (low + high) + 0.5 * (high - low) * place


def correct(p: list[float], machine: Mapping[str, float]) -> None:
    """Give a run, parameters `p` [NP], the lags and powers that a bench found; gains stay as they were set."""
    for name, place in _LAGS.items():
        # Without a brew circuit another's sensor plays its part.
        if name != "brew_lag_s" or p[at.P_BREW_W] > 0.0:
            p[place] = machine.get(name, p[place])
    for name, (power, _) in _HEATERS.items():
        p[power] *= machine.get(f"{name}_factor", 1.0)


def scatter_powers(p: list[float], machine: Mapping[str, float]) -> None:
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
        self._corrected = _corrected(network)

    def scattered(self, numbers: Floats, machine: Mapping[str, float]) -> Floats:
        """Return the links' `numbers` [links, 3] as one machine has them.

        coil_conductance scales the coil's films and its wall alike; insulation the vessels' losses; limescale
        lies on the whole outside of coil and sheaths [m2K/W over m2], in series with what is there. What a bench
        corrected (see `coefficients`) comes before them.
        """
        areas = numbers[:, 0]
        for name, (links, places) in self._corrected.items():
            factor = machine.get(name, 1.0)
            if factor != 1.0:
                numbers = numbers.copy()
                for place in places:
                    numbers[links, place] *= factor
        coil = machine.get("coil_conductance", 1.0)
        loss = machine.get("insulation", 1.0)
        scale = machine.get("scale", 0.0)
        if (coil, loss, scale) == (1.0, 1.0, 0.0):
            return numbers
        found = numbers.copy()
        found[self._coil, 0] *= coil
        found[self._coil, 1] /= coil
        found[self._losses, 0] *= loss
        found[self._outside, 1] += scale / areas[self._outside]
        found[self._sheaths, 2] += scale / areas[self._sheaths]
        return found


def _corrected(network: Network) -> dict[str, tuple[Bools, tuple[int, ...]]]:
    """Return by coefficient which links it scales, and which of their numbers."""

    def links(applies: Callable[[Carry, str, str], bool], *places: int) -> tuple[Bools, tuple[int, ...]]:
        found = [applies(carry, a, b) for carry, a, b, _ in network.links]
        return np.array(found, dtype=np.bool_), places or (0,)

    def loss_of(*nodes: str) -> Callable[[Carry, str, str], bool]:
        return lambda carry, a, b: carry == Carry.FIXED and b == CASING and a.startswith(nodes)

    return {
        "brew_loss": links(loss_of("brew_wall", "block_")),
        "steam_loss": links(loss_of("steam_wall")),
        "group_loss": links(lambda carry, a, b: carry == Carry.AIR),
        "group_link": links(lambda carry, a, b: carry == Carry.FIXED and b == "group"),
        "coil_outside": links(lambda carry, a, b: carry in (Carry.BATH, Carry.HEADER)),
        "coil_inside": links(lambda carry, a, b: carry == Carry.FORCED and a.startswith("coil_")),
        "mixing": links(lambda carry, a, b: carry == Carry.LAYERS, 1, 2),
    }
