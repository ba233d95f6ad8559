"""The bench acceptance plan: probes, conditions, procedure, and the bands that a prototype must keep."""

from __future__ import annotations

from dataclasses import dataclass

from boilerfront.model.duty import Duty, Event
from boilerfront.model.kernel.flush import FLUSH_WITHIN_K
from boilerfront.model.tolerances import TEXTS, ends
from boilerfront.results.confirm import FRESH_MACHINES
from boilerfront.results.pack.acceptance import COLD_STARTS, PROBE_K, Check, checks, shot_checks
from boilerfront.results.pack.behaviour import tolerance_range
from boilerfront.results.pack.blocks import Block, Caution, Heading, Points, Table, Text
from boilerfront.results.pack.devices import body_word, cut_outs, listed
from boilerfront.results.pack.release import release_table, releases
from boilerfront.results.pack.subject import Subject
from boilerfront.results.show import NO_VALUE

ON_THE_BENCH = ("mains", "inlet", "flow", "ambient")
"""Tolerances that the bench can hold and must write down."""
COLD_HOURS, COLD_K = 4, 2.0
"""Cold is: off for so long, and everything that close to the room (our judgement)."""


@dataclass(frozen=True)
class Probe:
    """Something measured: its tag, where it sits, and the column of a bench log that it fills."""

    tag: str
    where: str
    channel: str


def probes(subject: Subject) -> list[Probe]:
    """Return what is measured on this machine, and where."""
    machine = subject.machine
    found = [
        Probe(
            "TP",
            "Thermocouple of at most 1 mm in the water under the shower screen: a portafilter with a flow restrictor "
            "in place of coffee, the tip in the middle, 3 mm under the screen",
            "shot_C",
        )
    ]
    brew = machine.body("brew")
    if brew is not None:
        where = f"In the water of the {body_word(brew)} beside T1, through a port of its own"
        found.append(Probe("TB", where, "brew_sensor_C"))
    elif "block" in machine.way:
        found.append(Probe("TB", "In a bore of the block beside T1", "brew_sensor_C"))
    found.append(
        Probe(
            "TG",
            "In a bore of the group's metal beside T2, or half-way up an unheated group",
            "group_sensor_C",
        )
    )
    if machine.body("steam") is not None:
        found.append(Probe("TS", "In the steam space beside T3", "steam_sensor_C"))
        found.append(
            Probe(
                "PG", "Gauge on the steam boiler, absolute or gauge: write down which", "steam_pressure_bar"
            )
        )
    if machine.tube is not None:
        found.append(
            Probe("TK", "In the water that leaves the coil, at its outgoing header", "coil_header_out_C")
        )
    found += [
        Probe("TA", "In the casing's air, half-way up, shielded from the vessels' view", "casing_C"),
        Probe("TI", "In the cold water before the pump", "inlet_C"),
        Probe("TR", "In the room, 0.5 m from the machine, out of its draught", "room_C"),
        Probe("FM", "Scale under the cup, or flow meter in the brew line", "flow_g_s"),
        Probe("PM", "Power meter between socket and plug: power, current, voltage", "power_W"),
    ]
    found += [
        Probe(
            f"I{heater.name[0].upper()}",
            f"Current clamp on the {heater.name} element",
            f"{heater.name}_power_W",
        )
        for heater in machine.heaters
    ]
    return found


def channels(subject: Subject) -> dict[str, str]:
    """Return the columns of a bench log, each with the tag of its probe."""
    return {"time_s": "clock, s since switch-on"} | {probe.channel: probe.tag for probe in probes(subject)}


