"""The design variables: what can be chosen, between which physical bounds, for which architectures.

A sweep's ranges lie inside these bounds; the defaults fill what a sweep does not name.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Value = float | int | str | None

_EVERY = ("architecture", "group_power_W")
_VESSELS = ("insulation_mm", "material")
_STEAM = ("steam_volume_mL", "steam_power_W")
_COIL = ("coil_length_m", "coil_bore_mm", "coil_outer_mm", "coil_material")
_BREW = ("brew_volume_mL", "brew_power_W", "control", "group_link")

FAMILIES: dict[str, tuple[str, ...]] = {
    "thermoblock": (
        *_EVERY,
        "brew_power_W",
        "block_mass_kg",
        "channel_length_m",
        "insulation_mm",
        "control",
        "group_link",
    ),
    "single_boiler": (*_EVERY, *_VESSELS, *_BREW, "steam_set_point_C"),
    "heat_exchanger": (*_EVERY, *_VESSELS, *_STEAM, *_COIL, "restrictor_mm"),
    "dual_boiler": (*_EVERY, *_VESSELS, *_BREW, *_STEAM, "steam_set_point_C"),
    "dual_boiler_coil": (*_EVERY, *_VESSELS, *_BREW, *_STEAM, *_COIL, "steam_set_point_C"),
}
"""The architectures and the variables that each of them has."""


@dataclass(frozen=True)
class Variable:
    """One design variable: bounds `low`..`high` for numbers, `choices` for texts."""

    name: str
    unit: str
    kind: Literal["number", "choice"]
    text: str
    default: Value
    low: float = 0.0
    high: float = 0.0
    choices: tuple[str, ...] = ()

    @property
    def architectures(self) -> tuple[str, ...]:
        """Return the names of the architectures that have it."""
        return tuple(name for name, variables in FAMILIES.items() if self.name in variables)


def _number(name: str, unit: str, bounds: tuple[float, float], default: float | None, text: str) -> Variable:
    return Variable(name, unit, "number", text, default, low=bounds[0], high=bounds[1])


def _choice(name: str, choices: tuple[str, ...], text: str) -> Variable:
    return Variable(name, "", "choice", text, choices[0], choices=choices)


VARIABLES: dict[str, Variable] = {
    variable.name: variable
    for variable in (
        Variable(
            "architecture", "", "choice", "what kind of machine", "dual_boiler", choices=tuple(FAMILIES)
        ),
        _number(
            "brew_volume_mL", "mL", (150.0, 2000.0), 600.0, "volume of the brew boiler, or of the single one"
        ),
        _number("steam_volume_mL", "mL", (300.0, 2500.0), 1200.0, "volume of the steam boiler"),
        _number(
            "brew_power_W",
            "W",
            (200.0, 2500.0),
            900.0,
            "rated power of the element that heats the brew water, in boiler or block",
        ),
        _number("steam_power_W", "W", (400.0, 3000.0), 1400.0, "rated power of the steam boiler's element"),
        _number("group_power_W", "W", (0.0, 400.0), 150.0, "rated power of the group's heater, 0 for none"),
        _number(
            "coil_length_m", "m", (0.1, 3.0), 0.5, "length of the coil in the steam boiler, its headers apart"
        ),
        _number("coil_bore_mm", "mm", (3.0, 12.0), 4.0, "inside diameter of the coil's tube"),
        _number(
            "coil_outer_mm",
            "mm",
            (3.6, 16.0),
            None,
            "outside diameter of the coil's tube; by default the bore and two walls of the data",
        ),
        _choice("coil_material", ("stainless", "copper"), "what the coil's tube is made of"),
        _number("block_mass_kg", "kg", (0.3, 4.0), 1.0, "mass of the thermoblock's metal"),
        _number("channel_length_m", "m", (0.3, 4.0), 1.5, "length of the thermoblock's water channel"),
        _number(
            "restrictor_mm",
            "mm",
            (1.0, 6.0),
            2.0,
            "orifice that slows what circulates between heat exchanger and group",
        ),
        _number("insulation_mm", "mm", (0.0, 40.0), 10.0, "thickness of the insulation of the vessels"),
        _number("steam_set_point_C", "°C", (105.0, 140.0), 124.0, "set-point of the steam boiler"),
        _choice("control", ("pid", "pid_ff"), "control of the brew water, without or with flow feed-forward"),
        _choice("group_link", ("bolted", "saturated"), "how the group hangs on boiler or block"),
        _choice("material", ("stainless", "copper", "lead_free_brass"), "what the vessels are made of"),
    )
}

PER_SITE = ("brew_power_W", "steam_power_W", "group_power_W")
"""Variables that a platform for several markets may choose for each of them: `<variable>@<site>`."""


def base_name(name: str) -> str:
    """Return the variable or column that a name with a site is of: `brew_power_W` of `brew_power_W@us`."""
    return name.partition("@")[0]


def site_of(name: str) -> str:
    """Return the site that a name is for, empty for none."""
    return name.partition("@")[2]
