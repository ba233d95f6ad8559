"""`query`: the trade-off table."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from boilerfront.jobs.commands import options as opt

if TYPE_CHECKING:
    import pyarrow as pa

    from boilerfront.results.run_folder import RunFolder


def query(
    run: opt.Run,
    runs: opt.Runs = None,
    where: Annotated[
        str | None,
        typer.Option("--where", metavar="EXPR", help="One SQL condition over the columns, true or false."),
    ] = None,
    sort: Annotated[
        str | None, typer.Option("--sort", metavar="COLUMN", help="Ascending; '-' before it: descending.")
    ] = None,
    columns: Annotated[
        str | None, typer.Option("--columns", metavar="A,B", help="Which columns; '*' for all.")
    ] = None,
    limit: Annotated[int | None, typer.Option("--limit", metavar="N", help="Rows at most.")] = None,
    everything: Annotated[bool, typer.Option("--all", help="Every trial, not the front alone.")] = False,
    exact: Annotated[bool, typer.Option("--exact", help="All of the front, not one design a cell.")] = False,
    cheapest: Annotated[
        bool, typer.Option("--cheapest", help="By part cost, the first alone unless --limit says more.")
    ] = False,
    spend: Annotated[
        float | None,
        typer.Option(
            "--spend", metavar="AMOUNT", help="What costs at most so much in parts, the steadiest first."
        ),
    ] = None,
    knee: Annotated[
        bool,
        typer.Option("--knee", help="The compromise: to leave it for any other loses more than it gains."),
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
    """Ask the trade-off table of a run: its front, one design per cell of what may be called a difference.

    The cheapest that holds 0.5 K and is ready in ten minutes:

        query RUN --where "shot_deviation_K < 0.5 AND warm_up_s < 600" --cheapest

    What a second of warm-up costs, from the slowest design on: query RUN --trade warm_up_s

    What is built most like trial 42, and what it differs in: query RUN --near 42

    The steadiest for a budget: query RUN --spend 120. A compromise: query RUN --knee. All columns: --columns '*'
    """
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
    data = rendered(found.table, form, width=opt.width())
    if out is not None:
        write_out(out, data)
        opt.note(f"{out}: {found.table.num_rows:,} rows")
    elif found.table.num_rows or form != "text":
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
        if form == "text" and found.notes:
            opt.note("")
    for note in found.notes:
        opt.note(note)
    if found.table.num_rows and form == "text" and (cheapest or spend is not None or knee):
        _say_how_sure(found.table, chosen)
    if found.nearest is not None and found.nearest.num_rows and form == "text":
        typer.echo("\n" + as_text(found.nearest, width=opt.width()), err=True, nl=False)


def _say_how_sure(rows: pa.Table, run: RunFolder) -> None:
    """Say what the first answer rests on and how to look at it again: the best of many is often lucky."""
    from boilerfront.results.confirm import FRESH_MACHINES
    from boilerfront.results.schema import kept_by

    if "trial" not in rows.column_names:
        return
    batch = next((said for field in rows.schema if (said := kept_by(field)) is not None), None)
    figures = f"what {batch} keep" if batch else "the nominal machine's"
    trial = rows["trial"][0].as_py()
    opt.note(
        f"figures are {figures}; on {FRESH_MACHINES} fresh machines: "
        f"boilerfront pick {shlex.quote(str(run.path))} --where 'trial = {trial}' --count 1 --confirm"
    )
