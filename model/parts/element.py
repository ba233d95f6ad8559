"""A sheathed immersion heater: how long it is, how much surface it has, how quick it follows."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from boilerfront.model.machine import Elements
from boilerfront.model.parts.vessel import Vessel

CLEARANCE_M = 0.010
PITCH_TO_SHEATH = 1.5
BREW_HEIGHT_SHARE = 0.45
"""Part of the brew boiler's height that its element may take: it heats the lower two of four layers."""


@dataclass(frozen=True)
class Element:
    """Rated power [W], heated length [m], surface [m2], heat capacity [J/K], firing window [s]."""

    power_W: float
    length_m: float
    area_m2: float
    heat_capacity_J_K: float
    window_s: float


def make_element(power_W: float, vessel: Vessel, height_share: float, data: Elements) -> Element:
    """Size an element: the surface load aimed at, as far as the turns that fit allow it."""
    sheath = 1e-3 * data.sheath_mm
    turns = height_share * vessel.height_m / (PITCH_TO_SHEATH * sheath)
    fits = turns * pi * (vessel.diameter_m - sheath - CLEARANCE_M)
    wanted = power_W / (1e4 * data.load_W_cm2) / (pi * sheath)
    length = min(wanted, fits)
    area = pi * sheath * length
    return Element(power_W, length, area, area * data.heat_capacity_J_m2K, firing_window_s(power_W, data))


def firing_window_s(power_W: float, data: Elements) -> float:
    """Return the window in which an element of this power is switched [s]."""
    return data.window_s if power_W <= 900.0 else data.window_above_900_W_s


def power_band(rated_W: float) -> tuple[float, float]:
    """Return the least and the largest power over the rated one (IEC 60335-1, clause 10, from memory).

    Up to 25 W +20 % (no lower end is set: taken as far), up to 200 W +-10 %, above -10 % and the larger of +5 % and
    20 W.
    """
    if rated_W <= 25.0:
        return 0.8, 1.2
    return 0.9, 1.1 if rated_W <= 200.0 else max(1.05, 1.0 + 20.0 / rated_W)


def surface_load_W_cm2(element: Element, over_voltage: float) -> float:
    """Return the highest surface load [W/cm2]: highest power of the band, highest mains.

    `over_voltage` is the highest mains voltage over the rated one.
    """
    highest = element.power_W * power_band(element.power_W)[1] * over_voltage**2
    return highest / element.area_m2 * 1e-4
