"""`stop`: ask a running run to end its generation."""

from __future__ import annotations

import typer

from boilerfront.jobs.commands import options as opt


def stop(run: opt.Run, runs: opt.Runs = None) -> None:
    """Ask a running run to end its generation; it can be resumed."""
    from boilerfront.jobs.stopping import ask_to_stop
    from boilerfront.shared.errors import InputError
    from boilerfront.shared.lock import holder_of

    folder = opt.chosen_run(run, runs)
    holder = holder_of(folder.lock)
    if holder is None:
        raise InputError(f"{folder.path} is not running")
    ask_to_stop(folder)
    typer.echo(f"{folder.path} is asked to end its generation ({holder})")
