"""`start`: one sweep, or several one after another."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Annotated

import typer

from boilerfront.jobs.commands import options as opt
from boilerfront.shared import files
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
    warm_from: Annotated[
        str | None,
        typer.Option("--from", metavar="RUN", help="Begin with an earlier run's trials that fit the sweep."),
    ] = None,
    then: Annotated[
        str | None,
        typer.Option("--then", metavar="COMMAND", help="Run this when all are done, not after a stop."),
    ] = None,
    detach: Annotated[bool, typer.Option("--detach", help="Go on without this terminal.")] = False,
    quiet: opt.Quiet = False,
) -> None:
    """Run one sweep, or several one after another."""
    from boilerfront.jobs.cluster import Where
    from boilerfront.jobs.launch import Means, Options, checked, with_instants
    from boilerfront.jobs.launch import start as start_run
    from boilerfront.jobs.progress import Teller
    from boilerfront.results.run_folder import runs_root

    if name is not None and len(sweeps) > 1:
        raise InputError("--name names one run; give it with one sweep")
    root = runs_root(runs)
    where = Where(workers or 0, cluster, tls, encrypted=not without_tls, dashboard=dashboard)
    means = Means(teller=Teller(quiet=quiet))
    earlier = None if warm_from is None else opt.chosen_run(warm_from, runs)
    options = Options(where, at=at, until=until, budget=budget, seed=seed, warm_from=earlier)
    options = with_instants(options, means.clock)  # once: the second sweep has no evening of its own
    for sweep in sweeps:
        # What is wrong with the last one is better known now than in the middle of the night.
        checked(sweep, root, name=name, options=options)
    if detach:
        _go_on_alone(root)
        return
    for number, sweep in enumerate(sweeps, start=1):
        ended = start_run(sweep, root, name=name, options=options, means=means)
        _tell_next(str(ended.run.path), ended.outcome, means.teller)
        if ended.outcome != "finished":
            if left := sweeps[number:]:
                means.teller.say(f"not started: {', '.join(map(str, left))}")
            break
    if then is not None and ended.outcome == "stopped":
        means.teller.say(f"not run after a stop: {then}")
    elif then is not None:
        raise typer.Exit(subprocess.run(then, shell=True, check=False).returncode)


def _tell_next(path: str, outcome: str, teller: object) -> None:
    from boilerfront.jobs.progress import Teller

    assert isinstance(teller, Teller)
    verb = f"boilerfront query {path}" if outcome == "finished" else f"boilerfront resume {path}"
    teller.say(f"next: {verb}")


def _go_on_alone(root: Path) -> None:
    """Start the same command in a session of its own and return; what it says goes to a file."""
    files.make_folder(root)
    words = [word for word in sys.argv[1:] if word != "--detach"]
    output = root / "detached.log"
    files.append(output, "")  # a disk that refuses is better known now
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
