"""What new prices change, in words and small tables."""

from __future__ import annotations

from collections.abc import Iterator

import pyarrow as pa
import pyarrow.compute as pc

from boilerfront.model.prices import LABOUR
from boilerfront.results.question import COST, default_columns
from boilerfront.results.reprice import Repriced
from boilerfront.results.schema import added_field, digits_of, group_of, unit_of
from boilerfront.results.show import as_text, value_text
from boilerfront.shared.folding import folded

ROWS = 5
"""Designs that entered or left the front, shown at most."""


def change_text(result: Repriced, *, width: int) -> Iterator[str]:
    """Yield what changed, in pieces of at most `width` columns: prices, the cheapest, who entered, who left."""
    yield (
        folded(
            "Prices that changed, and what the item costs in the median design of both fronts:", width=width
        )
        + "\n"
    )
    yield as_text(result.lines, width=width, chooser="")
    old, new = (unit_of(result.lines.schema.field(name)) for name in ("old_cost", "new_cost"))
    if old != new:
        yield folded(f"old costs are in {old}, new ones in {new}: no exchange rate enters", width=width)
    if LABOUR in result.lines["item"].to_pylist():
        yield folded("labour counts in assembly_cost, which is apart from part_cost", width=width)
    yield folded(_cheapest(result), width=width)
    stayed = result.after.num_rows - result.entered.num_rows
    counts = (
        f"front: {result.before.num_rows:,} designs before, {result.after.num_rows:,} now; {stayed:,} stayed, "
        f"{result.entered.num_rows:,} entered, {result.left.num_rows:,} left"
    )
    yield folded(counts, width=width)
    if result.foreign:
        caution = (
            f"caution: by today's model {result.foreign:,} designs are built of other parts than when the run was "
            "computed; they keep the difference in cost that this makes"
        )
        yield folded(caution, width=width)
    for lead, table in (("Entered", result.entered), ("Left", result.left)):
        if table.num_rows:
            yield _few(lead, table, result, width)


def _cheapest(result: Repriced) -> str:
    words = []
    for table in (result.before, result.after):
        if not table.num_rows:
            return "no design is feasible: there is no front"
        place = int(
            pc.sort_indices(table, sort_keys=[(COST, "ascending"), ("trial", "ascending")])[0].as_py()
        )
        words.append(f"trial {table['trial'][place]} at {value_text(table, COST, place)}")
    return f"cheapest on the front: {words[0]} before, {words[1]} now"


def _few(lead: str, table: pa.Table, result: Repriced, width: int) -> str:
    """Return the first of some designs in the order of the objectives, with their cost before and now."""
    objectives = group_of(table.schema, "objective")
    order = pc.sort_indices(table, sort_keys=[(name, "ascending") for name in (*objectives, "trial")])
    few = table.take(order[:ROWS])
    unit = unit_of(result.lines.schema.field("old_cost"))
    old = added_field(
        "old_cost",
        pa.float64(),
        unit=unit,
        text="part cost before",
        digits=digits_of(table.schema.field(COST)),
    )
    few = few.append_column(old, pa.array([result.old_costs[trial] for trial in few["trial"].to_pylist()]))
    others = [name for name in default_columns(table.schema) if name not in ("trial", COST)]
    more = f", {ROWS} of {table.num_rows:,}" if table.num_rows > ROWS else ""
    columns = ["trial", "old_cost", COST, *(name for name in objectives if name != COST)]
    columns += [name for name in others if name not in columns]
    return f"\n{lead}{more}:\n\n" + as_text(few.select(columns), width=width, chooser="")
