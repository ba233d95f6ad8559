"""How the machine is wired and set: elements, currents and fuses, loops and interlock, and what it is made of."""

from __future__ import annotations

from boilerfront.model.cost import Line
from boilerfront.model.describe import Heater
from boilerfront.model.limits import PST_LIMIT, SOURCES
from boilerfront.results.pack.blocks import Block, Caution, Heading, Points, Table, Text
from boilerfront.results.pack.devices import devices
from boilerfront.results.pack.required import TITLE
from boilerfront.results.pack.subject import Subject
from boilerfront.results.show import NO_VALUE

FUSE_AMPERES = (1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0, 12.5, 16.0, 20.0)
"""Preferred ratings of miniature fuses (IEC 60127, from memory)."""
FUSE_LOAD = 0.8
"""A fuse carries this part of its rating for long (common practice, from memory)."""
CIRCUIT_WORDS = {"brew": "brewing", "group": "group", "steam": "steam"}


def electric_blocks(subject: Subject) -> list[Block]:
    """Return elements with their currents, fuses, and how the socket is shared."""
    site, control = subject.brief.site, subject.brief.machine.control
    high_V = site.voltage_V * (1.0 + site.mains_tolerance)
    peak = subject.band("peak_current_A")
    shared = [
        f"Site: {site.name}, {site.voltage_V:.0f} V ± {100 * site.mains_tolerance:.0f} %, {site.frequency_Hz} Hz; "
        f"the machine may draw {site.current_limit_A:.1f} A.",
        f"Largest current that the interlock lets through: {subject.text('peak_current_A')} at nominal mains"
        + ("." if peak is None else f", {peak[3]:.2f} A in the worst of the fresh machines."),
        f"The pump takes {control.pump_W:.0f} W while it runs, the electronics {control.electronics_W:.0f} W; "
        "both come off the limit first.",
    ]
    widths = (3, 2, 2.2, 2.2, 2.6, 3, 2)
    head = ("element", "rated", "cold, about", "nominal", "highest", "surface load", "fuse")
    rows = tuple(_heater_row(each) for each in subject.machine.heaters)
    return [
        Heading("Elements, currents and fuses"),
        Table(head, rows, numbers=frozenset({1, 2, 3, 4}), widths=widths),
        Text(
            f"Highest current: the largest power that the element's tolerance allows (IEC 60335-1 clause 10, from "
            f"memory) at {high_V:.0f} V. Surface load: nominal, and in brackets the highest. Fuse: the smallest "
            f"preferred rating whose {100 * FUSE_LOAD:.0f} % carries the highest current, a proposal from memory; "
            "who is licensed to do so chooses it, and the wiring for it."
        ),
        Points(tuple(shared)),
        *flicker_blocks(subject),
    ]


def flicker_blocks(subject: Subject) -> list[Block]:
    """Return a caution where the elements' switching flickers more than the standard allows."""
    nominal, band = subject.number("flicker_Pst"), subject.band("flicker_Pst")
    if nominal is None:
        return []
    high = nominal if band is None else max(nominal, float(band[2]))
    if high <= PST_LIMIT:
        return []
    return [
        Caution(
            f"Flicker: Pst is {subject.shown('flicker_Pst', nominal)} nominal, up to "
            f"{subject.shown('flicker_Pst', high)} in 95 % of the fresh machines; {SOURCES['flicker_Pst']}. Longer "
            "firing windows, smaller elements or ones switched in turn lower it; a test laboratory decides."
        )
    ]


def _heater_row(heater: Heater) -> tuple[str, ...]:
    sheath = (
        ""
        if heater.length_mm is None
        else f", sheath Ø {heater.sheath_mm:.0f} mm, {heater.length_mm:.0f} mm heated"
    )
    load = NO_VALUE
    if heater.load_W_cm2 is not None and heater.highest_load_W_cm2 is not None:
        load = f"{heater.load_W_cm2:.1f} ({heater.highest_load_W_cm2:.1f}) W/cm²"
    fuse = next((each for each in FUSE_AMPERES if FUSE_LOAD * each >= heater.highest_current_A), None)
    return (
        f"{CIRCUIT_WORDS[heater.name]}{sheath}",
        f"{heater.power_W:.0f} W",
        f"{heater.resistance_ohm:.1f} Ω",
        f"{heater.current_A:.2f} A",
        f"{heater.highest_current_A:.2f} A",
        load,
        "none fits" if fuse is None else f"{fuse:g} A, time-lag",
    )


