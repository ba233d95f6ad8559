"""The design variables: what can be chosen, between which physical bounds, for which architectures.

A sweep's ranges lie inside these bounds; the defaults fill what a sweep does not name.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Value = float | int | str | None

ARCHITECTURE_NAMES = ("dual_boiler", "dual_boiler_coil")
_ALL = ARCHITECTURE_NAMES
_COIL = ("dual_boiler_coil",)


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
    architectures: tuple[str, ...] = _ALL


def _number(
    name: str,
    unit: str,
    bounds: tuple[float, float],
    default: float | None,
    text: str,
    **more: tuple[str, ...],
) -> Variable:
    return Variable(name, unit, "number", text, default, low=bounds[0], high=bounds[1], **more)


def _choice(name: str, choices: tuple[str, ...], text: str) -> Variable:
    return Variable(name, "", "choice", text, choices[0], choices=choices)


VARIABLES: dict[str, Variable] = {
    variable.name: variable
    for variable in (
        _choice("architecture", ARCHITECTURE_NAMES, "what kind of machine"),
        _number("brew_volume_mL", "mL", (150.0, 2000.0), 600.0, "volume of the brew boiler"),
        _number("steam_volume_mL", "mL", (300.0, 2500.0), 1200.0, "volume of the steam boiler"),
        _number("brew_power_W", "W", (200.0, 2500.0), 900.0, "rated power of the brew boiler's element"),
        _number("steam_power_W", "W", (400.0, 3000.0), 1400.0, "rated power of the steam boiler's element"),
        _number("group_power_W", "W", (0.0, 400.0), 150.0, "rated power of the group's heater, 0 for none"),
        _number(
            "coil_length_m", "m", (0.1, 3.0), 0.5, "length of the preheat coil's helix", architectures=_COIL
        ),
        _number(
            "coil_bore_mm", "mm", (3.0, 8.0), 4.0, "inside diameter of the coil's tube", architectures=_COIL
        ),
        _number(
            "coil_outer_mm",
            "mm",
            (3.6, 12.0),
            None,
            "outside diameter of the coil's tube; by default the bore and two walls of the data",
            architectures=_COIL,
        ),
        _number("insulation_mm", "mm", (0.0, 40.0), 10.0, "thickness of the insulation of the vessels"),
        _number("steam_set_point_C", "°C", (105.0, 140.0), 124.0, "set-point of the steam boiler"),
        _choice(
            "control", ("pid", "pid_ff"), "control of the brew boiler, without or with flow feed-forward"
        ),
        _choice("group_link", ("bolted", "saturated"), "how the group hangs on the brew boiler"),
        _choice("material", ("stainless", "copper"), "what the vessels are made of"),
    )
}
