"""`query`: the trade-off table."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from typing import Annotated

import typer

from boilerfront.jobs.commands import options as opt


def query(
    run: opt.Run,
    runs: opt.Runs = None,
    where: Annotated[
        str | None, typer.Option("--where", metavar="EXPR", help="One SQL condition over the columns.")
    ] = None,
    sort: Annotated[
        str | None, typer.Option("--sort", metavar="COLUMN", help="Ascending; '-' before it: descending.")
    ] = None,
    columns: Annotated[str | None, typer.Option("--columns", metavar="A,B", help="Which columns.")] = None,
    limit: Annotated[int | None, typer.Option("--limit", metavar="N", help="Rows at most.")] = None,
    everything: Annotated[bool, typer.Option("--all", help="Every trial, not the front alone.")] = False,
    exact: Annotated[bool, typer.Option("--exact", help="All of the front, not one a cell.")] = False,
    cheapest: Annotated[
        bool, typer.Option("--cheapest", help="By part cost, the first alone unless --limit says more.")
    ] = False,
    spend: Annotated[
        float | None,
        typer.Option("--spend", metavar="AMOUNT", help="Only what costs at most so much in parts."),
    ] = None,
    knee: Annotated[
        bool, typer.Option("--knee", help="The design that loses most when it is left for another.")
    ] = False,
    near: Annotated[
        str | None,
        typer.Option("--near", metavar="TRIAL", help="What is built most like it, and what differs."),
    ] = None,
    trade: Annotated[
        str | None,
        typer.Option(
            "--trade", metavar="COLUMN", help="What a unit less of an objective costs in the others."
        ),
    ] = None,
    form: Annotated[
        str, typer.Option("--format", metavar="FORMAT", help="text, csv, json or parquet.")
    ] = "text",
    out: Annotated[Path | None, typer.Option("--out", metavar="FILE", help="Write it there.")] = None,
) -> None:
    """Ask the trade-off table of a run."""
    from boilerfront.results.picks import trial_numbers
    from boilerfront.results.query import answer
    from boilerfront.results.question import Question
    from boilerfront.results.show import as_text, rendered, write_out

    chosen = opt.chosen_run(run, runs)
    question = Question(
        where=where, sort=sort, columns=columns, limit=limit, exact=exact, all=everything,
        cheapest=cheapest, spend=spend, knee=knee, trade=trade,
        near=None if near is None else trial_numbers(chosen, [near])[0],
    )  # fmt: skip
    found = answer(chosen, question)
    width = shutil.get_terminal_size((100, 24)).columns
    data = rendered(found.table, form, width=width)
    if out is not None:
        write_out(out, data)
    elif found.table.num_rows or form != "text":
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
    for note in found.notes:
        typer.echo(note, err=True)
    if found.nearest is not None and found.nearest.num_rows and form == "text":
        typer.echo(as_text(found.nearest, width=width), err=True)