def control_blocks(subject: Subject) -> list[Block]:
    """Return every loop's settings, the offset, the interlock."""
    machine, data = subject.machine, subject.brief.machine
    controls = machine.controls
    head = ("", *(CIRCUIT_WORDS[each.name] for each in controls))
    rows = (
        ("priority at the socket", *(f"{each.priority}" for each in controls)),
        ("set-point", *(f"{each.set_point_C:.2f} °C" for each in controls)),
        ("gain Kc", *(f"{each.gain_W_K:.1f} W/K ({each.gain_percent_K:.2f} %/K)" for each in controls)),
        ("reset time Ti", *(f"{each.reset_s:.1f} s" for each in controls)),
        ("derivative time Td", *("0 s" for _ in controls)),
        ("anti-windup tracking time Tt", *(f"{each.tracking_s:.1f} s" for each in controls)),
        ("tuned for a dead time of", *(f"{each.dead_time_s:.1f} s" for each in controls)),
        ("sensor's first-order lag", *(f"{each.sensor_lag_s:.1f} s" for each in controls)),
        ("sampling", *(f"{each.sample_s:.0f} s" for each in controls)),
        ("firing window", *(f"{each.window_s:g} s" for each in controls)),
        ("flow feed-forward", *("yes" if each.feed_forward else "no" for each in controls)),
    )
    return [
        Heading("Control settings"),
        Table(head, rows, widths=(3, *([3] * len(controls)))),
        Points(
            (
                f"The user sets {machine.user_set_point_C:.1f} °C. The offset that the factory adds to the "
                f"set-point of {CIRCUIT_WORDS[machine.trimmed]} is {round(machine.offset_K, 2) + 0.0:+.2f} K.",
                "I-PD form: the integral acts on the error, the proportional part on the measurement. Output "
                "clamped to 0 to full power; the integral starts so that the output is full at switch-on, is held "
                "while a shot runs, and follows the clamped output with Tt.",
                "Gains by the SIMC rule (S. Skogestad, J. Process Control 13, 2003): Kc = C / (2 θ), Ti = "
                "min(τ, 8 θ), with C the heat capacity that the loop moves and θ its dead time.",
                f"Sensor resolution {data.control.resolution_K:g} K or finer. Elements are switched at zero "
                "crossings, in the fraction of the firing window that the loop asks for.",
                "Interlock: in every window elements are placed by priority, each where the sum of currents stays "
                "under the limit; what does not fit waits.",
                *_swing_text(subject),
                *_level_text(subject),
            )
        ),
    ]


def _swing_text(subject: Subject) -> tuple[str, ...]:
    swings_to_C = subject.machine.swings_to_C
    if swings_to_C is None:
        return ()
    return (f"For steam the set-point of brewing goes to {swings_to_C:.1f} °C, and back afterwards.",)


def _level_text(subject: Subject) -> tuple[str, ...]:
    if subject.machine.body("steam") is None:
        return ()
    level = subject.brief.machine.steam_vessel
    gauge = subject.machine.steam_gauge_bar
    return (
        f"Steam boiler: refill from {100 * level.level_low:.0f} % to {100 * level.level_high:.0f} % of its volume at "
        f"{level.refill_mL_s:.1f} mL/s, locked out while a shot runs"
        + (f"; {gauge:.2f} bar gauge at the set-point." if gauge is not None else "."),
    )


def bill_blocks(subject: Subject) -> list[Block]:
    """Return the bill of materials with its cost lines; assembly stands apart."""
    book, machine = subject.brief.prices, subject.machine
    found = devices(machine)
    rows = [
        (each.tag, each.meaning, _priced(each.lines, book.currency), f"{each.cost:.2f} {book.currency}")
        for each in found
    ]
    cost = sum(each.cost for each in found)
    labour = machine.assembly
    rows += [
        ("", "parts", "", f"{cost:.2f} {book.currency}"),
        (
            "",
            "assembly, not in the parts' cost",
            _priced((labour,), book.currency),
            f"{labour.cost:.2f} {book.currency}",
        ),
    ]
    dated = f"Price book of {book.date}" if book.date else "Price book without a date"
    return [
        Heading("Bill of materials"),
        Table(
            ("tag", "part", "what is priced", "cost"),
            tuple(rows),
            numbers=frozenset({3}),
            widths=(1, 5, 7, 2),
            strong=frozenset({len(found)}),
        ),
        Text(
            f"{dated}, in {book.currency}"
            + (f": {book.note}." if book.note else ".")
            + f" Tags are those of the schematic; what stands under '{TITLE}' is not priced."
        ),
    ]


def _priced(lines: tuple[Line, ...], currency: str) -> str:
    return "; ".join(
        f"{line.item.replace('_', ' ')} {_quantity(line)} at {line.price:g} {currency}" for line in lines
    )


def _quantity(line: Line) -> str:
    whole = line.quantity == round(line.quantity)
    return f"{line.quantity:.0f} {line.unit}" if whole else f"{line.quantity:.3g} {line.unit}"
