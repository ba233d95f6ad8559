"""What every machine of its kind must have and no sweep optimises or prices: drawn with a tag, and listed."""

from __future__ import annotations

import re
from dataclasses import dataclass

from boilerfront.model.describe import Description
from boilerfront.results.pack.blocks import Table
from boilerfront.results.pack.devices import NUMBERS, body_word, cut_outs, listed, safety_valves

TITLE = "Required, not part of this pack"
_PRACTICE = "common practice (from memory)"
_SAFETY = "IEC 60335-1 and 60335-2-15 (from memory)"


@dataclass(frozen=True)
class Required:
    """A thing that must be there: its tag, what it is and does, and where the rule comes from."""

    tag: str
    what: str
    why: str
    source: str

    @property
    def name(self) -> str:
        """Return what it is, without what it does."""
        return re.split("[,:;]", self.what, maxsplit=1)[0]


def required(machine: Description, *, valve_bar: float) -> tuple[Required, ...]:
    """Return what a machine needs besides its bill; `valve_bar` is the most that its brew side bears [bar gauge]."""
    found = [
        Required(
            "XV1",
            f"expansion valve of the brew side, opens below {valve_bar:.1f} bar gauge, outlet led to the drain",
            "water that is shut in and heated must have a way out that nothing can block",
            _PRACTICE,
        )
    ]
    if machine.body("steam") is not None:
        found += [
            Required(
                "CV1",
                "non-return valve in the brew line, behind the branch of the refill",
                "while V2 refills, the brew side keeps its pressure and nothing flows back into the steam boiler",
                _PRACTICE,
            ),
            Required(
                "LC3",
                "level cut-off of the steam boiler: an electrode of its own at the top of the element, that switches "
                "E3 off without the controller",
                "L1, V2 or the controller may fail: E3 must not heat in steam",
                f"{_SAFETY}: abnormal operation, clause 19 of part 1",
            ),
        ]
    found += [
        Required(
            f"VB{NUMBERS[body.name]}",
            f"vacuum breaker of the {body_word(body)}",
            "a boiler that cools draws milk back through the wand and its walls are loaded from outside",
            _PRACTICE,
        )
        for body in machine.bodies
        if body.steams
    ]
    elements = tuple(f"E{NUMBERS[heater.name]}" for heater in machine.heaters)
    switches = tuple(each.tag for each in cut_outs(machine))
    found += [
        Required(
            "S1",
            "double-pole switch between the mains and everything else",
            "off must part both conductors",
            _SAFETY,
        ),
        Required(
            "FU",
            f"fuses: one for each of {listed(elements)}, ratings under 'Elements, currents and fuses'",
            "a short circuit or an earth fault must not burn the wiring",
            _SAFETY,
        ),
        Required(
            "PE",
            "protective earth on every metal part that can be touched and on every vessel",
            "an element's sheath may fail towards the water",
            f"{_SAFETY}: at most 0.1 Ω from the plug's earth, clause 27 of part 1",
        ),
        Required(
            "wiring",
            f"{listed(switches)} wired into the supply of {listed(elements)}, past the controller",
            "a switch of the controller may stay closed",
            _SAFETY,
        ),
    ]
    return tuple(found)


def required_table(found: tuple[Required, ...]) -> Table:
    """Return them as a table."""
    rows = tuple((each.tag, each.what, each.why, each.source) for each in found)
    return Table(("tag", "what", "why", "where the rule comes from"), rows, widths=(1.1, 5, 5, 3.6))


def held_text(machine: Description, *, idle_bar: float, valve_bar: float) -> str:
    """Return what holds the brew side's pressure: `idle_bar` absolute between shots, at most `valve_bar` gauge."""
    what = "the check valve of P1" if machine.body("steam") is None else "the non-return valve CV1"
    above = "XV1 and SV1 keep" if _has_own_valve(machine) else "XV1 keeps"
    return (
        f"What holds the brew side's pressure: between shots it is shut between {what} and V1, and the model takes "
        f"{idle_bar:.1f} bar absolute in it (our judgement): what boils is judged at that. While it heats up, water "
        f"expands and leaves by XV1; {above} it from going above {valve_bar:.1f} bar gauge. During a shot the pump "
        "sets the pressure. When a shot ends V1 lets the group's pressure fall to the drain: nobody opens the "
        "portafilter before that."
    )


def _has_own_valve(machine: Description) -> bool:
    """Return whether the brew side has a safety valve of its own."""
    return any(valve.tag == "SV1" for valve in safety_valves(machine))
