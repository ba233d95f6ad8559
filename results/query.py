"""A question to the trade-off table and its answer: which rows, in what order, which columns, why none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from boilerfront.results.condition import parse_condition, unknown_columns
from boilerfront.results.empty import explain_empty
from boilerfront.results.front import front_table, objective_values, read_front
from boilerfront.results.ledger import read_ledger
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.sandbox import sandboxed
from boilerfront.results.schema import group_of, metadata_of
from boilerfront.shared.errors import BadPartError, Fault, InputError

RESOLUTION = {"shot_deviation_K": 0.05, "warm_up_s": 10.0, "energy_kWh_day": 0.01, "part_cost": 1.0}
"""What may be called a difference: one design is shown per cell of this size, in the objective's own unit."""
COST = "part_cost"
NEIGHBOURS = 10

# A value on a cell's edge, such as 3 x 0.05, must not fall into the cell below by rounding.
_EDGE = 1e-9


@dataclass(frozen=True)
class Question:
    """What is asked of the table.

    `where`: one SQL condition. `sort`: a column, ascending; with `-` before it descending; several by commas
    (default: the objectives in their order). `columns`: names by commas or a sequence; none means trial,
    architecture, objectives, variables. `limit`: rows at most. `exact`: every design of the front, else one
    per cell of `RESOLUTION`. `all`: every trial, not only the front (then always exact). `cheapest`: by cost,
    one row unless `limit` says otherwise. `near`: a trial, whose nearest are asked for.
    """

    where: str | None = None
    sort: str | None = None
    columns: str | Sequence[str] | None = None
    limit: int | None = None
    exact: bool = False
    all: bool = False
    cheapest: bool = False
    near: int | None = None


@dataclass(frozen=True)
class Answer:
    """The rows asked for, what a person should know about them and, when there are none, the nearest rows."""

    table: pa.Table
    notes: tuple[str, ...] = ()
    nearest: pa.Table | None = None


def answer(run: RunFolder, question: Question) -> Answer:
    """Answer a question from the files of a run.

    Raises `InputError` with every unknown column and its nearest, or for a condition that is not exactly one.
    """
    table, notes = _trials(run) if question.all else _front(run)
    if not table.num_rows:
        return Answer(table, (*notes, _nothing_yet(question)))
    found = answer_from(table, question)
    return Answer(found.table, (*notes, *found.notes), found.nearest)


def answer_from(table: pa.Table, question: Question) -> Answer:
    """Answer a question from a table of ours that has rows."""
    _check(table, question)
    columns = _columns(table, question)
    kept: npt.NDArray[np.int64] = np.arange(table.num_rows)
    if question.where is not None:
        with sandboxed(table) as sandbox:
            condition = parse_condition(question.where, table.column_names, sandbox)
            (mask,) = sandbox.evaluate([condition.text])
            kept = np.flatnonzero(np.ma.filled(mask, False))
            if not len(kept):
                why = explain_empty(condition, table, sandbox)
                nearest = table.take(list(why.nearest)).select(columns)
                return Answer(table.slice(0, 0).select(columns), why.notes, nearest)
    found = table.take(kept)
    found = found.take(_order(found, table, question))
    notes: list[str] = []
    if not (question.exact or question.all):
        found, notes = _one_per_cell(found)
    limit = question.limit or (1 if question.cheapest else NEIGHBOURS if question.near is not None else None)
    if limit is not None and found.num_rows > limit:
        notes.append(f"{limit} of {found.num_rows} rows; --limit shows more")
        found = found.slice(0, limit)
    return Answer(found.select(columns), tuple(notes))


def default_columns(schema: pa.Schema, *, everything: bool = False) -> list[str]:
    """Return the columns for a person who named none; for `everything` with the verdict."""
    variables = [name for name in group_of(schema, "variable") if name != "architecture"]
    verdict = ["feasible", "reason"] if everything else []
    return ["trial", "architecture", *group_of(schema, "objective"), *verdict, *variables]


def _trials(run: RunFolder) -> tuple[pa.Table, tuple[str, ...]]:
    loaded = read_ledger(run.trials)
    return loaded.table, loaded.messages


