"""What an architecture makes of a design: its network, its film laws, its parts and how they are controlled."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from boilerfront.model.design import Design
from boilerfront.model.kernel import layout as at
from boilerfront.model.network.graph import Network
from boilerfront.model.parts.element import Element
from boilerfront.model.parts.envelope import Packed
from boilerfront.model.parts.helix import Helix
from boilerfront.model.parts.tuning import Loop
from boilerfront.model.parts.vessel import Vessel
from boilerfront.shared.shapes import Floats

CIRCUITS = ("brew", "group", "steam")
"""What is heated and controlled, in the order of priority at the socket."""


@dataclass(frozen=True)
class Circuit:
    """One heated circuit: rated power, tuning, lag of its sensor, firing window."""

    power_W: float
    loop: Loop
    sensor_lag_s: float
    window_s: float


class Part(NamedTuple):
    """A line of the bill: item of the price book, quantity in the book's unit, and what it belongs to.

    `of` is the name of a circuit or vessel, "coil", or empty for what the machine has as a whole.
    """

    item: str
    quantity: float
    of: str


@dataclass(frozen=True)
class Waterline:
    """The vessel that steams: its height [m] and the top of its element, part of the height."""

    height_m: float
    element_top: float


@dataclass(frozen=True)
class Setting:
    """How the machine is set to what the user asks for.

    `circuit` is the one whose set-point the factory trims. A kelvin more for the user takes `per_user_K` kelvin
    more there. `first_K` [°C] -> [K] is the first guess of the offset for a user's set-point, `narrow_K` the
    distance from the default that the user may go, None for the duty's whole range.
    """

    circuit: str
    first_K: Callable[[float], float]
    per_user_K: float = 1.0
    narrow_K: float | None = None


@dataclass(frozen=True)
class Plant:
    """One design, built. `laws` [laws, NX, COEFFICIENTS]; `refill_C` [NX]: what the feed-forward expects, over flow.

    `fit_m` is the least room left to what is wound into a vessel or cast into a block; `packed` is what stands in
    the casing; `steaming` are the vessels that hold steam. `vessels`, `elements` and `circuits` by name, those that
    the machine has; `parameters` of the kernel by their place in it; `parts` the bill, a line for each
    item of each part of the machine.
    """

    design: Design
    network: Network
    laws: Floats
    refill_C: Floats
    vessels: Mapping[str, Vessel]
    elements: Mapping[str, Element]
    circuits: Mapping[str, Circuit]
    helix: Helix | None
    fit_m: float | None
    setting: Setting
    parameters: Mapping[int, float]
    packed: tuple[Packed, ...]
    steaming: frozenset[str]
    waterline: Waterline | None
    parts: tuple[Part, ...]
    assembly_minutes: float
    mass_kg: float

    @property
    def keeps_steam(self) -> bool:
        """Return whether the machine keeps its steam hot: not one that swings, nor one whose boiler is held off."""
        return self.parameters.get(at.P_STEAM_KEPT, 1.0) > 0.0
