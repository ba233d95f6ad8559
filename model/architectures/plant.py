"""What an architecture makes of a design: its network, its film laws, its parts and how they are controlled."""

from __future__ import annotations

from dataclasses import dataclass

from boilerfront.model.design import Design
from boilerfront.model.network.graph import Network
from boilerfront.model.parts.element import Element
from boilerfront.model.parts.helix import Helix
from boilerfront.model.parts.tuning import Loop
from boilerfront.model.parts.vessel import Vessel
from boilerfront.shared.shapes import Floats


@dataclass(frozen=True)
class Plant:
    """One design, built. `laws` [laws, NX, NY]; `refill_C` [NX]: what the feed-forward expects, over flow."""

    design: Design
    network: Network
    laws: Floats
    refill_C: Floats
    brew: Vessel
    steam: Vessel
    steam_water_m3: float
    steam_start_kg: float
    brew_element: Element
    steam_element: Element
    helix: Helix | None
    brew_loop: Loop
    group_loop: Loop
    steam_loop: Loop
    parts: tuple[tuple[str, float], ...]
    assembly_minutes: float
    mass_kg: float
