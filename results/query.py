"""The answer to a question to the trade-off table: which rows, in what order, which columns, why none."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from boilerfront.results.column_notes import altitude_notes, source_notes
from boilerfront.results.front import front_of, objective_values
from boilerfront.results.knee import heights, sharpness
from boilerfront.results.ledger import read_run
from boilerfront.results.neighbours import DISTANCE, Neighbourhood
from boilerfront.results.question import COST, Question, chosen_columns, faults_of, listed
from boilerfront.results.resolution import one_per_cell
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.schema import group_of
from boilerfront.results.trade import price_notes, walk, with_prices
from boilerfront.results.within import budget_notes, rows_within
from boilerfront.shared.errors import Fault, InputError


@dataclass(frozen=True)
class Answer:
    """The rows asked for, what a person should know about them and, when there are none, the nearest rows."""

    table: pa.Table
    notes: tuple[str, ...] = ()
    nearest: pa.Table | None = None


def answer(run: RunFolder, question: Question) -> Answer:
    """Answer a question from the files of a run.

    Raises `InputError` with every unknown column and its nearest, for a contradiction, or for a condition
    that is not exactly one.
    """
    table, notes = _trials(run) if question.all else front_of(run)
    if not table.num_rows:
        return Answer(table, (*notes, _nothing_yet(question)))
    is_elsewhere = question.near is not None and not _row(table, question.near).num_rows
    elsewhere = _trials(run)[0] if is_elsewhere and not question.all else None
    found = answer_from(table, question, elsewhere=elsewhere)
    return Answer(found.table, (*notes, *found.notes), found.nearest)


def answer_from(table: pa.Table, question: Question, *, elsewhere: pa.Table | None = None) -> Answer:
    """Answer a question from a table of ours that has rows.

    `near` may be a trial of the table `elsewhere` instead. Raises as `answer`.
    """
    faults = faults_of(question, table.schema)
    if faults:
        raise InputError(faults)
    near = None if question.near is None else _neighbourhood(table, question.near, elsewhere)
    columns = chosen_columns(question, table.schema)
    found, why = rows_within(table, question)
    if why is not None:
        there = [name for name in columns if name in table.column_names]
        nearest = table.take(list(why.nearest)).select(there) if why.nearest else None
        return Answer(found.select(there), why.notes, nearest)
    notes = budget_notes(table, found, question)
    rows, most = found.num_rows, _most_sorted(question)
    shown = _ordered(found, question, near, most=most)
    if question.walks:
        count = shown.num_rows - 1
        notes.append(
            f"a walk of {count} exchanges over {found.num_rows} designs, each to its next_trial: what a unit less of "
            f"{question.trade} costs (negative: gained as well); --exact shows all"
        )
    if question.shows_cells:
        shown, left_out = one_per_cell(shown)
        notes += left_out
    notes += _knee_notes(shown) if question.knee else []
    limit = question.most_rows
    if most is None:
        rows = shown.num_rows
    sorts_by_added = any(name not in shown.column_names for name, _ in question.sort_keys)
    if not sorts_by_added:
        shown = shown.slice(0, limit)
    if question.trade is not None:
        shown = with_prices(shown, among=found, bought=question.trade)
        notes += price_notes(found, question.trade)
    if sorts_by_added:
        shown = _sorted(shown, question.sort_keys).slice(0, limit)
    if shown.num_rows < rows:
        notes.append(f"{shown.num_rows} of {rows} rows; --limit shows more")
    shown = shown if near is None else near.with_differences(shown)
    notes += source_notes(table.schema, listed(question.columns))
    notes += altitude_notes(shown)
    return Answer(shown.select(columns), tuple(notes))


def _trials(run: RunFolder) -> tuple[pa.Table, tuple[str, ...]]:
    loaded = read_run(run)
    return loaded.table, loaded.messages


def _nothing_yet(question: Question) -> str:
    if question.all:
        return "no design has been evaluated yet"
    return "the front is empty: no design is feasible yet; --all shows every trial with its reason"


def _row(table: pa.Table, trial: int) -> pa.Table:
    """Return the row of a trial, none where the table does not have it."""
    if not table.num_rows:
        return table
    # A number that no ledger can have does not fit into its type either.
    return table.filter(pc.equal(table["trial"], trial)) if trial < 2**63 else table.slice(0, 0)


def _neighbourhood(table: pa.Table, trial: int, elsewhere: pa.Table | None) -> Neighbourhood:
    for rows in (table, elsewhere):
        if rows is not None and (found := _row(rows, trial)).num_rows:
            return Neighbourhood(found.cast(table.schema), table)
    raise InputError([Fault("--near", f"trial {trial}", "the number of a trial of the run")])


def _most_sorted(question: Question) -> int | None:
    """Return after how many rows sorting may end, None where all of them are needed."""
    needs_all = question.near is not None or question.trade is not None or question.knee
    return None if needs_all or question.shows_cells else question.most_rows


def _ordered(
    found: pa.Table, question: Question, near: Neighbourhood | None, *, most: int | None
) -> pa.Table:
    """Return the rows in the order asked for, at most the first `most`; whose neighbours are asked comes first."""
    if near is not None:
        others = near.with_distance(found.filter(pc.not_equal(found["trial"], near.trial)))
        itself = near.with_distance(near.reference).cast(others.schema)
        return pa.concat_tables([itself, _sorted(others, [(DISTANCE, "ascending")])])
    if question.knee:
        return found.take(np.lexsort((found["trial"].to_numpy(), heights(objective_values(found)))))
    if question.cheapest:
        return _sorted(found, [(COST, "ascending")], most=most)
    if question.walks and question.trade is not None:
        return found.take(walk(found, question.trade))
    return _sorted(found, question.sort_keys, most=most)


def _sorted(rows: pa.Table, keys: list[tuple[str, str]], *, most: int | None = None) -> pa.Table:
    """Return rows sorted by those keys that they have, then by objectives and trial; nulls last.

    At most the first `most`: of a million rows the others need not be put in order.
    """
    by_name: dict[str, str] = {}
    for name, direction in (
        *keys,
        *((n, "ascending") for n in (*group_of(rows.schema, "objective"), "trial")),
    ):
        if name in rows.column_names:
            by_name.setdefault(name, direction)
    if most is not None and most < rows.num_rows:
        return rows.take(pc.select_k_unstable(rows, k=most, sort_keys=list(by_name.items())))
    return rows.take(pc.sort_indices(rows, sort_keys=list(by_name.items())))


def _knee_notes(rows: pa.Table) -> list[str]:
    """Return how far the knee stands out among the rows that are shown at most."""
    trial, values = rows["trial"][0], objective_values(rows)
    least = sharpness(values, 0)
    if not np.isfinite(least):
        return [f"trial {trial} is the only one: there is no other to exchange it for"]
    return [
        f"trial {trial} is the knee: it has the least sum of the objectives, each from 0 for the best of "
        f"{rows.num_rows} designs to 1 for the worst; leaving it loses at least {least:.2g} times what it gains"
    ]
