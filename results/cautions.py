"""What every report for people must say about figures that are simulated and machines that can hurt."""

from __future__ import annotations

_REQUIRED = (
    "Safety valves, a thermal cut-out on every heated body, dry-boil protection and earth bonding are required "
    "and outside of what a sweep optimises."
)
SHORT_CAUTION = f"Figures are simulation. {_REQUIRED}"
"""For places with room for a sentence."""

CAUTIONS = (
    "All figures are simulation: of a model, for the duty, the site and the prices of this sweep.",
    "Pressure, mains voltage, steam and scalding water can hurt people. " + _REQUIRED,
    "Materials in contact with drinking water must be approved for it.",
    "Wall thicknesses and pressure limits are for comparison and are no code calculation. Local codes, the "
    "notified body or test laboratory and licensed practice decide.",
    "Limits that the code marks 'from memory' were not checked against the text of the standard.",
)
"""For pages that somebody may build from."""
