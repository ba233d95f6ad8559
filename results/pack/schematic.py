"""The schematic of a machine, drawn from what its architecture built: bodies to scale, the water's way, tags."""

from __future__ import annotations

from dataclasses import dataclass, field

from boilerfront.model.describe import Body, Control, Description, Heater
from boilerfront.results.pack.sheet import COLD, HEAT, HOT, INK, STEAM, Sheet

WIDTH, HEIGHT = 1000.0, 590.0
FLOOR_Y = 430.0
"""Where bodies stand."""
MANIFOLD_Y = 520.0
"""Where cold water comes along."""
TALLEST, WIDEST = 250.0, 170.0
"""Of the largest body on the sheet: all have one scale."""
STEAM_X, BREW_X, GROUP_X = 400.0, 650.0, 870.0
TEE_X, WAND_X = 235.0, 255.0
TOP_Y = 60.0
BLOCK_TOP_Y = 200.0
CIRCUIT_TAGS = {"brew": "1", "group": "2", "steam": "3"}
BODY_WORDS = {"brew": "brew boiler", "steam": "steam boiler"}


@dataclass
class Drawing:
    """The sheet, and what its tags mean in the order in which they were drawn."""

    sheet: Sheet
    tags: dict[str, str] = field(default_factory=dict)

    def tag(self, x: float, y: float, tag: str, meaning: str, *, to: tuple[float, float]) -> None:
        """Draw a tag and note its meaning."""
        self.sheet.tag(x, y, tag, to=to)
        self.tags[tag] = meaning


@dataclass(frozen=True)
class _Placed:
    """Where a body stands on the sheet: its middle, its left and right side, its top."""

    body: Body
    x: float
    half: float
    top: float

    def at(self, share: float) -> float:
        """Return the height on the sheet of a share of the body's height, from its floor."""
        return FLOOR_Y - share * (FLOOR_Y - self.top)


def schematic(machine: Description, *, level: float) -> Drawing:
    """Draw a machine; `level` is the water's share of a steam boiler's height."""
    drawing = Drawing(Sheet(WIDTH, HEIGHT))
    placed = {body.name: _place(body, machine) for body in machine.bodies}
    _draw_supply(drawing, machine)
    for where in placed.values():
        _draw_body(drawing, where, machine, level=level)
    if "block" in machine.way:
        _draw_block(drawing, machine)
    _draw_brew_line(drawing, machine, placed)
    _draw_group(drawing, machine)
    _draw_steam_line(drawing, machine, placed, level=level)
    return drawing


def _place(body: Body, machine: Description) -> _Placed:
    scale = min(
        TALLEST / max(each.outer_height_mm for each in machine.bodies),
        WIDEST / max(each.outer_diameter_mm for each in machine.bodies),
    )
    x = BREW_X if body.name == "brew" else STEAM_X
    return _Placed(body, x, 0.5 * scale * body.outer_diameter_mm, FLOOR_Y - scale * body.outer_height_mm)


def _draw_supply(drawing: Drawing, machine: Description) -> None:
    sheet = drawing.sheet
    sheet.text(14, MANIFOLD_Y - 14, "cold water", side="start", colour=COLD)
    sheet.line((14, MANIFOLD_Y), (TEE_X, MANIFOLD_Y), colour=COLD, width=2.2)
    sheet.circle(105, MANIFOLD_Y, 16)
    sheet.shape([(97, MANIFOLD_Y - 9), (97, MANIFOLD_Y + 9), (114, MANIFOLD_Y)], fill=COLD, colour=COLD)
    drawing.tag(105, MANIFOLD_Y + 42, "P1", "pump, with its check valve", to=(105, MANIFOLD_Y + 16))
    if any(control.feed_forward for control in machine.controls):
        sheet.circle(170, MANIFOLD_Y, 11)
        sheet.line((163, MANIFOLD_Y + 6), (177, MANIFOLD_Y - 6), width=1.2)
        meaning = "flow meter, for the brew boiler's feed-forward"
        drawing.tag(170, MANIFOLD_Y + 42, "F1", meaning, to=(170, MANIFOLD_Y + 11))


