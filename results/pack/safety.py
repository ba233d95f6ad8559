"""Risks and cautions of a candidate, with its own numbers and where each rule comes from."""

from __future__ import annotations

from boilerfront.model.limits import SOURCES
from boilerfront.results.cautions import CAUTIONS
from boilerfront.results.pack.blocks import Block, Heading, Points, Table
from boilerfront.results.pack.devices import body_word, cut_outs, heated_word, listed
from boilerfront.results.pack.subject import Subject

SEALED_BAR_PER_K = 12
"""Rise of pressure in a full, sealed, rigid boiler near 60 °C: thermal expansion over compressibility of water,
IAPWS-95."""


def safety_blocks(subject: Subject) -> list[Block]:
    """Return the cautions and the hazards of this machine."""
    return [
        Heading("Risks and cautions"),
        Points(CAUTIONS),
        Table(
            ("hazard", "on this machine", "what must be there", "where the rule comes from"),
            tuple(_hazards(subject)),
            widths=(2.2, 5, 5, 4),
        ),
        Heading("What the model does not know", 3),
        Points(
            (
                "Coffee: shots are water through a resistance; taste is not predicted.",
                "Films inside and outside of the coil are known to about 25 %, its immersed share to 10 %: the bands "
                "contain that, and the best length moves with it. Try the coil before the rest.",
                "Wear, leaks, scale beyond the tolerance, blocked valves, wrong wiring and wrong settings are not in "
                "the bands.",
                "Sound, vibration, touch temperatures, electromagnetic compatibility and endurance are not looked "
                "at.",
            )
        ),
    ]


def _hazards(subject: Subject) -> list[tuple[str, str, str, str]]:
    machine, site, volts = subject.machine, subject.brief.site, subject.brief.site.voltage_V
    rows = [
        (
            "pressure",
            "; ".join(_pressures(subject)),
            "a safety valve for each vessel that no other valve can shut off, its outlet led away; a pressure test "
            "of the finished vessel; no work on it before it is cold and vented",
            _source("margin_volume_category_L")
            + "; at or below it sound engineering practice, article 4(3) (from memory)",
        )
    ]
    left = "" if machine.body("brew") is None else f"; {subject.text('expansion_mL')} leave it in a warm-up"
    rows += [
        (
            "expansion",
            f"a full, closed brew side gains about {SEALED_BAR_PER_K} bar for each kelvin{left}",
            "XV1: an expansion path that nothing can block, besides any safety valve",
            "IAPWS-95, rigid vessel",
        ),
        (
            "mains",
            f"{sum(h.power_W for h in machine.heaters):.0f} W of elements at {volts:.0f} V, "
            f"{subject.text('peak_current_A')} through a socket of {site.current_limit_A:.0f} A",
            "earth bonding (PE) of every metal part that can be touched, fuses (FU), double-pole switch (S1), "
            "creepage and clearance, wiring for the highest current; the controller's interlock is no protection",
            "IEC 60335-1 and 60335-2-15; heating test at 1.15 times the rated power, clause 11 (from memory)",
        ),
        (
            "boiling dry",
            _loads(subject),
            _against_boiling_dry(subject),
            "IEC 60335-1 clause 19, abnormal operation (from memory); surface load: "
            + _source("margin_watt_density_W_cm2"),
        ),
        (
            "scalding",
            f"water near {machine.user_set_point_C:.0f} °C at the group, and what flashes from the wand, the valves "
            "and an opened portafilter",
            "V1 lets the group's pressure fall before the portafilter opens; drains that end where nobody stands",
            "common practice (from memory)",
        ),
        (
            "drinking water",
            _materials(subject),
            "materials, solder, seals and coatings approved for drinking water where the machine is sold",
            "national approval; in the United States at most 0.25 % lead by wetted surface (from memory)",
        ),
        (
            "standby",
            f"{subject.brief.machine.control.off_W:g} W when off, off by itself after "
            f"{subject.brief.machine.control.hold_s:.0f} s",
            "auto-off that works without the network",
            _source("standby_kWh_day"),
        ),
    ]
    return rows


def _against_boiling_dry(subject: Subject) -> str:
    machine = subject.machine
    each = listed(
        tuple(f"{found.tag} on the {heated_word(found.of, machine)}" for found in cut_outs(machine))
    )
    level = "; the level cut-off LC3" if machine.body("steam") is not None else ""
    return f"thermal cut-outs with hand reset, independent of the controller: {each}{level}"


def _source(name: str) -> str:
    """Return where the rule behind a margin or figure comes from."""
    return SOURCES.get(name, "from memory")


def _pressures(subject: Subject) -> list[str]:
    gauge = subject.machine.steam_gauge_bar
    found = []
    for body in subject.machine.bodies:
        at = f" at {gauge:.2f} bar gauge when hot" if body.steams and gauge is not None else ""
        word = body_word(body)
        found.append(f"{word}: {body.volume_mL:.0f} mL{at}, safety valve {body.valve_bar:.1f} bar gauge")
    if subject.machine.block is not None:
        hot = (
            "" if gauge is None else f", and {gauge:.1f} bar gauge is the pressure of steam at its set-point"
        )
        found.append(f"a block under the pump's pressure{hot}")
    return found


def _loads(subject: Subject) -> str:
    loads = [
        f"{heater.name} element up to {heater.highest_load_W_cm2:.1f} W/cm²"
        for heater in subject.machine.heaters
        if heater.highest_load_W_cm2 is not None
    ]
    level = subject.number("margin_level_mm")
    covered = "" if level is None else f"; lowest water line {level:.0f} mm above the steam element"
    return ("; ".join(loads) or "an element cast into metal") + covered


def _materials(subject: Subject) -> str:
    machine = subject.machine
    metals = {body.material for body in machine.bodies} | ({machine.tube.material} if machine.tube else set())
    return (
        ", ".join(sorted(metal.replace("_", " ") for metal in metals)) or "the block's alloy and its coating"
    )
