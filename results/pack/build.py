"""What the workshop builds: the schematic, sizes of vessels, coil and group, and where the ports are."""

from __future__ import annotations

from boilerfront.model.describe import Body, Tube
from boilerfront.model.parts.element import BREW_HEIGHT_SHARE
from boilerfront.results.pack.blocks import Block, Heading, Picture, Table, Text
from boilerfront.results.pack.devices import body_word, order_of
from boilerfront.results.pack.required import TITLE, held_text, required_table
from boilerfront.results.pack.schematic import schematic
from boilerfront.results.pack.subject import Subject

SENSOR_SHARE = 0.625
"""Height of the brew boiler's sensor, part of the vessel's: the middle of the third of four layers."""


def drawing_blocks(subject: Subject) -> list[Block]:
    """Return the schematic and what its tags mean."""
    data = subject.brief.machine
    drawing = schematic(
        subject.machine,
        level=0.5 * (data.steam_vessel.level_low + data.steam_vessel.level_high),
        element_top=data.elements.steam_top_share,
        valve_bar=data.vessels.brew_valve_bar,
    )
    title = f"Schematic of {subject.label}: {architecture_words(subject)}"
    tags = tuple(sorted(drawing.tags.items(), key=lambda each: order_of(each[0])))
    half = -(-len(tags) // 2)
    rows = tuple((*tags[k], *(tags[k + half] if k + half < len(tags) else ("", ""))) for k in range(half))
    return [
        Heading("Schematic"),
        Picture(
            title,
            "Drawn from what was simulated; vessels and what is in them to one scale. What is marked required in the "
            "table is in no bill.",
            svg=drawing.sheet.svg(title),
        ),
        Table(("tag", "part", "tag", "part"), rows, widths=(1, 6, 1, 6)),
        Text(
            held_text(
                subject.machine,
                idle_bar=data.brew_water.idle_line_bar,
                valve_bar=data.vessels.brew_valve_bar,
            )
        ),
        Heading(TITLE, 3),
        Text("Nobody may leave these out. They are no part of the sweep, nor of the bill and its costs."),
        required_table(subject.required),
    ]


def architecture_words(subject: Subject) -> str:
    """Return the architecture in words."""
    return subject.machine.architecture.replace("_", " ")


def size_blocks(subject: Subject) -> list[Block]:
    """Return vessels, coil, group and where the ports are."""
    machine, data = subject.machine, subject.brief.machine
    blocks: list[Block] = [Heading("Sizes")]
    if machine.bodies:
        blocks += [Heading("Vessels", 3), _vessels(machine.bodies), _walls_text(machine.bodies)]
    if machine.block is not None:
        block = machine.block
        outside = f"{block.width_mm:.0f} × {block.depth_mm:.0f} × {block.height_mm:.0f} mm, insulated"
        cast = (
            ("cast block", f"{block.mass_kg:.2f} kg"),
            ("water channel", f"{block.channel_mm:.0f} mm long, bore {block.bore_mm:.1f} mm"),
            ("outside", outside),
        )
        blocks += [Heading("Thermoblock", 3), Table(("", ""), cast, widths=(3, 9))]
    if machine.tube is not None:
        word = "Preheat coil" if "brew" in machine.way else "Heat exchanger's tube"
        blocks += [Heading(word, 3), _tube(subject, machine.tube)]
    if machine.loop is not None:
        loop = machine.loop
        pipes = (
            ("pipes, to the group and back", f"2 × {loop.pipe_mm:.0f} mm, bore {loop.bore_mm:.1f} mm"),
            ("restrictor", f"an orifice of {loop.restrictor_mm:.1f} mm"),
            ("height", f"{loop.height_mm:.0f} mm between the middles of tube and group: the group above"),
        )
        blocks += [Heading("Circulation", 3), Table(("", ""), pipes, widths=(3, 9))]
    group = data.group
    parts = (
        ("group", f"{group.mass_kg:.2f} kg, {'saturated' if machine.saturated else 'bolted on'}"),
        ("water passage", f"bore {group.bore_mm:.1f} mm, {1e3 * group.length_m:.0f} mm long"),
        ("portafilter", f"{group.portafilter_kg:.2f} kg"),
        ("steam wand", f"{data.wand.holes} holes of {data.wand.hole_mm:.1f} mm"),
        (
            "inside of the casing",
            f"{data.casing.width_mm:.0f} × {data.casing.depth_mm:.0f} × {data.casing.height_mm:.0f} mm "
            f"(width, depth, height); smallest slack {subject.text('margin_envelope_mm')}",
        ),
        ("mass and packed volume", f"{subject.text('mass_kg')} dry, {subject.text('packed_volume_L')}"),
    )
    blocks += [Heading("Group and casing", 3), Table(("", ""), parts, widths=(3, 9))]
    ports = _ports(subject)
    if ports:
        blocks += [
            Heading("Ports", 3),
            Table(("vessel", "port", "where"), ports, widths=(2, 3, 7)),
            Text("Threads and fittings are not part of the sweep: choose them for pressure and temperature."),
        ]
    return blocks


def _tube(subject: Subject, tube: Tube) -> Table:
    rows = (
        ("length of the helix", f"{tube.length_mm:.0f} mm", "turns", f"{tube.turns:.2f}"),
        ("tube, outside × bore", f"{tube.outer_mm:.1f} × {tube.bore_mm:.1f} mm", "material", tube.material),
        ("diameter of the centreline", f"{tube.centreline_mm:.1f} mm", "pitch", f"{tube.pitch_mm:.1f} mm"),
        ("height of the helix", f"{tube.height_mm:.1f} mm", "mass", f"{1e3 * tube.mass_kg:.0f} g"),
        (
            "headers, straight",
            f"2 × {tube.header_mm:.0f} mm",
            "tube to cut",
            f"{tube.length_mm + 2.0 * tube.header_mm:.0f} mm",
        ),
        (
            "pressure drop, pump to screen",
            subject.text("pressure_drop_bar"),
            "room left around it",
            subject.text("margin_coil_fit_mm"),
        ),
    )
    return Table(("", "", "", ""), rows, widths=(4, 4, 3, 3))


def _wall(chosen_mm: float, required_mm: float) -> str:
    return f"{chosen_mm:.2f} ({required_mm:.2f}) mm"


def _vessels(bodies: tuple[Body, ...]) -> Table:
    rows = (
        ("volume", *(f"{b.volume_mL:.0f} mL" for b in bodies)),
        ("inside diameter", *(f"{b.diameter_mm:.1f} mm" for b in bodies)),
        ("inside height, as if its ends were flat", *(f"{b.height_mm:.1f} mm" for b in bodies)),
        ("material", *(b.material.replace("_", " ") for b in bodies)),
        ("wall (required: safety valve + 10 %)", *(_wall(b.wall_mm, b.required_wall_mm) for b in bodies)),
        ("ends", *(f"{b.ends}, {_wall(b.end_wall_mm, b.required_end_wall_mm)}" for b in bodies)),
        ("insulation", *(f"{b.insulation_mm:.1f} mm" for b in bodies)),
        ("outside of the insulation", *(f"Ø {b.outer_diameter_mm:.0f} × {b.outer_height_mm:.0f} mm" for b in bodies)),
        ("mass", *(f"{b.mass_kg:.2f} kg" for b in bodies)),
        ("safety valve opens at", *(f"{b.valve_bar:.1f} bar gauge" for b in bodies)),
    )  # fmt: skip
    return Table(("", *(body_word(b) for b in bodies)), rows, widths=(5, *([4] * len(bodies))))


def _walls_text(bodies: tuple[Body, ...]) -> Text:
    volumes = ", ".join(f"{body_word(b)} {b.valve_bar * b.volume_mL * 1e-3:.1f} bar L" for b in bodies)
    return Text(
        f"Pressure times volume: {volumes}. Required walls come from shell and end formulas recalled from memory; "
        "this is no code calculation. Seams, corrosion, ports and fatigue are not in it."
    )


def _ports(subject: Subject) -> tuple[tuple[str, str, str], ...]:
    """Return vessel, port and place of every port that follows from the model."""
    rows: list[tuple[str, str, str]] = []
    brew, steam = subject.machine.body("brew"), subject.machine.body("steam")
    data = subject.brief.machine
    if brew is not None:
        top = BREW_HEIGHT_SHARE * brew.height_mm
        rows += [
            ("brew", "water in", "at the bottom, low speed: the jet mixes the lower layers"),
            ("brew", "water out, to the group", "at the top"),
            ("brew", "sensor T1", f"{SENSOR_SHARE * brew.height_mm:.0f} mm above the inside of the bottom"),
            ("brew", "element E1", f"flange low; all of it below {top:.0f} mm above the bottom"),
            (
                "brew",
                "safety valve SV1",
                "at the top, blowing where nobody stands; expansion leaves by XV1 in the cold line",
            ),
        ]
    if steam is not None:
        level = data.steam_vessel
        low, high = level.level_low * steam.height_mm, level.level_high * steam.height_mm
        top = data.elements.steam_top_share * steam.height_mm
        rows += [
            ("steam", "refill", "below the water line, away from the level probe"),
            ("steam", "steam out, to the wand", "at the top"),
            (
                "steam",
                "level probe L1",
                f"refill starts at {low:.1f} mm and stops at {high:.1f} mm above the bottom",
            ),
            ("steam", "element E3", f"flange low; all of it below {top:.0f} mm above the bottom"),
            ("steam", "sensor T3", "in the steam space"),
            ("steam", "safety valve SV3", "at the top, steam side, blowing where nobody stands"),
        ]
    if subject.machine.tube is not None:
        rows.append(
            ("steam", "coil in and out", f"two headers of {subject.machine.tube.header_mm:.0f} mm, straight")
        )
    return tuple(rows)