def _front(run: RunFolder) -> tuple[pa.Table, tuple[str, ...]]:
    """Return the front as it was last written; where there is none to read, from the ledger."""
    try:
        return read_front(run.front), ()
    except FileNotFoundError:
        notes: tuple[str, ...] = ()
    except BadPartError as error:
        notes = (f"{error}; computed again from the trials",)
    loaded = read_ledger(run.trials)
    return front_table(loaded.table), (*notes, *loaded.messages)


def _nothing_yet(question: Question) -> str:
    if question.all:
        return "no design has been evaluated yet"
    return "the front is empty: no design is feasible yet; --all shows every trial with its reason"


def _names(columns: str | Sequence[str] | None) -> list[str]:
    listed = columns.split(",") if isinstance(columns, str) else list(columns or ())
    return [name.strip() for name in listed if name.strip()]


def _check(table: pa.Table, question: Question) -> None:
    names = table.column_names
    faults = unknown_columns("--columns", _names(question.columns), names)
    faults += unknown_columns("--sort", [name for name, _ in _sort_keys(question.sort)], names)
    if question.limit is not None and question.limit < 1:
        faults.append(Fault("--limit", str(question.limit), "a whole number from 1"))
    orders = {"--sort": question.sort, "--cheapest": question.cheapest or None, "--near": question.near}
    given = [option for option, value in orders.items() if value is not None]
    if len(given) > 1:
        faults.append(Fault(" and ".join(given), "more than one order of the rows", "one of them"))
    if faults:
        raise InputError(faults)


def _columns(table: pa.Table, question: Question) -> list[str]:
    return _names(question.columns) or default_columns(table.schema, everything=question.all)


def _sort_keys(sort: str | None) -> list[tuple[str, str]]:
    """Return column and direction of each key that `sort` names."""
    keys = []
    for name in _names(sort):
        direction = "descending" if name.startswith("-") else "ascending"
        keys.append((name.removeprefix("-"), direction))
    return keys


def _order(found: pa.Table, table: pa.Table, question: Question) -> npt.NDArray[np.int64]:
    """Return the places of the rows in the order asked for; ties by trial, nulls last (pyarrow's default)."""
    if question.near is not None:
        distance = _distance(found, table, question.near)
        return np.lexsort((found["trial"].to_numpy(), distance))
    keys = [(COST, "ascending")] if question.cheapest else _sort_keys(question.sort)
    keys = keys or [(name, "ascending") for name in group_of(table.schema, "objective")]
    by_name = dict(keys)
    by_name.setdefault("trial", "ascending")
    order = pc.sort_indices(found, sort_keys=list(by_name.items()))
    return np.asarray(order.to_numpy())


def _distance(found: pa.Table, table: pa.Table, trial: int) -> npt.NDArray[np.float64]:
    """Return how far rows are from a trial: root of the sum of squares over objectives, each over its range.

    A row without objectives is infinitely far.
    """
    values = objective_values(table)
    (places,) = np.nonzero(table["trial"].to_numpy() == trial)
    if not len(places) or not np.isfinite(values[places[0]]).all():
        where = "among these rows with its objectives known; --all looks at every trial"
        raise InputError([Fault("--near", f"trial {trial}", f"a trial {where}")])
    spread = np.nanmax(values, axis=0) - np.nanmin(values, axis=0)
    offset = (objective_values(found) - values[places[0]]) / np.where(spread > 0, spread, 1.0)
    distance = np.sqrt((offset**2).sum(axis=1))
    return np.where(np.isfinite(distance), distance, np.inf)


def _one_per_cell(found: pa.Table) -> tuple[pa.Table, list[str]]:
    """Return the first row of each cell of the resolution, and a note where that leaves rows out."""
    names = [name for name in group_of(found.schema, "objective") if name in RESOLUTION]
    if not names:
        return found, []
    cells = [np.floor(found[name].to_numpy() / RESOLUTION[name] + _EDGE) for name in names]
    _, first = np.unique(np.column_stack(cells), axis=0, return_index=True)
    kept = found.take(np.sort(first))
    if kept.num_rows == found.num_rows:
        return found, []
    size = ", ".join(
        f"{RESOLUTION[name]:g} {metadata_of(found.schema.field(name))['unit']}" for name in names
    )
    note = f"{kept.num_rows} of {found.num_rows} designs: one per cell of {size}; --exact shows all"
    return kept, [note]
