"""`export`: every trial of a run for other tools."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from boilerfront.jobs.commands import options as opt


def export(
    run: opt.Run,
    to: Annotated[
        str, typer.Option("--to", metavar="optuna|csv", help="A storage of optuna's (SQLite), or CSV.")
    ],
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="Where it is written.")],
    runs: opt.Runs = None,
) -> None:
    """Write every trial of a run for other tools."""
    from boilerfront.jobs.export import export as write

    chosen = opt.chosen_run(run, runs)
    count, messages = write(chosen, to, out)
    for message in messages:
        typer.echo(message, err=True)
    typer.echo(f"{out}: {count:,} trials")
    if to == "optuna":
        typer.echo(f'to open it: optuna.load_study(study_name="{chosen.name}", storage="sqlite:///{out}")')
