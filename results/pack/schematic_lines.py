"""The pipes of a schematic: cold water, the brew line to the group, the steam line to the wand."""

from __future__ import annotations

from boilerfront.model.describe import Description
from boilerfront.results.pack.drawing import (
    BLOCK_TOP_Y,
    BREW_X,
    FLOOR_Y,
    GROUP_X,
    MANIFOLD_Y,
    OUT_Y,
    RISE_X,
    TEE_X,
    TOP_Y,
    WAND_X,
    Drawing,
    Placed,
    helix_shares,
)
from boilerfront.results.pack.sheet import COLD, HOT, STEAM

_TAGS_Y = MANIFOLD_Y + 42.0


def draw_supply(drawing: Drawing, machine: Description) -> None:
    """Draw the cold water's way from the inlet to the brew line: pump, non-return and expansion valve, flow meter."""
    sheet, y = drawing.sheet, MANIFOLD_Y
    sheet.text(14, y - 14, "cold water", side="start", colour=COLD)
    sheet.line((14, y), (RISE_X - 45, y), colour=COLD, width=2.2)
    sheet.circle(130, y, 16)
    sheet.shape([(122, y - 9), (122, y + 9), (139, y)], fill=COLD, colour=COLD)
    drawing.tag(130, _TAGS_Y, "P1", to=(130, y + 16))
    if machine.body("steam") is not None:
        sheet.shape([(290, y - 8), (290, y + 8), (306, y)], fill="#ffffff")
        sheet.line((307, y - 8), (307, y + 8), width=2.0)
        drawing.tag(298, _TAGS_Y, "CV1", to=(298, y + 8))
    sheet.line((372, y), (372, y + 12))
    sheet.valve(372, y + 22, upright=True)
    sheet.arrow(372, y + 46, towards="down", colour=COLD)
    sheet.text(372, y + 62, "drain", size=13)
    drawing.tag(408, y + 24, "XV1", to=(378, y + 22))
    if any(control.feed_forward for control in machine.controls):
        sheet.circle(460, y, 11)
        sheet.line((453, y + 6), (467, y - 6), width=1.2)
        drawing.tag(460, _TAGS_Y, "F1", to=(460, y + 11))


def draw_brew_line(drawing: Drawing, machine: Description, where: dict[str, Placed]) -> None:
    """Draw the water's way from the manifold to the group: through the coil, the brew boiler or block."""
    sheet, brew = drawing.sheet, where.get("brew")
    start = (RISE_X - 45, MANIFOLD_Y)
    entry = (BREW_X, FLOOR_Y) if brew is None else (brew.x - brew.half, brew.at(0.07))
    if machine.tube is not None:
        _draw_tube(drawing, machine, where["steam"], entry)
    else:
        turn_x = BREW_X if brew is None else 575.0
        sheet.line(start, (turn_x, MANIFOLD_Y), (turn_x, entry[1]), entry, colour=COLD, width=2.2)
        sheet.arrow(*entry, towards="up" if brew is None else "right", colour=COLD)
    if {"brew", "block"} & set(machine.way):
        top = BLOCK_TOP_Y if brew is None else brew.top
        sheet.line((BREW_X, top), (BREW_X, OUT_Y), (GROUP_X, OUT_Y), (GROUP_X, 190), colour=HOT, width=2.2)
        sheet.arrow(GROUP_X, 190, towards="down", colour=HOT)


def _draw_tube(drawing: Drawing, machine: Description, steam: Placed, entry: tuple[float, float]) -> None:
    """Draw the way into the coil, and on to the brew boiler or up to the group."""
    sheet, tube = drawing.sheet, machine.tube
    assert tube is not None
    wall = steam.x + steam.half
    low, high = (steam.at(share) for share in helix_shares(tube.height_mm, steam.body.height_mm))
    way = [(RISE_X - 45, MANIFOLD_Y), (RISE_X, MANIFOLD_Y), (RISE_X, low), (wall, low)]
    sheet.line(*way, colour=COLD, width=2.2)
    sheet.arrow(wall, low, towards="left", colour=COLD)
    if "brew" in machine.way:
        sheet.line((wall, high), (575, high), (575, entry[1]), entry, colour=HOT, width=2.2)
        sheet.arrow(*entry, towards="right", colour=HOT)
        return
    # Water circulates by buoyancy, up to the group and back.
    sheet.line(
        (wall, high), (575, high), (575, OUT_Y), (GROUP_X, OUT_Y), (GROUP_X, 190), colour=HOT, width=2.2
    )
    sheet.arrow(GROUP_X, 190, towards="down", colour=HOT)
    sheet.line(
        (GROUP_X - 45, 245), (640, 245), (640, 535), (RISE_X, 535), colour=COLD, width=1.8, dashes="7 4"
    )
    sheet.arrow(RISE_X, 535, towards="left", colour=COLD)
    sheet.text(664, 420, "circulates", side="start", size=13)
    sheet.text(664, 437, "by buoyancy", side="start", size=13)
    drawing.tag(640, 340, "W1")


