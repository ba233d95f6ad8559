"""The schematic of a machine, drawn from what its architecture built: bodies to scale, the water's way, tags."""

from __future__ import annotations

from boilerfront.model.describe import Description
from boilerfront.results.pack.devices import NUMBERS, body_word, devices
from boilerfront.results.pack.drawing import (
    BLOCK_HALF,
    BLOCK_TOP_Y,
    BREW_X,
    FLOOR_Y,
    HEIGHT,
    WIDTH,
    Drawing,
    Placed,
    helix_shares,
    placed,
    wet_share,
)
from boilerfront.results.pack.required import required
from boilerfront.results.pack.schematic_lines import draw_brew_line, draw_group, draw_steam_line, draw_supply
from boilerfront.results.pack.sheet import COLD, HEAT, HOT, INK, Sheet

PROBE = ("TP", "test probe: water under the shower screen")
_WATER, _STEAM = "#e8f1f9", "#fbeeee"


def schematic(machine: Description, *, level: float, element_top: float, valve_bar: float) -> Drawing:
    """Draw a machine.

    `level` is the water's share of a steam boiler's height, `element_top` that of its element's top, `valve_bar` the
    most that the brew side bears [bar gauge].
    """
    needed = required(machine, valve_bar=valve_bar)
    meanings = {each.tag: each.meaning for each in devices(machine)}
    meanings |= {each.tag: f"{each.name} (required)" for each in needed}
    drawing = Drawing(Sheet(WIDTH, HEIGHT), meanings | dict((PROBE,)))
    where = placed(machine)
    draw_supply(drawing, machine)
    for each in where.values():
        _draw_shell(drawing, each, level=level)
        _draw_element(drawing, each)
        if each.body.name == "steam":
            _draw_electrodes(drawing, each, level=level, element_top=element_top)
            _draw_helix(drawing, machine, each, level=level)
        _draw_fittings(drawing, each)
        _set_tags(drawing, each, machine)
    if "block" in machine.way:
        _draw_block(drawing, machine)
    draw_brew_line(drawing, machine, where)
    draw_group(drawing, machine)
    draw_steam_line(drawing, machine, where)
    _draw_electrics(drawing)
    drawing.draw_tags()
    return drawing


def _draw_shell(drawing: Drawing, where: Placed, *, level: float) -> None:
    sheet, body = drawing.sheet, where.body
    left, width = where.x - where.half, 2.0 * where.half
    two_phase = body.name == "steam"
    fill = _STEAM if two_phase else _WATER
    sheet.box(left, where.top, width, FLOOR_Y - where.top, fill=fill, round_=18)
    if two_phase:
        surface = where.at(level)
        depth = FLOOR_Y - surface - 3
        sheet.box(left + 2, surface, width - 4, depth, fill=_WATER, colour=_WATER, round_=14)
        sheet.line((left, surface), (left + width, surface), colour=COLD, width=1.2, dashes="6 3")
    tag = f"B{NUMBERS[body.name]}"
    drawing.tags[tag] = drawing.meanings[tag]
    sheet.text(where.x, FLOOR_Y + 20, f"{tag} {body_word(body)}", bold=True)
    size = f"{body.volume_mL:.0f} mL, Ø {body.diameter_mm:.0f} × {body.height_mm:.0f} mm"
    sheet.text(where.x, FLOOR_Y + 38, size, size=13)


def _draw_element(drawing: Drawing, where: Placed) -> None:
    y, reach = where.at(0.16), 0.55 * where.half
    for row in range(3):
        height = y - 9 * row
        drawing.sheet.line((where.x - reach, height), (where.x + reach, height), colour=HEAT, width=3.2)
    wall, out = _tag_side(where)
    drawing.sheet.line((where.x, y), (wall + 8 * out, y), colour=HEAT, width=3.2)


def _draw_electrodes(drawing: Drawing, where: Placed, *, level: float, element_top: float) -> None:
    """Draw the probe that the controller reads, down to the water line, and the one that cuts the element off."""
    for side, tag, share in ((-19.0, "L1", level), (19.0, "LC3", element_top)):
        x = where.x + min(0.2 * where.half, 19.0) * (1 if side > 0 else -1)
        drawing.sheet.line((x, where.top - 12), (x, where.at(share)), colour=INK, width=2.0)
        drawing.tag(where.x + side, where.top - 36, tag, to=(x, where.top - 12))