def bench_blocks(subject: Subject) -> list[Block]:
    """Return the whole plan."""
    rows = tuple((probe.tag, probe.where, probe.channel) for probe in probes(subject))
    shots = sum(event.kind == "shot" for event in subject.brief.duty.events)
    return [
        Heading("Bench acceptance plan"),
        Caution(
            "Nothing is pressurised, and nothing is plugged in, before whoever is licensed to do so has tested and "
            f"released the machine, the thermal cut-outs {_switches(subject)} among it: see the table. Stand clear "
            "of steam and hot water; the first heat-up is watched from behind a screen."
        ),
        Heading("Released before pressure and mains", 3),
        release_table(releases(subject.machine, subject.required)),
        Heading("Probes", 3),
        Table(("tag", "where", "column of the log"), rows, widths=(1, 9, 3)),
        Text(
            f"Log every channel at least once a second, the probe under the screen four times a second. Uncertainty "
            f"assumed for a calibrated probe: ±{PROBE_K:g} K (two sigma, our judgement)."
        ),
        Heading("Conditions", 3),
        _conditions(subject),
        Heading("Procedure", 3),
        Points(_steps(subject, shots), numbered=True),
        _duty(subject),
        Heading("Pass bands and requirements of figures", 3),
        _bands(subject, checks(subject)),
        Text(
            f"A band is the range of the figure over {FRESH_MACHINES} simulated machines inside the tolerances "
            "above, widened by the uncertainty of measuring it. The requirement is the sweep's limit; a dash means "
            f"that the sweep asks for nothing. Two verdicts, over each figure of each of the {COLD_STARTS} starts:"
        ),
        Points(
            (
                "matches the model's band: the figure is inside. One that is outside is a finding about the machine "
                "or about the model: find out which before changing either.",
                "meets the requirement: value plus its uncertainty is at most the limit. It does not where value "
                "less uncertainty is above; between the two it cannot be told (decision rule of ISO 14253-1, from "
                "memory).",
            )
        ),
        Text(
            "A prototype is accepted when every figure meets its requirement and matches its band. One that meets "
            "all requirements and leaves a band may be kept, but the model may not be trusted for it. "
            "acceptance.toml has the same, for `boilerfront acceptance`."
        ),
        Heading("Pass bands of shots", 3),
        _shots(subject),
    ]


def _switches(subject: Subject) -> str:
    return listed(tuple(each.tag for each in cut_outs(subject.machine)))


def _conditions(subject: Subject) -> Table:
    limits = ends(subject.brief.tolerances, subject.brief.site, subject.brief.trim)
    rows = tuple(
        (TEXTS[name], *tolerance_range(subject, name, *limits[name]))
        for name in ON_THE_BENCH
        if name in limits
    )
    return Table(
        ("keep between, and write down", "from", "to"), rows, numbers=frozenset({1, 2}), widths=(6, 3, 3)
    )


def _steps(subject: Subject, shots: int) -> tuple[str, ...]:
    brief, machine = subject.brief, subject.machine
    tolerances, control, duty = brief.tolerances, brief.machine.control, brief.duty
    sensor_K = tolerances.sensor_unit_K if brief.trim.by == "unit" else tolerances.sensor_model_K
    return (
        f"Calibrate the probes together, in ice water and in water near {machine.user_set_point_C:.0f} °C. Compare "
        f"the machine's own sensors with the probes beside them and correct them to within ±{sensor_K:g} K: the "
        "bands assume that.",
        "Measure the cold resistance of each element and the mass of the dry machine; compare with this pack.",
        f"Set the controls as in this pack, the user's set-point to {machine.user_set_point_C:.1f} °C, portafilter "
        f"{'locked in from switch-on' if duty.portafilter == 'locked' else 'locked in cold for each shot'}.",
        f"Cold start: off for at least {COLD_HOURS} h and everything within {COLD_K:g} K of the room. Fill, switch "
        "on, start the log.",
        "Ready is when all that counts has been in its band for 30 s. Then follow the duty below; a shot that finds "
        "the machine out of band waits, and all later ones shift.",
        *_preparations(subject),
        _steaming(duty),
        f"After each shot the portafilter is off for {duty.portafilter_off_s} s. A shot is scored from "
        f"{duty.window_start_s} s after its pump's start to its stop.",
        f"Repeat on {COLD_STARTS} days: {COLD_STARTS} cold starts, {COLD_STARTS * shots} shots.",
        "Shot deviation: square the error (probe less set-point) of every whole second that is scored, take the mean "
        "within each shot, then over the shots, then the root.",
        "Energy of a day: meter reading from switch-on to the end of the last shot, plus the mean power of the last "
        f"10 min of idling times {control.hold_s:.0f} s, plus {control.off_W:g} W for the rest of 24 h.",
    )


