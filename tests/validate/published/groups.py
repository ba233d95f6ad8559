"""All checks against what others have published: the files that make them, in the table's order."""

from __future__ import annotations

from tests.validate.checks import Check, Groups
from tests.validate.published.balance_values import balance_groups
from tests.validate.published.control_values import control_groups
from tests.validate.published.front_values import front_groups
from tests.validate.published.property_values import property_groups
from tests.validate.published.steam_values import steam_groups
from tests.validate.published.surface_values import surface_groups
from tests.validate.published.tube_values import tube_groups
from tests.validate.published.vessel_values import vessel_groups

PUBLISHED: dict[str, Groups] = {
    "properties": property_groups,
    "tubes": tube_groups,
    "surfaces": surface_groups,
    "steam": steam_groups,
    "vessels": vessel_groups,
    "balances": balance_groups,
    "control": control_groups,
    "fronts": front_groups,
}


def checks_of(name: str) -> list[Check]:
    """Return the checks of one of the files."""
    return [check for group in PUBLISHED[name]() for check in group.checks]
