"""What must be tested and released before a prototype is pressurised or plugged in, device by device."""

from __future__ import annotations

from dataclasses import dataclass

from boilerfront.model.describe import Description
from boilerfront.results.pack.blocks import Table
from boilerfront.results.pack.devices import NUMBERS, cut_outs, heated_word, safety_valves
from boilerfront.results.pack.required import Required

_TESTS = {
    "XV": "opens below the safety valve's pressure, its outlet is led away",
    "CV": "holds the brew side's pressure while V2 refills",
    "LC": "with the water drawn down to it and L1 bridged the element is off",
    "VB": "lets air in when the cold boiler is drawn upon",
    "S": "parts both conductors",
    "FU": "rating as who is licensed to choose it has written down",
    "PE": "at most 0.1 Ω from the plug's earth to every metal part and vessel",
}


@dataclass(frozen=True)
class Release:
    """A device, what is tested of it, and what it must show."""

    tag: str
    what: str
    must: str


def releases(machine: Description, needed: tuple[Required, ...]) -> list[Release]:
    """Return the tests of every device that protects somebody, those of vessels and of the insulation."""
    found = [
        Release(
            f"B{NUMBERS[body.name]}", "pressure test of the finished vessel", "as the test laboratory asks"
        )
        for body in machine.bodies
    ]
    found += [
        Release(valve.tag, valve.meaning, "opens at its pressure, no other valve can shut it off")
        for valve in safety_valves(machine)
    ]
    found += [
        Release(
            each.tag,
            f"thermal cut-out on the {heated_word(each.of, machine)}",
            f"opens the supply of E{NUMBERS[each.of]} with the controller's switch bridged, and stays open until "
            "it is reset by hand",
        )
        for each in cut_outs(machine)
    ]
    tests = [(each, _TESTS.get(each.tag.rstrip("0123456789"))) for each in needed]
    found += [Release(each.tag, each.what, must) for each, must in tests if must is not None]
    return [
        *found,
        Release("", "insulation of the mains circuit", "electric strength as the test laboratory asks"),
    ]


def release_table(found: list[Release]) -> Table:
    """Return the tests with room for a name and a date."""
    rows = tuple((each.tag, each.what, each.must, "") for each in found)
    return Table(("tag", "what", "must show", "released by, date"), rows, widths=(1, 5, 5, 3))
