"""The devices of a machine, each with its tag: drawing, bill, cautions and bench plan take them from here alone."""

from __future__ import annotations

import re
from dataclasses import dataclass

from boilerfront.model.cost import Line
from boilerfront.model.describe import Body, Description

NUMBERS = {"brew": "1", "group": "2", "steam": "3", "coil": "1"}
"""Of the tags, by what a device belongs to."""
BODY_WORDS = {"brew": "brew boiler", "steam": "steam boiler"}
VALVES = {"group": "V1", "steam": "V2", "brew": "V4"}
ONE = {
    "controller": "K1",
    "wand": "V3",
    "pump": "P1",
    "pump_rotary": "P1",
    "flow_meter": "F1",
    "level_probe": "L1",
    "group_bolted": "G1",
    "group_saturated": "G1",
}
"""Tags of what there is one of, by item of the price book."""
LETTERS = (
    (r"element(_piece)?|group_heater_piece", "E"),
    (r"sensor", "T"),
    (r"thermal_cut_out", "TC"),
    (r"safety_valve", "SV"),
    (r"thermosyphon_pipe", "W"),
    (r"(coil|exchanger)_.*", "C"),
    (r"vessel_.*|end_.*|insulation.*|block.*", "B"),
)
"""Of the tags, by item of the price book."""


@dataclass(frozen=True)
class Device:
    """A part that is bought: its tag, what it is, what it belongs to, and the lines of the bill that pay for it."""

    tag: str
    meaning: str
    of: str
    lines: tuple[Line, ...]

    @property
    def cost(self) -> float:
        """Return what the device costs, in the book's currency."""
        return sum(line.cost for line in self.lines)


def devices(machine: Description) -> tuple[Device, ...]:
    """Return every device of a machine in the order of their tags; each line of the bill is in exactly one."""
    by_tag: dict[str, list[Line]] = {}
    for line in machine.lines:
        by_tag.setdefault(tag_of(line), []).append(line)
    return tuple(
        Device(tag, _meaning(tag, lines[0].of, machine), lines[0].of, tuple(lines))
        for tag, lines in sorted(by_tag.items(), key=lambda each: order_of(each[0]))
    )


def cut_outs(machine: Description) -> tuple[Device, ...]:
    """Return the thermal cut-outs: one on every heated body."""
    return _lettered("TC", machine)


def safety_valves(machine: Description) -> tuple[Device, ...]:
    """Return the safety valves."""
    return _lettered("SV", machine)


def tag_of(line: Line) -> str:
    """Return the tag of the device that a line of the bill pays for."""
    if line.item in ONE:
        return ONE[line.item]
    if line.item == "valve":
        return VALVES[line.of]
    letter = next(letter for pattern, letter in LETTERS if re.fullmatch(pattern, line.item))
    return letter + NUMBERS[line.of]


def order_of(tag: str) -> tuple[str, int]:
    """Return by what tags are sorted: letters, then the number."""
    letters = tag.rstrip("0123456789")
    return letters, int(tag[len(letters) :] or 0)


def body_word(body: Body) -> str:
    """Return what a vessel is called."""
    return "boiler" if body.name == "brew" and body.steams else BODY_WORDS.get(body.name, body.name)


def heated_word(name: str, machine: Description) -> str:
    """Return what is heated by a circuit."""
    body = machine.body(name)
    if body is not None:
        return body_word(body)
    return "block" if name == "brew" else name


def tube_word(machine: Description) -> str:
    """Return what the tube in the steam boiler is."""
    return "preheat coil" if "brew" in machine.way else "heat exchanger's tube"


def listed(tags: tuple[str, ...]) -> str:
    """Return tags as people enumerate them."""
    return tags[0] if len(tags) == 1 else f"{', '.join(tags[:-1])} and {tags[-1]}"


def _lettered(letters: str, machine: Description) -> tuple[Device, ...]:
    return tuple(device for device in devices(machine) if order_of(device.tag)[0] == letters)


def _meaning(tag: str, of: str, machine: Description) -> str:
    if tag in _ALONE:
        return _ALONE[tag]
    letters, where = order_of(tag)[0], heated_word(of, machine)
    body = machine.body(of)
    if letters == "E":
        power = next(heater.power_W for heater in machine.heaters if heater.name == of)
        return f"{'heater' if of == 'group' else 'element'} of the {where}, {power:.0f} W"
    if letters == "T":
        return f"sensor of the {where}"
    if letters == "TC":
        return f"thermal cut-out on the {where}, hand reset: also its protection against boiling dry"
    if letters == "SV":
        opens = "" if body is None else f", opens at {body.valve_bar:.1f} bar gauge"
        return f"safety valve of the {where}{opens}"
    if letters == "G":
        return f"group, {'saturated' if machine.saturated else 'bolted on'}"
    if letters == "C":
        assert machine.tube is not None
        return (
            f"{tube_word(machine)}: {machine.tube.length_mm / 1e3:.3f} m, bore {machine.tube.bore_mm:.1f} mm"
        )
    return _shell(machine, body)


def _shell(machine: Description, body: Body | None) -> str:
    if body is not None:
        return (
            f"{body_word(body)}, {body.volume_mL:.0f} mL, {body.material.replace('_', ' ')}, {body.ends} ends, "
            f"{body.insulation_mm:.1f} mm of insulation"
        )
    assert machine.block is not None
    return f"thermoblock, {machine.block.mass_kg:.2f} kg, with its insulation"


_ALONE = {
    "K1": "controller with the elements' switches",
    "P1": "pump, with its check valve",
    "F1": "flow meter in the brew line, for feed-forward",
    "L1": "level probe of the steam boiler",
    "V1": "three-way valve of the group: shuts the brew line; closed, it lets the group's pressure fall to the drain",
    "V2": "refill valve of the steam boiler",
    "V3": "wand, with its steam valve",
    "V4": "valve that vents the boiler for steam",
    "W1": "two pipes of the circulation between boiler and group",
}