def _steaming(duty: Duty) -> str:
    """Return what is steamed, if anything, and what stays off."""
    if any(event.kind == "steam" for event in duty.events):
        return (
            f"Steaming: {duty.milk_g:.0f} g of milk from {duty.milk_from_C:.0f} to {duty.milk_to_C:.0f} °C in its "
            "jug; the time is from opening to closing the wand."
        )
    off = "; a steam boiler that the machine can brew without stays switched off"
    return f"No milk is steamed{off if duty.steam_boiler == 'off' else ''}."


def _preparations(subject: Subject) -> tuple[str, ...]:
    """Return what somebody has to do before a shot, or before and after steaming, on machines that need it."""
    machine, swing = subject.machine, subject.brief.machine.swing
    if machine.flush_mL is None:
        return ()
    if machine.swings_to_C is None:
        return (
            f"Before each shot, while the water at the screen would be more than {FLUSH_WITHIN_K:g} K too hot: flush "
            f"through the group until it is not, {machine.flush_mL:.0f} mL at most, lock the portafilter in and "
            f"start the shot {swing.flush_pause_s} s later.",
        )
    vent = (
        ""
        if machine.vented_level is None
        else f" Then open the wand, or V4, until {100 * machine.vented_level:.0f} % of the vessel is water."
    )
    return (
        f"For steam switch to {machine.swings_to_C:.0f} °C and wait until it is reached.{vent} Afterwards switch "
        f"back, refill, and flush through the group until the brew band is near, {machine.flush_mL:.0f} mL at most.",
    )


def _duty(subject: Subject) -> Table:
    duty = subject.brief.duty
    rows = []
    number = 0
    for event in duty.events:
        number += event.kind == "shot"
        what = f"shot {number}, {event.flow}" if event.kind == "shot" else "steaming"
        rows.append(
            (_when(event), what, _flow(subject, event) if event.kind == "shot" else "until the milk is hot")
        )
    return Table(("when", "what", "flow"), tuple(rows), widths=(4, 4, 8))


def _when(event: Event) -> str:
    return (
        f"{event.at_s} s after ready"
        if event.at_s is not None
        else f"{event.after_s} s after the last pump stop"
    )


def _flow(subject: Subject, event: Event) -> str:
    duty = subject.brief.duty
    flow = duty.flows[event.flow]
    return (
        f"fill {duty.fill_mL_s:g} mL/s for {duty.fill_s} s, in {duty.ramp_s} s to {flow.steady_mL_s:g} mL/s, pump "
        f"stop at {flow.stop_s} s"
    )


def _bands(subject: Subject, found: list[Check]) -> Table:
    rows = tuple(
        (
            check.measure.how,
            check.measure.figure,
            check.unit,
            subject.shown(check.measure.figure, check.nominal),
            "" if check.low is None else subject.shown(check.measure.figure, check.low),
            subject.shown(check.measure.figure, check.high),
            NO_VALUE
            if check.required is None
            else f"≤ {subject.shown(check.measure.figure, check.required)}",
        )
        for check in found
    )
    head = ("how it is measured", "figure", "unit", "nominal", "model: at least", "at most", "required")
    return Table(head, rows, numbers=frozenset({3, 4, 5, 6}), widths=(6.5, 4, 1.5, 2, 2, 2, 2.2))


def _shots(subject: Subject) -> Table:
    rows = tuple(
        (f"{shot.number}", shot.flow, shot.planned, f"{shot.low_K:+.2f} K", f"{shot.high_K:+.2f} K")
        for shot in shot_checks(subject)
    )
    head = ("shot", "flow", "planned", "mean error at least", "mean error at most")
    return Table(head, rows, numbers=frozenset({3, 4}), widths=(1, 2, 4, 3, 3))
