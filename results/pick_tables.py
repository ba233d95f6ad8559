"""Picked designs as tables: the letter first, then what a row says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pyarrow as pa
import pyarrow.compute as pc

from boilerfront.results.confirm import FRESH_MACHINES, Confirmation
from boilerfront.results.picks import Pick
from boilerfront.results.question import COST, default_columns
from boilerfront.results.schema import added_field, group_of, metadata_of, table_of_columns


def rows_of_trials(table: pa.Table, trials: Sequence[int]) -> pa.Table:
    """Return the rows of `trials` in their order; those that the table lacks are left out."""
    places = pc.index_in(pa.array(trials, pa.int64()), table["trial"].combine_chunks())
    return table.take(places.drop_null())


def lettered(rows: pa.Table, letters: Mapping[int, str]) -> pa.Table:
    """Return trial, architecture, objectives and variables of rows behind each one's letter."""
    names = [letters[trial] for trial in rows["trial"].to_pylist()]
    return rows.select(default_columns(rows.schema)).add_column(0, _LETTER, pa.array(names))


def kept_table(picks: Sequence[Pick], rows: pa.Table) -> pa.Table:
    """Return the kept picks in their order with notes and days; the row of a trial that is gone is null."""
    places = pc.index_in(pa.array([pick.trial for pick in picks], pa.int64()), rows["trial"].combine_chunks())
    found = rows.select(default_columns(rows.schema)).take(places)
    trial = pa.field("trial", pa.int64(), metadata=rows.schema.field("trial").metadata)
    found = found.set_column(0, trial, pa.array([pick.trial for pick in picks], pa.int64()))
    found = found.add_column(0, _LETTER, pa.array([pick.letter for pick in picks]))
    days = [pick.on.isoformat() if pick.on else None for pick in picks]
    found = found.add_column(2, _NOTE, pa.array([pick.note for pick in picks]))
    return found.add_column(3, _DAY, pa.array(days, pa.string()))


def confirmation_table(
    rows: pa.Table, letters: Mapping[int, str], looked_at: Mapping[int, Confirmation]
) -> pa.Table:
    """Return both numbers of every objective: the run's and that of the fresh machines."""
    trials = rows["trial"].to_pylist()
    found = [looked_at[trial] for trial in trials]
    columns = [(_LETTER, pa.array([letters[trial] for trial in trials]))]
    columns.append((rows.schema.field("trial"), rows["trial"]))
    for name in group_of(rows.schema, "objective"):
        field = rows.schema.field(name)
        columns.append((field, rows[name]))
        if name != COST:  # it has no tolerance
            metadata = {**metadata_of(field), "samples": str(FRESH_MACHINES)}
            fresh = pa.array([each.row.get(name) for each in found], pa.float64())
            columns.append((pa.field(f"{name}_fresh", pa.float64(), metadata=metadata), fresh))
    columns.append((_HOLDS, pa.array([each.holds for each in found])))
    return table_of_columns(columns)


_LETTER = added_field("pick", pa.string(), unit="", text="letter of the pick")
_NOTE = added_field("note", pa.string(), unit="", text="why it was kept")
_DAY = added_field("kept", pa.string(), unit="", text="day on which it was kept")
_HOLDS = added_field("holds", pa.bool_(), unit="", text="every margin is met on the fresh machines")
