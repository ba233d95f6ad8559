"""Coefficients of the model that a bench can correct: what each changes, how far it may go, what would tell it.

A machine's values by coefficient go to the kernel beside those of its tolerances (see `scatter` and `runs`). Factors
are on what the model says without them; ranges and what separates them are our judgement.
"""

from __future__ import annotations

from dataclasses import dataclass

from boilerfront.model.variables import FAMILIES

FACTOR, SECONDS = "", "s"


@dataclass(frozen=True)
class Coefficient:
    """`low`, `high` bound the fit; outside of `sensible` a value is a finding about the bench or the machine.

    `of_kind`: whether it is a property of the design, which a sweep takes over, or of the one machine on the bench.
    `told_by`: the bench test that tells most about it.
    """

    name: str
    unit: str
    text: str
    low: float
    high: float
    sensible: tuple[float, float]
    told_by: str
    of_kind: bool = True
    families: tuple[str, ...] = tuple(FAMILIES)


_COOL_DOWN, _STEP, _FAST = "an idle cool-down", "a step of full power", "a fast shot and a slow one"
_VESSEL = ("single_boiler", "dual_boiler", "dual_boiler_coil")
_STEAM = ("heat_exchanger", "dual_boiler", "dual_boiler_coil")
_TUBE = ("heat_exchanger", "dual_boiler_coil")
_ELEMENT = tuple(name for name in FAMILIES if name != "heat_exchanger")

COEFFICIENTS: dict[str, Coefficient] = {
    each.name: each
    for each in (
        Coefficient(
            "brew_loss", FACTOR, "heat loss of the brew boiler or block", 0.1, 10.0, (0.5, 2.5), _COOL_DOWN,
            families=_ELEMENT,
        ),
        Coefficient(
            "steam_loss", FACTOR, "heat loss of the steam boiler", 0.1, 10.0, (0.5, 2.5), _COOL_DOWN, families=_STEAM
        ),
        Coefficient("group_loss", FACTOR, "heat loss of group and portafilter", 0.1, 10.0, (0.5, 2.0), _COOL_DOWN),
        Coefficient("group_link", FACTOR, "conduction from boiler to group", 0.1, 10.0, (0.4, 2.5), _STEP),
        Coefficient("coil_outside", FACTOR, "film outside of the coil", 0.1, 10.0, (0.5, 2.0), _FAST, families=_TUBE),
        Coefficient("coil_inside", FACTOR, "film inside of the coil", 0.1, 10.0, (0.5, 2.0), _FAST, families=_TUBE),
        Coefficient("mixing", FACTOR, "jet and overturning in the brew boiler", 0.05, 20.0, (0.2, 5.0), _FAST,
                    families=_VESSEL),
        Coefficient("brew_lag_s", SECONDS, "lag of the brew sensor", 0.2, 60.0, (0.5, 20.0), _STEP,
                    families=_ELEMENT),
        Coefficient("group_lag_s", SECONDS, "lag of the group sensor", 0.2, 120.0, (0.5, 40.0), _STEP),
        Coefficient("steam_lag_s", SECONDS, "lag of the steam sensor", 0.2, 60.0, (0.5, 20.0), _STEP,
                    families=_STEAM),
        Coefficient("brew_power_factor", FACTOR, "power of the brew element over its rating", 0.5, 1.5, (0.8, 1.15),
                    _STEP, of_kind=False, families=_ELEMENT),
        Coefficient("group_power_factor", FACTOR, "power of the group's heater over its rating", 0.5, 1.5,
                    (0.8, 1.15), _STEP, of_kind=False),
        Coefficient("steam_power_factor", FACTOR, "power of the steam element over its rating", 0.5, 1.5, (0.8, 1.15),
                    _STEP, of_kind=False, families=_STEAM),
    )
}  # fmt: skip

LAGS = ("brew_lag_s", "group_lag_s", "steam_lag_s")
POWER_FACTORS = ("brew_power_factor", "group_power_factor", "steam_power_factor")


def coefficients_of(architecture: str) -> tuple[str, ...]:
    """Return the names of the coefficients that a machine of an architecture has."""
    return tuple(name for name, each in COEFFICIENTS.items() if architecture in each.families)
