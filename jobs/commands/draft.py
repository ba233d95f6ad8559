"""`draft`: a commented sweep file and its price book to begin with."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Annotated

import typer

from boilerfront.jobs.commands import options as opt


def draft(
    folder: Annotated[Path | None, typer.Argument(metavar="DIR", help="A new or empty folder.")] = None,
    starter: Annotated[
        str | None, typer.Option("--starter", metavar="NAME", help="Which one; without it they are listed.")
    ] = None,
) -> None:
    """Write a commented sweep.toml and its price book."""
    from boilerfront.jobs.drafting import first_lines, write_starter
    from boilerfront.shared.errors import InputError

    if starter is None:
        for name, line in first_lines().items():
            opt.entry(name, line)
        place = folder or "DIR"
        typer.echo(f"\nto begin with one: boilerfront draft {place} --starter {next(iter(first_lines()))}")
        return
    if folder is None:
        raise InputError(f"which folder? boilerfront draft DIR --starter {starter}")
    for path in write_starter(starter, folder):
        typer.echo(path)
    place = shlex.quote(str(folder))
    typer.echo(f"next: edit {folder / 'sweep.toml'}, then type: boilerfront inspect {place}")