def draw_group(drawing: Drawing, machine: Description) -> None:
    """Draw the group: body, three-way valve, portafilter, cup, and its heater where it has one."""
    sheet, x = drawing.sheet, GROUP_X
    sheet.box(x - 45, 190, 90, 72, fill="#e3e3e3", round_=6)
    drawing.tags["G1"] = drawing.meanings["G1"]
    sheet.text(x, 222, "G1 group", bold=True)
    sheet.text(x, 242, "saturated" if machine.saturated else "bolted on", size=13)
    sheet.line((x, 262), (x, 298), colour=HOT, width=2.2)
    sheet.valve(x, 280, upright=True)
    sheet.shape([(x, 280), (x + 12, 274), (x + 12, 286)], fill="#ffffff")
    sheet.line((x + 12, 280), (x + 70, 280), colour=COLD, width=1.8)
    sheet.arrow(x + 70, 280, towards="right", colour=COLD)
    sheet.text(x + 72, 296, "drain", size=13)
    drawing.tag(x - 54, 284, "V1", to=(x - 6, 280))
    sheet.box(x - 30, 300, 60, 18, fill="#bbbbbb")
    sheet.line((x + 30, 310), (x + 92, 316), width=5.0, colour="#8a6d4a")
    sheet.line((x, 318), (x, 346), colour=HOT, width=2.0)
    sheet.arrow(x, 350, towards="down", colour=HOT)
    sheet.shape([(x - 20, 354), (x + 20, 354), (x + 15, 384), (x - 15, 384)], fill="#ffffff")
    drawing.tag(x - 72, 356, "TP", to=(x - 3, 330))
    if any(heater.name == "group" for heater in machine.heaters):
        drawing.tag(x + 78, 204, "E2", to=(x + 45, 208))
        drawing.tag(x + 78, 243, "T2", to=(x + 45, 240))
        drawing.tag(x - 82, 222, "TC2", to=(x - 45, 222))


def draw_steam_line(drawing: Drawing, machine: Description, where: dict[str, Placed]) -> None:
    """Draw what steams: the wand, the vent of a boiler that swings, the refill of a steam boiler."""
    sheet = drawing.sheet
    steaming = next((each for each in where.values() if each.body.steams), None)
    x, top = (
        (BREW_X - 25, BLOCK_TOP_Y) if steaming is None else (steaming.x - 0.8 * steaming.half, steaming.top)
    )
    sheet.line((x, top + 3), (x, TOP_Y), (WAND_X, TOP_Y), (WAND_X, 165), colour=STEAM, width=2.2)
    middle = 0.5 * (x + WAND_X)
    sheet.valve(middle, TOP_Y)
    sheet.line((WAND_X, 165), (WAND_X - 14, 205), colour=STEAM, width=3.2)
    sheet.text(WAND_X - 20, 226, "steam wand")
    drawing.tag(middle, TOP_Y - 32, "V3", to=(middle, TOP_Y - 8))
    if machine.vented_level is not None and steaming is not None:
        y = top - 40
        sheet.line((x, y), (x - 90, y), colour=STEAM, width=1.8)
        sheet.arrow(x - 90, y, towards="left", colour=STEAM)
        sheet.valve(x - 45, y)
        sheet.text(x - 96, y + 5, "drain", side="end", size=13)
        drawing.tag(x - 45, y - 32, "V4", to=(x - 45, y - 8))
    if "steam" in where:
        steam = where["steam"]
        wall, y = steam.x - steam.half, steam.at(0.52)
        sheet.line((TEE_X, MANIFOLD_Y), (TEE_X, y), (wall, y), colour=COLD, width=2.2)
        sheet.arrow(wall, y, towards="right", colour=COLD)
        sheet.valve(TEE_X, 510, upright=True)
        drawing.tag(TEE_X - 42, 510, "V2", to=(TEE_X - 6, 510))
