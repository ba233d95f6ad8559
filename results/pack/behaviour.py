"""What the candidate is predicted to do: objectives, figures with bands, margins with their sources, charts."""

from __future__ import annotations

from boilerfront.model.glossary import COLUMNS, FIGURES, OBJECTIVES
from boilerfront.model.tolerances import TEXTS, ends
from boilerfront.results.confirm import FRESH_MACHINES
from boilerfront.results.pack.acceptance import shot_checks
from boilerfront.results.pack.bands import HIGH, LOW
from boilerfront.results.pack.blocks import Block, Caution, Heading, Picture, Table, Text
from boilerfront.results.pack.charts import course_chart, shots_chart, warm_up_chart
from boilerfront.results.pack.margins import margin_blocks
from boilerfront.results.pack.subject import Subject
from boilerfront.results.question import COST

NOT_PREDICTED = frozenset(
    {"trim_runs", "energy_residual", "steam_dryness", "set_point_top_C", "assembly_cost"}
)
"""Figures that say nothing to a workshop, or stand elsewhere."""


def glance_table(subject: Subject) -> Table:
    """Return the objectives: the ledger's, the nominal machine's, and both on fresh machines."""
    rows = []
    for name in OBJECTIVES:
        band = None if name == COST else subject.band(name)
        scatters = ("", "") if band is None else (
            subject.shown(name, subject.fresh(name)),
            f"{subject.shown(name, band[1])} to {subject.shown(name, band[2])}",
        )  # fmt: skip
        rows.append(
            (
                f"{COLUMNS[name].text}, {subject.unit(name)}",
                subject.shown(name, subject.number(name)),
                subject.shown(name, subject.number(f"{name}_nominal")),
                *scatters,
            )
        )
    head = (
        "",
        f"ledger: {subject.statistic}",
        "ledger: nominal machine",
        f"kept by {100 * subject.brief.tolerances.share:g} % of {FRESH_MACHINES} fresh machines",
        f"{LOW:g} to {HIGH:g} % of them",
    )
    return Table(head, tuple(rows), numbers=frozenset({1, 2, 3, 4}), widths=(5, 2.4, 2.2, 2.8, 2.6))


def behaviour_blocks(subject: Subject) -> list[Block]:
    """Return charts, figures with their bands, and the margins."""
    bands = subject.bands
    low, high = bands.ready_s
    blocks: list[Block] = [
        Heading("Predicted behaviour"),
        Picture(
            "Temperatures of the sensors during warm-up, with bands over the batch",
            f"Warm-up: nominal machine and {LOW:g} to {HIGH:g} % of {bands.machines} machines. The batch is ready "
            f"after {low:.0f} to {high:.0f} s.",
            png=warm_up_chart(subject),
        ),
        Picture(
            "Water at the screen in every shot, with bands over the batch",
            f"Shots: nominal machine and {LOW:g} to {HIGH:g} % of {bands.machines} machines; grey: not scored; "
            "dotted: pass band of the shot's mean on the bench.",
            png=shots_chart(subject, shot_checks(subject)),
        ),
        Picture(
            "Temperatures, powers, flows and pressure of the nominal machine through the whole duty",
            "The nominal machine through the whole duty; its numbers are in trace.parquet.",
            png=course_chart(subject),
        ),
        Heading("Figures", 3),
        *(
            [
                Text(
                    "Figures that the ledger has for all sites together only were computed again for this site."
                )
            ]
            if subject.site
            else []
        ),
        _figures(subject),
        Heading("What the bands allow for", 3),
        tolerance_table(subject),
        Heading("Margins", 3),
        *margin_blocks(subject),
    ]
    if not subject.was_computed_alike:
        blocks.insert(
            1,
            Caution(
                "Bill, traces and bands were computed by another version of the model, or on another kind of "
                "processor, than the ledger's figures, and differ from them. Run the sweep again before you build."
            ),
        )
    return blocks


def _figures(subject: Subject) -> Table:
    rows = []
    for name in FIGURES:
        value = subject.number(name)
        if name in NOT_PREDICTED or value is None:
            continue
        band = subject.band(name)
        spread = ("", "") if band is None else (
            f"{subject.shown(name, band[1])} to {subject.shown(name, band[2])}",
            f"{subject.shown(name, band[0])} to {subject.shown(name, band[3])}",
        )  # fmt: skip
        rows.append((COLUMNS[name].text, name, subject.unit(name), subject.shown(name, value), *spread))
    head = ("figure", "column", "unit", "ledger, nominal", f"{LOW:g} to {HIGH:g} %", "whole batch")
    return Table(head, tuple(rows), numbers=frozenset({3, 4, 5}), widths=(6, 4, 1.6, 2, 3, 3))


def tolerance_table(subject: Subject) -> Table:
    """Return what differs between the machines of the batch, of what this machine has."""
    brief = subject.brief
    limits = ends(brief.tolerances, brief.site, brief.trim)
    rows = tuple(
        (TEXTS[name], *tolerance_range(subject, name, low, high))
        for name, (low, high) in limits.items()
        if _concerns(subject, name)
    )
    return Table(
        ("what differs between machines", "from", "to"), rows, numbers=frozenset({1, 2}), widths=(6, 3, 3)
    )


def _concerns(subject: Subject, name: str) -> bool:
    """Return whether a machine has what a tolerance scatters."""
    what, _, kind = name.partition("_")
    if what == "coil":
        return subject.machine.tube is not None
    circuits = {heater.name for heater in subject.machine.heaters}
    return kind not in ("power", "sensor") or what in circuits


def tolerance_range(subject: Subject, name: str, low: float, high: float) -> tuple[str, str]:
    """Return the ends of a tolerance as people write them."""
    site = subject.brief.site
    if name == "mains":
        return f"{low * site.voltage_V:.0f} V", f"{high * site.voltage_V:.0f} V"
    if name == "inlet":
        return f"{site.inlet_C + low:.0f} °C", f"{site.inlet_C + high:.0f} °C"
    if name == "ambient":
        return f"{site.ambient_C + low:.0f} °C", f"{site.ambient_C + high:.0f} °C"
    if name.endswith("_sensor"):
        return f"{low:+.2f} K", f"{high:+.2f} K"
    if name.endswith("_power"):
        return "lowest", "highest allowed by IEC 60335-1 clause 10"
    if name == "scale":
        to_mm = 1e3 * subject.brief.tolerances.scale_conductivity_W_mK
        return f"{low * to_mm:.2f} mm", f"{high * to_mm:.2f} mm"
    return f"{100 * low:.0f} %", f"{100 * high:.0f} %"