def _draw_body(drawing: Drawing, where: _Placed, machine: Description, *, level: float) -> None:
    sheet, body = drawing.sheet, where.body
    left, width = where.x - where.half, 2.0 * where.half
    two_phase = body.name == "steam"
    sheet.box(
        left, where.top, width, FLOOR_Y - where.top, fill="#fbeeee" if two_phase else "#e8f1f9", round_=18
    )
    if two_phase:
        surface = where.at(level)
        sheet.box(
            left + 2, surface, width - 4, FLOOR_Y - surface - 3, fill="#e8f1f9", colour="#e8f1f9", round_=14
        )
        sheet.line((left, surface), (left + width, surface), colour=COLD, width=1.0, dashes="6 3")
    sheet.text(where.x, FLOOR_Y + 20, f"{body_word(body)}, {body.volume_mL:.0f} mL", bold=True)
    inside = f"inside Ø {body.diameter_mm:.1f} × {body.height_mm:.1f} mm"
    sheet.text(where.x, FLOOR_Y + 35, inside, size=10)
    _draw_safety(drawing, where)
    heater, control = _of(body.name, machine)
    if heater is not None:
        _draw_element(drawing, where, heater)
    if control is not None:
        share = 0.90 if two_phase else 0.62
        side = where.x + where.half
        drawing.tag(
            side + 34, where.at(share), f"T{CIRCUIT_TAGS[body.name]}", f"sensor of the {body_word(body)}",
            to=(side - 12, where.at(share)),
        )  # fmt: skip


def _draw_safety(drawing: Drawing, where: _Placed) -> None:
    sheet, body, number = drawing.sheet, where.body, CIRCUIT_TAGS[where.body.name]
    x = where.x + 0.5 * where.half
    sheet.line((x, where.top + 2), (x, where.top - 12))
    sheet.valve(x, where.top - 22, upright=True)
    meaning = f"safety valve of the {body_word(body)}, opens at {body.valve_bar:.1f} bar gauge"
    drawing.tag(x + 36, where.top - 22, f"SV{number}", meaning, to=(x + 6, where.top - 22))
    meaning = f"thermal cut-out on the {body_word(body)}, hand reset: also its protection against boiling dry"
    wall, out = _tag_side(where)
    drawing.tag(wall + 30 * out, where.at(0.40), f"TC{number}", meaning, to=(wall, where.at(0.40)))


def _tag_side(where: _Placed) -> tuple[float, int]:
    """Return the wall that has no pipes and the direction out of it: steam boilers have theirs on the right."""
    out = -1 if where.body.name == "steam" else 1
    return where.x + out * where.half, out


def _draw_element(drawing: Drawing, where: _Placed, heater: Heater) -> None:
    y, reach = where.at(0.16), 0.55 * where.half
    for row in range(3):
        height = y - 9 * row
        drawing.sheet.line((where.x - reach, height), (where.x + reach, height), colour=HEAT, width=3.2)
    wall, out = _tag_side(where)
    drawing.sheet.line((where.x, y), (wall + 8 * out, y), colour=HEAT, width=3.2)
    meaning = f"element of the {body_word(where.body)}, {heater.power_W:.0f} W"
    drawing.tag(wall + 30 * out, y, f"E{CIRCUIT_TAGS[heater.name]}", meaning, to=(wall + 8 * out, y))


def _draw_block(drawing: Drawing, machine: Description) -> None:
    sheet = drawing.sheet
    sheet.box(BREW_X - 45, BLOCK_TOP_Y, 90, FLOOR_Y - BLOCK_TOP_Y, fill="#eeeeee")
    sheet.zigzag((BREW_X, FLOOR_Y), (BREW_X, BLOCK_TOP_Y), turns=6, reach=28, colour=COLD, width=2.2)
    sheet.text(BREW_X - 12, FLOOR_Y + 20, "thermoblock", bold=True, side="end")
    sheet.line((BREW_X, BLOCK_TOP_Y - 20), (BREW_X + 24, BLOCK_TOP_Y - 20))
    sheet.valve(BREW_X + 34, BLOCK_TOP_Y - 20)
    drawing.tag(
        BREW_X + 72, BLOCK_TOP_Y - 20, "SV1", "safety valve of the block", to=(BREW_X + 44, BLOCK_TOP_Y - 20)
    )
    heater, _ = _of("brew", machine)
    if heater is not None:
        meaning = f"element cast into the block, {heater.power_W:.0f} W"
        drawing.tag(BREW_X - 78, 380, "E1", meaning, to=(BREW_X - 45, 380))
        drawing.tag(BREW_X + 78, 230, "T1", "sensor in the block's outlet end", to=(BREW_X + 45, 230))
        drawing.tag(
            BREW_X - 78, 300, "TC1", "thermal cut-out on the block, hand reset", to=(BREW_X - 45, 300)
        )


