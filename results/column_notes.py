"""What a person should know about columns of an answer: where limits come from, what altitude has cut."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import pyarrow as pa
import pyarrow.compute as pc

from boilerfront.results.schema import metadata_of

CUT, TOP = "set_point_cut_K", "set_point_top_C"


def source_notes(schema: pa.Schema, names: Iterable[str]) -> Iterator[str]:
    """Yield meaning and source of each of the columns `names` that has a source."""
    for name in names:
        metadata = metadata_of(schema.field(name)) if name in schema.names else {}
        if metadata.get("source"):
            yield f"{name}: {metadata['text']}; source: {metadata['source']}"


def altitude_notes(table: pa.Table) -> Iterator[str]:
    """Yield a sentence for each site whose altitude cuts the top off the user's set-point range."""
    for name in table.column_names:
        base, _, site = name.partition("@")
        top = f"{TOP}@{site}" if site else TOP
        if base != CUT or top not in table.column_names:
            continue
        cut, highest = pc.max(table[name]).as_py(), pc.max(table[top]).as_py()
        if cut is not None and cut > 0 and highest is not None:
            where = f" at {site}" if site else ""
            yield f"altitude{where} cuts the set-point range to {highest:g} °C, {cut:g} K below what was asked for"