def _draw_helix(drawing: Drawing, machine: Description, where: Placed, *, level: float) -> None:
    """Draw the tube in the steam boiler at its height, wound to its diameter, in at the bottom, out at the top."""
    tube = machine.tube
    if tube is None:
        return
    low, high = helix_shares(tube.height_mm, where.body.height_mm)
    reach = where.half * tube.centreline_mm / where.body.diameter_mm
    turns = max(1, round(tube.turns))
    points = [
        (where.x + (reach if k % 2 == 0 else -reach), where.at(low + (high - low) * k / (2 * turns)))
        for k in range(2 * turns + 1)
    ]
    wall = where.x + where.half
    points = [(wall, points[0][1]), *points, (wall, points[-1][1])]
    drawing.sheet.line(*points, colour=HOT, width=2.4)
    wet = 100.0 * wet_share(tube.height_mm, where.body.height_mm, level)
    text = f"C1 {tube.height_mm:.0f} mm high, {wet:.0f} % in water"
    drawing.sheet.text(where.x, FLOOR_Y + 56, text, size=13)


def _draw_fittings(drawing: Drawing, where: Placed) -> None:
    """Draw what sits on top: the safety valve on a pipe that nothing shuts; where it steams, the vacuum breaker."""
    sheet, number = drawing.sheet, NUMBERS[where.body.name]
    fittings = [(f"SV{number}", 68.0)] + ([(f"VB{number}", 112.0)] if where.body.steams else [])
    stub, y = where.x + 0.8 * where.half, where.top - 20
    sheet.line((stub, where.top + 3), (stub, y), (where.x + fittings[-1][1], y))
    for tag, off in fittings:
        sheet.line((where.x + off, y), (where.x + off, y - 4))
        sheet.valve(where.x + off, y - 14, upright=True)
        drawing.tag(where.x + off, y - 43, tag)


def _tag_side(where: Placed) -> tuple[float, int]:
    """Return the wall that has no pipes and the direction out of it: steam boilers have theirs on the right."""
    out = -1 if where.body.name == "steam" else 1
    return where.x + out * where.half, out


def _set_tags(drawing: Drawing, where: Placed, machine: Description) -> None:
    """Set the tags of element, cut-out and sensor of a vessel, and that of its coil."""
    name, number = where.body.name, NUMBERS[where.body.name]
    heated = any(heater.name == name for heater in machine.heaters)
    wall, out = _tag_side(where)
    tags = [(f"E{number}", where.at(0.16), (wall + 8 * out, where.at(0.16)))] if heated else []
    tags += [(f"TC{number}", where.at(0.38), (wall, where.at(0.38)))] if heated else []
    right = where.x + where.half
    inner = []
    if name == "steam" and machine.tube is not None:
        inner.append(("C1", where.at(0.5), (right - 0.15 * where.half, where.at(0.5))))
    if heated:
        share = 0.90 if name == "steam" else 0.62
        inner.append((f"T{number}", where.at(share), (right - 12, where.at(share))))
    if out > 0:
        drawing.column(wall + 38, tags + inner)
    else:
        drawing.column(wall - 38, tags)
        drawing.column(right + 34, inner)


def _draw_block(drawing: Drawing, machine: Description) -> None:
    sheet = drawing.sheet
    left, right, top = BREW_X - BLOCK_HALF, BREW_X + BLOCK_HALF, BLOCK_TOP_Y
    sheet.box(left, top, 2.0 * BLOCK_HALF, FLOOR_Y - top, fill="#eeeeee")
    sheet.zigzag((BREW_X, FLOOR_Y), (BREW_X, top), turns=6, reach=28, colour=COLD, width=2.2)
    drawing.tags["B1"] = drawing.meanings["B1"]
    sheet.text(BREW_X - 14, FLOOR_Y + 20, "B1 thermoblock", bold=True, side="end")
    sheet.line((BREW_X, top - 20), (BREW_X + 68, top - 20), (BREW_X + 68, top - 24))
    sheet.valve(BREW_X + 68, top - 34, upright=True)
    drawing.tag(BREW_X + 68, top - 63, "SV1")
    if any(heater.name == "brew" for heater in machine.heaters):
        drawing.column(left - 38, [("E1", 400.0, (left, 400.0)), ("TC1", 330.0, (left, 330.0))])
        drawing.column(right + 38, [("T1", 262.0, (right, 262.0))])


def _draw_electrics(drawing: Drawing) -> None:
    """Draw the way of the mains to the elements, and the protective earth."""
    sheet, y = drawing.sheet, 612.0
    sheet.text(640, y + 5, "mains", side="start")
    sheet.line((692, y), (872, y))
    for tag, x in (("S1", 724.0), ("FU", 784.0), ("K1", 844.0)):
        drawing.tag(x, y, tag)
    sheet.text(878, y + 5, "to TC, then E", side="start")
    drawing.tag(724, y + 42, "PE")
    sheet.text(750, y + 47, "to every metal part", side="start")