def _draw_brew_line(drawing: Drawing, machine: Description, placed: dict[str, _Placed]) -> None:
    """Draw the water's way from the manifold to the group: through the coil, the brew boiler or block."""
    sheet = drawing.sheet
    brew = placed.get("brew")
    entry = (BREW_X, FLOOR_Y) if brew is None else (brew.x - brew.half, brew.at(0.07))
    if machine.tube is not None:
        _draw_tube(drawing, machine, placed["steam"], entry)
    else:
        turn_x = BREW_X if brew is None else entry[0] - 22
        sheet.line(
            (TEE_X, MANIFOLD_Y), (turn_x, MANIFOLD_Y), (turn_x, entry[1]), entry, colour=COLD, width=2.2
        )
        sheet.arrow(*entry, towards="up" if brew is None else "right", colour=COLD)
    sheet.valve(TEE_X + 45, MANIFOLD_Y)
    drawing.tag(TEE_X + 45, MANIFOLD_Y + 42, "V1", "valve of the brew line", to=(TEE_X + 45, MANIFOLD_Y + 8))
    if {"brew", "block"} & set(machine.way):
        top = BLOCK_TOP_Y if brew is None else brew.top
        sheet.line(
            (BREW_X, top), (BREW_X, top - 55), (GROUP_X, top - 55), (GROUP_X, 190), colour=HOT, width=2.2
        )
        sheet.arrow(GROUP_X, 190, towards="down", colour=HOT)


def _draw_tube(drawing: Drawing, machine: Description, steam: _Placed, entry: tuple[float, float]) -> None:
    """Draw the coil in the steam boiler, its way in, and on to the brew boiler or up to the group."""
    sheet, tube = drawing.sheet, machine.tube
    assert tube is not None
    x, wall = steam.x + 0.30 * steam.half, steam.x + steam.half
    low, high, rise_x = steam.at(0.30), steam.at(0.72), wall + 16
    sheet.line((TEE_X, MANIFOLD_Y), (rise_x, MANIFOLD_Y), (rise_x, low), (x, low), colour=COLD, width=2.2)
    turns = max(2, min(9, round(tube.turns)))
    sheet.zigzag((x, low), (x, high), turns=turns, reach=0.34 * steam.half, colour=HOT, width=2.6)
    word = "preheat coil" if "brew" in machine.way else "heat exchanger's tube"
    meaning = f"{word}: {tube.length_mm / 1e3:.3f} m, bore {tube.bore_mm:.1f} mm"
    drawing.tag(wall + 36, steam.at(0.51), "C1", meaning, to=(x + 0.3 * steam.half, steam.at(0.51)))
    if "brew" in machine.way:
        down_x = max(0.5 * (wall + entry[0]) + 22, entry[0] - 22)
        sheet.line((x, high), (down_x, high), (down_x, entry[1]), entry, colour=HOT, width=2.2)
        sheet.arrow(*entry, towards="right", colour=HOT)
        return
    # Water circulates by buoyancy, up to the group and back.
    sheet.line((x, high), (720, high), (720, 150), (GROUP_X, 150), (GROUP_X, 190), colour=HOT, width=2.2)
    sheet.arrow(GROUP_X, 190, towards="down", colour=HOT)
    back = [(GROUP_X - 45, 235), (760, 235), (760, 490), (rise_x, 490)]
    sheet.line(*back, colour=COLD, width=1.6, dashes="7 4")
    sheet.arrow(rise_x, 490, towards="left", colour=COLD)
    sheet.text(750, 480, "circulates by buoyancy", size=10, side="end")


