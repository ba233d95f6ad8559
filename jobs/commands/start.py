"""`start`: one sweep, or several one after another."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Annotated

import typer

from boilerfront.jobs.commands import options as opt
from boilerfront.shared.errors import InputError


def start(
    sweeps: Annotated[list[Path], typer.Argument(metavar="SWEEP...", help="Sweep files, or their folders.")],
    name: Annotated[str | None, typer.Option("--name", metavar="NAME", help="The run's name.")] = None,
    runs: opt.Runs = None,
    workers: opt.Workers = None,
    cluster: opt.Cluster = None,
    tls: opt.Tls = None,
    without_tls: opt.WithoutTls = False,
    dashboard: opt.Dashboard = False,
    at: opt.At = None,
    until: opt.Until = None,
    budget: opt.Budget = None,
    seed: Annotated[int | None, typer.Option("--seed", min=0, metavar="N", help="Another search.")] = None,
    then: Annotated[
        str | None, typer.Option("--then", metavar="COMMAND", help="Run this when all are done.")
    ] = None,
    detach: Annotated[bool, typer.Option("--detach", help="Go on without this terminal.")] = False,
    quiet: opt.Quiet = False,
) -> None:
    """Run one sweep, or several one after another."""
    from boilerfront.jobs.cluster import Where
    from boilerfront.jobs.launch import Means, Options
    from boilerfront.jobs.launch import start as start_run
    from boilerfront.jobs.progress import Teller
    from boilerfront.jobs.sweep import load_sweep
    from boilerfront.results.run_folder import runs_root

    if name is not None and len(sweeps) > 1:
        raise InputError("--name names one run; give it with one sweep")
    for sweep in sweeps:
        load_sweep(sweep)  # a fault in the last one is better known now than in the middle of the night
    if detach:
        _go_on_alone(runs_root(runs))
        return
    where = Where(workers or 0, cluster, tls, encrypted=not without_tls, dashboard=dashboard)
    options = Options(where, at=at, until=until, budget=budget, seed=seed)
    means = Means(teller=Teller(quiet=quiet))
    for sweep in sweeps:
        ended = start_run(sweep, runs_root(runs), name=name, options=options, means=means)
        _tell_next(str(ended.run.path), ended.outcome, means.teller)
        if ended.outcome == "stopped":
            break
    if then is not None:
        raise typer.Exit(subprocess.run(then, shell=True, check=False).returncode)


def _tell_next(path: str, outcome: str, teller: object) -> None:
    from boilerfront.jobs.progress import Teller

    assert isinstance(teller, Teller)
    verb = f"boilerfront query {path}" if outcome == "finished" else f"boilerfront resume {path}"
    teller.say(f"next: {verb}")


def _go_on_alone(root: Path) -> None:
    """Start the same command in a session of its own and return; what it says goes to a file."""
    root.mkdir(parents=True, exist_ok=True)
    words = [word for word in sys.argv[1:] if word != "--detach"]
    output = root / "detached.log"
    with output.open("ab") as stream:
        child = subprocess.Popen(
            [sys.executable, "-m", "boilerfront.jobs.cli", *words],
            stdin=subprocess.DEVNULL,
            stdout=stream,
            stderr=stream,
            start_new_session=True,
            env=os.environ | {"PYTHONUNBUFFERED": "1"},
        )
    typer.echo(f"process {child.pid} goes on alone; what it says: {output}; how it goes: boilerfront status")
