"""`reprice`: new cost lines and a new front at other prices, without simulation."""

from __future__ import annotations

import shlex
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from boilerfront.jobs.commands import options as opt


def reprice(
    run: opt.Run,
    prices: Annotated[Path, typer.Argument(metavar="PRICES.csv", help="The price book with the new prices.")],
    runs: opt.Runs = None,
    name: Annotated[
        str | None,
        typer.Option("--name", metavar="NAME", help="The new run's name.", show_default="RUN-repriced"),
    ] = None,
) -> None:
    """Put new prices to what is computed already, as a run of its own beside RUN; show what they change."""
    from boilerfront.jobs.repricing import reprice_run
    from boilerfront.results.reprice_text import change_text

    made = reprice_run(opt.chosen_run(run, runs), prices, name=name, now=datetime.now().astimezone())
    for message in made.messages:
        opt.note(message)
    for piece in change_text(made.result, width=opt.width()):
        typer.echo(piece)
    typer.echo(made.run.path)
    opt.note(
        "The search looked for what is good at the old prices; what only the new ones favour was hardly tried.",
        err=False,
    )
    path = shlex.quote(str(made.run.path))
    typer.echo(f"next: boilerfront query {path}")
    typer.echo(f"to search on: boilerfront resume {path} --budget {2 * made.sweep.search.budget}")
