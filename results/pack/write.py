"""The folder of a pack: built beside its place, then moved there whole."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

from boilerfront.model.cost import Line
from boilerfront.results.candidates import Candidate
from boilerfront.results.pack.acceptance import acceptance_toml
from boilerfront.results.pack.bench import channels
from boilerfront.results.pack.blocks import Block, Picture
from boilerfront.results.pack.devices import devices
from boilerfront.results.pack.html import html_page
from boilerfront.results.pack.page import pages, provenance, title_of
from boilerfront.results.pack.pdf import pdf_document
from boilerfront.results.pack.subject import Subject
from boilerfront.results.trace_plot import Traced, traces_parquet
from boilerfront.shared import files
from boilerfront.shared.errors import Fault, InputError
from boilerfront.shared.toml_text import toml_text

UNFINISHED = ".unfinished"


def folder_of(candidate: Candidate, site: str) -> str:
    """Return the name of a candidate's folder."""
    words = [candidate.letter, f"trial-{candidate.trial}", site]
    return "-".join(word for word in words if word)


def checked_folders(out: Path, names: list[str]) -> list[Path]:
    """Return where packs of these names shall lie; raises `InputError` with every one that is there already."""
    there = [
        Fault("--out", str(out / name), "a place where nothing is yet")
        for name in names
        if (out / name).exists()
    ]
    if there:
        raise InputError(there)
    return [out / name for name in names]


def write_pack(folder: Path, subject: Subject) -> None:
    """Write a pack's files into a new folder. Raises `DiskError`; then the folder is not there."""
    unfinished = folder.with_name(folder.name + UNFINISHED)
    content = pack_files(subject)
    files.make_folder(unfinished)
    for name, data in content.items():
        files.write_atomically(unfinished / name, data)
    files.move(unfinished, folder)


def pack_files(subject: Subject) -> dict[str, bytes]:
    """Return every file of a pack by its name."""
    blocks = pages(subject)
    title = title_of(subject)
    foot = f"{title}, run {subject.run}. Figures are simulation."
    found = provenance(subject)
    return {
        "pack.html": html_page(title, blocks).encode(),
        "pack.pdf": pdf_document(title, foot, blocks, made=subject.made),
        "schematic.svg": _schematic(blocks),
        "bom.csv": bill_csv(subject),
        "design.toml": _design(subject),
        "trace.parquet": traces_parquet([Traced(subject.label, subject.trace)]),
        "acceptance.toml": acceptance_toml(subject, channels(subject), found).encode(),
    }


def _schematic(blocks: list[Block]) -> bytes:
    return next(block.svg for block in blocks if isinstance(block, Picture) and block.svg).encode()


def bill_csv(subject: Subject) -> bytes:
    """Return the bill as CSV at full precision: tag and part of the schematic, what is priced of it.

    The last line is labour, which part_cost leaves out.
    """
    sink = io.StringIO()
    writer = csv.writer(sink)
    writer.writerow(["tag", "part", "item", "quantity", "unit", "price", "cost", "currency", "counts_as"])
    machine, currency = subject.machine, subject.brief.prices.currency

    def write(tag: str, part: str, line: Line, counts_as: str) -> None:
        priced = [line.item, line.quantity, line.unit, line.price, line.cost, currency, counts_as]
        writer.writerow([tag, part, *priced])

    for device in devices(machine):
        for line in device.lines:
            write(device.tag, device.meaning, line, "part_cost")
    write("", "assembly", machine.assembly, "assembly_cost")
    return sink.getvalue().encode()


def _design(subject: Subject) -> bytes:
    found = provenance(subject)
    heading = (
        f"# {subject.label} of the run {subject.run}, site {found['site']}; sweep {found['sweep_hash']}\n"
        "# boilerfront trace SWEEP --design design.toml\n"
    )
    heading = re.sub(r"[\x00-\x09\x0b-\x1f\x7f]", " ", heading)  # TOML allows no such sign in a comment
    return (
        heading + toml_text({name: value for name, value in subject.design.items() if value is not None})
    ).encode()
