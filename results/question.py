"""What is asked of the table, and every contradiction in it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import pyarrow as pa

from boilerfront.results.condition import unknown_columns
from boilerfront.results.neighbours import DIFFERS, DISTANCE
from boilerfront.results.proof import STATUS
from boilerfront.results.schema import group_of
from boilerfront.results.trade import price_columns
from boilerfront.shared.errors import Fault

COST = "part_cost"
EVERY = "*"
"""In place of a list: all columns."""
NEIGHBOURS = 10
"""Rows that `near` shows unless a limit is named."""


@dataclass(frozen=True)
class Question:
    """What is asked of the table.

    `where`: one SQL condition. `sort`: a column, ascending; with `-` before it descending; several by commas
    (default: the objectives in their order). `columns`: names by commas or a sequence, `*` for all; none
    means trial, architecture, objectives, variables. `limit`: rows at most. `exact`: every design of the
    front, else one per cell of `RESOLUTION`. `all`: every trial, not only the front (then always exact).

    `spend`: only what costs at most so much in parts. `trade`: an objective, whose price in the others is
    added (see `trade`); without an order and `exact` only the rows of a walk from its worst on.

    At most one of three orders: `cheapest`: by cost. `knee`: the farthest below the plane of the front first
    (see `knee`); of both one row unless `limit` says otherwise. `near`: a trial, then the designs that are
    built most like it (see `neighbours`).
    """

    where: str | None = None
    sort: str | None = None
    columns: str | Sequence[str] | None = None
    limit: int | None = None
    exact: bool = False
    all: bool = False
    cheapest: bool = False
    spend: float | None = None
    knee: bool = False
    near: int | None = None
    trade: str | None = None

    @property
    def sort_keys(self) -> list[tuple[str, str]]:
        """Return column and direction of each key that `sort` names."""
        return [
            (name.removeprefix("-"), "descending" if name.startswith("-") else "ascending")
            for name in listed(self.sort)
        ]

    @property
    def most_rows(self) -> int | None:
        """Return how many rows are shown at most, None for all."""
        if self.limit is None and (self.cheapest or self.knee):
            return 1
        return NEIGHBOURS if self.limit is None and self.near is not None else self.limit

    @property
    def walks(self) -> bool:
        """Return whether the rows are those of a walk from exchange to exchange (see `trade.walk`)."""
        has_order = self.sort is not None or self.cheapest or self.knee or self.near is not None
        return self.trade is not None and not (has_order or self.exact)

    @property
    def shows_cells(self) -> bool:
        """Return whether one row stands for those that differ by less than what may be called a difference.

        Neighbours differ by little, and what they differ in is asked; a walk's steps are differences.
        """
        return not (self.exact or self.all or self.walks or self.near is not None)


def listed(columns: str | Sequence[str] | None) -> list[str]:
    """Return the names in a list by commas."""
    names = columns.split(",") if isinstance(columns, str) else list(columns or ())
    return [name.strip() for name in names if name.strip()]


def added_columns(question: Question, schema: pa.Schema) -> list[str]:
    """Return the names of the columns that the answer has besides the table's."""
    prices = price_columns(schema, question.trade) if question.trade is not None else []
    return prices + ([DISTANCE, DIFFERS] if question.near is not None else [])


def default_columns(schema: pa.Schema, *, everything: bool = False) -> list[str]:
    """Return the columns for a person who named none; for `everything` with the verdict."""
    variables = [name for name in group_of(schema, "variable") if name != "architecture"]
    verdict = ["feasible", "reason"] if everything else [name for name in (STATUS,) if name in schema.names]
    return ["trial", "architecture", *group_of(schema, "objective"), *verdict, *variables]


def chosen_columns(question: Question, schema: pa.Schema) -> list[str]:
    """Return the columns of the answer, in order."""
    if listed(question.columns) == [EVERY]:
        return [*schema.names, *added_columns(question, schema)]
    if listed(question.columns):
        return listed(question.columns)
    objectives = group_of(schema, "objective")
    if question.near is not None:
        prices = added_columns(question, schema)[:-2]
        return ["trial", DISTANCE, DIFFERS, *objectives, *prices]
    usual = default_columns(schema, everything=question.all)
    if question.trade is None:
        return usual
    first = ["trial", question.trade, *price_columns(schema, question.trade)]
    first += [name for name in objectives if name != question.trade]
    return first + [name for name in usual if name not in first]


def faults_of(question: Question, schema: pa.Schema) -> list[Fault]:
    """Return what is wrong with a question about a table of that schema: unknown names, contradictions."""
    objectives = group_of(schema, "objective")
    faults = []
    if question.trade is not None and question.trade not in objectives:
        found = f"'{question.trade}'"
        faults.append(Fault("--trade", found, "an objective of this run: " + ", ".join(objectives)))
    names = [*schema.names, *added_columns(question, schema)]
    wanted = [name for name in listed(question.columns) if listed(question.columns) != [EVERY]]
    faults += unknown_columns("--columns", wanted, names)
    faults += unknown_columns("--sort", [name for name, _ in question.sort_keys], names)
    if question.limit is not None and question.limit < 1:
        faults.append(Fault("--limit", str(question.limit), "a whole number from 1"))
    if question.spend is not None and not (math.isfinite(question.spend) and question.spend >= 0.0):
        faults.append(Fault("--spend", f"{question.spend:g}", "an amount of money, 0 or more"))
    if question.spend is not None and COST not in schema.names:
        faults.append(Fault("--spend", f"no column {COST}", "a run with part costs"))
    return faults + _contradictions(question)


def _contradictions(question: Question) -> list[Fault]:
    faults = []
    orders = {
        "--sort": question.sort is not None,
        "--cheapest": question.cheapest,
        "--knee": question.knee,
        "--near": question.near is not None,
    }
    given = [option for option, is_given in orders.items() if is_given]
    if len(given) > 1:
        faults.append(Fault(" and ".join(given), "more than one order of the rows", "one of them"))
    if question.cheapest and question.spend is not None:
        found = "the least money and the best for the money"
        faults.append(Fault("--cheapest and --spend", found, "one of them"))
    of_the_front = {"--knee": question.knee, "--trade": question.trade is not None}
    if question.all and any(of_the_front.values()):
        given = [option for option, is_given in of_the_front.items() if is_given]
        found = "a question about the front, asked of every trial"
        faults.append(Fault(f"--all and {' and '.join(given)}", found, f"{' '.join(given)} without --all"))
    return faults
