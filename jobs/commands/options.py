"""What several commands take: where runs lie, which run is meant, with which workers."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from boilerfront.jobs.state import State
from boilerfront.results.run_folder import RUNS_VARIABLE, RunFolder, find_run, runs_root
from boilerfront.shared.errors import Fault, InputError
from boilerfront.shared.folding import folded

if TYPE_CHECKING:
    from boilerfront.model.brief import Brief

PLENTY = 100
"""Columns for text where there is no terminal."""

NAME_WIDTH = 19
"""Columns of the names in a list."""

Run = Annotated[str, typer.Argument(metavar="RUN", help="A run's folder or its name.")]
Runs = Annotated[
    Path | None,
    typer.Option("--runs", metavar="DIR", envvar=RUNS_VARIABLE, help="Where runs lie.", show_default="runs"),
]
Workers = Annotated[
    int | None, typer.Option("--workers", min=1, metavar="N", help="Processes; by default one a core.")
]
Cluster = Annotated[
    str | None, typer.Option("--cluster", metavar="ADDRESS", help="A dask scheduler's address.")
]
Tls = Annotated[
    Path | None,
    typer.Option("--tls", metavar="DIR", help="Folder with ca.pem, cert.pem and key.pem for --cluster."),
]
WithoutTls = Annotated[
    bool, typer.Option("--without-tls", help="Plain connections: whoever reaches them runs code as you.")
]
Dashboard = Annotated[
    bool, typer.Option("--dashboard", help="dask's own page; every user of this machine can read it.")
]
At = Annotated[str | None, typer.Option("--at", metavar="HH:MM", help="Wait for this local time.")]
Until = Annotated[
    str | None,
    typer.Option("--until", metavar="HH:MM", help="Start no generation that would end after this time."),
]
Budget = Annotated[int | None, typer.Option("--budget", min=1, metavar="N", help="Designs in all.")]
MarketName = Annotated[
    str | None, typer.Option("--site", metavar="NAME", help="Which market; the first if not said.")
]
Quiet = Annotated[bool, typer.Option("--quiet", help="No progress.")]


def width() -> int:
    """Return how many columns there are for text: the terminal's, or plenty where there is none."""
    return shutil.get_terminal_size((PLENTY, 24)).columns


def note(text: str, *, err: bool = True) -> None:
    """Print a sentence beside the answer, on standard error; folded on a terminal alone, whole elsewhere."""
    stream = sys.stderr if err else sys.stdout
    if stream is not None and stream.isatty():
        text = folded(text, width=width())
    typer.echo(text, err=err)


def entry(name: str, text: str) -> None:
    """Print a line of a list: a name, and beside it what is to be said of it."""
    typer.echo(folded(f"{name:{NAME_WIDTH}}{text}", width=width(), indent=" " * NAME_WIDTH))


def chosen_run(name: str, root: Path | None) -> RunFolder:
    """Return the run that is meant; a name means the run under `root` before a folder of that name here.

    Raises `InputError` if there is none.
    """
    named = RunFolder(runs_root(root) / name)
    run = named if "/" not in name and was_started(named) else find_run(name, root)
    if not was_started(run):
        raise InputError(f"{run.path} holds a sweep that was not started: type boilerfront start {run.path}")
    return run


def chosen_market(brief: Brief, name: str | None) -> tuple[str, Brief]:
    """Return the name and the brief of the market that is meant; of a single site the name is empty.

    Raises `InputError` if there is none.
    """
    briefs = brief.by_site()
    if name is not None and name not in brief.sites:
        allowed = ", ".join(brief.sites) or "none: this sweep has one site"
        raise InputError([Fault("--site", repr(name), allowed)])
    market = name or next(iter(briefs))
    return market, briefs[market]


def was_started(run: RunFolder) -> bool:
    """Return whether a driver has ever held the folder: a drafted sweep lies in a folder as well."""
    return run.exists() and run.lock.is_file()


def phase_words(state: State) -> str:
    """Return a run's phase as a person says it."""
    return {
        "new": "not begun",
        "waiting": "waiting for its time",
        "running": "running",
        "proving": "proving its front",
        "finished": "finished",
        "stopped": "stopped",
        "died": "ended without a word",
    }[state.phase]