def _draw_group(drawing: Drawing, machine: Description) -> None:
    sheet = drawing.sheet
    sheet.box(GROUP_X - 45, 190, 90, 62, fill="#e3e3e3", round_=6)
    sheet.text(GROUP_X, 215, "group", bold=True)
    sheet.text(GROUP_X, 230, "saturated" if machine.saturated else "bolted on", size=10)
    sheet.box(GROUP_X - 30, 252, 60, 18, fill="#bbbbbb")
    sheet.line((GROUP_X + 30, 262), (GROUP_X + 92, 268), width=5.0, colour="#8a6d4a")
    sheet.line((GROUP_X, 270), (GROUP_X, 296), colour=HOT, width=2.0)
    sheet.arrow(GROUP_X, 300, towards="down", colour=HOT)
    sheet.shape(
        [(GROUP_X - 20, 304), (GROUP_X + 20, 304), (GROUP_X + 15, 334), (GROUP_X - 15, 334)], fill="#ffffff"
    )
    drawing.tag(GROUP_X - 66, 318, "TP", "test probe: water under the shower screen", to=(GROUP_X - 3, 282))
    heater, control = _of("group", machine)
    if heater is not None and control is not None:
        meaning = f"heater of the group, {heater.power_W:.0f} W"
        drawing.tag(GROUP_X + 82, 205, "E2", meaning, to=(GROUP_X + 45, 210))
        drawing.tag(GROUP_X + 82, 238, "T2", "sensor of the group", to=(GROUP_X + 45, 234))


def _draw_steam_line(
    drawing: Drawing, machine: Description, placed: dict[str, _Placed], *, level: float
) -> None:
    """Draw what steams: the wand, and of a steam boiler its refill and level probe."""
    sheet = drawing.sheet
    steaming = [where for where in placed.values() if where.body.steams]
    x, top = (
        (steaming[0].x - 0.45 * steaming[0].half, steaming[0].top) if steaming else (BREW_X - 25, BLOCK_TOP_Y)
    )
    if "steam" not in placed and "brew" in placed and not steaming:
        return
    sheet.line((x, top + 3), (x, TOP_Y), (WAND_X, TOP_Y), (WAND_X, 165), colour=STEAM, width=2.2)
    sheet.valve(0.5 * (x + WAND_X), TOP_Y)
    sheet.line((WAND_X, 165), (WAND_X - 14, 205), colour=STEAM, width=3.2)
    sheet.text(WAND_X - 20, 222, "steam wand", size=10)
    drawing.tag(
        0.5 * (x + WAND_X), TOP_Y - 32, "V3", "steam valve of the wand", to=(0.5 * (x + WAND_X), TOP_Y - 8)
    )
    if "steam" in placed:
        where = placed["steam"]
        wall, y = where.x - where.half, where.at(0.52)
        sheet.line((TEE_X, MANIFOLD_Y), (TEE_X, y), (wall, y), colour=COLD, width=2.2)
        sheet.arrow(wall, y, towards="right", colour=COLD)
        sheet.valve(TEE_X, 470, upright=True)
        drawing.tag(TEE_X - 42, 470, "V2", "refill valve of the steam boiler", to=(TEE_X - 6, 470))
        probe = where.x - 0.12 * where.half
        sheet.line((probe, where.top - 10), (probe, where.at(level)), colour=INK, width=2.0)
        drawing.tag(
            probe - 6, where.top - 34, "L1", "level probe of the steam boiler", to=(probe, where.top - 10)
        )


def _of(name: str, machine: Description) -> tuple[Heater | None, Control | None]:
    heater = next((each for each in machine.heaters if each.name == name), None)
    return heater, next((each for each in machine.controls if each.name == name), None)


def body_word(body: Body) -> str:
    """Return what a vessel is called."""
    return "boiler" if body.name == "brew" and body.steams else BODY_WORDS.get(body.name, body.name)
