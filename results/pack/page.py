"""The pages of a pack, block by block."""

from __future__ import annotations

import json
from typing import Any

from boilerfront.results.cautions import SHORT_CAUTION
from boilerfront.results.pack.behaviour import behaviour_blocks, glance_table
from boilerfront.results.pack.bench import bench_blocks
from boilerfront.results.pack.blocks import Block, Caution, Heading, Table, Text
from boilerfront.results.pack.build import architecture_words, drawing_blocks, size_blocks
from boilerfront.results.pack.margins import differences
from boilerfront.results.pack.safety import safety_blocks
from boilerfront.results.pack.settings import bill_blocks, control_blocks, electric_blocks
from boilerfront.results.pack.subject import Subject
from boilerfront.results.schema import metadata_of


def title_of(subject: Subject) -> str:
    """Return the pack's title."""
    return f"Prototype pack: {subject.label}"


def pages(subject: Subject) -> list[Block]:
    """Return all blocks of a pack, in order."""
    site = subject.brief.site
    kind = architecture_words(subject)
    unmet = [] if subject.candidate.row["feasible"] else [
        Caution("This design does not keep every limit of its sweep: see the margins before you build it.")
    ]  # fmt: skip
    note = [Text(f"Kept with the note: {subject.candidate.note}")] if subject.candidate.note else []
    return [
        Heading(title_of(subject), 1),
        Text(
            f"A {kind} for {site.name}, from the run {subject.run}; made on {subject.made.date().isoformat()}. "
            f"User's set-point {subject.machine.user_set_point_C:.1f} °C."
        ),
        *note,
        Caution(
            f"{SHORT_CAUTION} Local codes, the notified body or test laboratory and licensed practice decide."
        ),
        *unmet,
        glance_table(subject),
        *differences(subject),
        *drawing_blocks(subject),
        *size_blocks(subject),
        *electric_blocks(subject),
        *control_blocks(subject),
        *bill_blocks(subject),
        *behaviour_blocks(subject),
        *bench_blocks(subject),
        *safety_blocks(subject),
        *_provenance_blocks(subject),
    ]


def provenance(subject: Subject) -> dict[str, Any]:
    """Return where the pack's numbers come from."""
    metadata = metadata_of(subject.candidate.schema)
    book = subject.brief.prices
    return {
        "run": subject.run,
        "trial": subject.candidate.trial,
        "letter": subject.candidate.letter or "",
        "sweep_hash": metadata.get("sweep_hash", ""),
        "versions": json.loads(metadata.get("versions", "{}")),
        "site": subject.site or subject.brief.site.name,
        "prices_date": book.date,
        "currency": book.currency,
        "made": subject.made.isoformat(timespec="seconds"),
    }


def _provenance_blocks(subject: Subject) -> list[Block]:
    found = provenance(subject)
    rows = (
        ("run and trial", f"{found['run']}, trial {found['trial']}"),
        ("hash of the sweep", found["sweep_hash"]),
        (
            "versions at the run's start",
            ", ".join(f"{name} {each}" for name, each in found["versions"].items()),
        ),
        ("objectives and margins of the ledger", f"{subject.statistic}; further figures: nominal machine"),
        ("price book", f"{found['prices_date'] or 'no date'}, {found['currency']}"),
        ("made", found["made"]),
        (
            "files beside this page",
            "design.toml (for trace and calibrate), bom.csv, trace.parquet, acceptance.toml",
        ),
    )
    return [Heading("Where the numbers come from"), Table(("", ""), rows, widths=(3, 9))]
