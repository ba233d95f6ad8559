"""`status`: how runs are doing, read from small files alone, so that it answers at once."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Annotated, Any

import typer

from boilerfront.jobs.commands import options as opt
from boilerfront.jobs.progress import duration, words
from boilerfront.jobs.state import State, read_state
from boilerfront.results.run_folder import RunFolder, all_runs, runs_root


def status(
    run: Annotated[str | None, typer.Argument(metavar="[RUN]", help="A run's folder or its name.")] = None,
    runs: opt.Runs = None,
    as_json: Annotated[bool, typer.Option("--json", help="Nothing but JSON on standard output.")] = False,
) -> None:
    """Show state, designs, front size, progress, rate, time left; without RUN all runs, newest first."""
    if run is not None:
        chosen = [opt.chosen_run(run, runs)]
    else:
        chosen = [each for each in all_runs(runs) if opt.was_started(each)]
    states = [(each, read_state(each)) for each in chosen]
    if as_json:
        listed = [_record(each, state) for each, state in states]
        typer.echo(json.dumps(listed[0] if run is not None else listed, indent=1))
        return
    if not states:
        typer.echo(f"no run in {runs_root(runs)}; to begin: boilerfront draft DIR")
    for each, state in states:
        opt.note(f"{each.name}: {_text(state)}", err=False)
        if state.phase in ("stopped", "died", "new"):
            typer.echo(f"  to go on: boilerfront resume {each.path}")


def _record(run: RunFolder, state: State) -> dict[str, Any]:
    return {"run": run.name, "path": str(run.path), **asdict(state)}


def _text(state: State) -> str:
    text = _stand(state)
    if state.seconds:
        text += f"; {duration(state.seconds)} of evaluation"
    if state.until and state.phase in ("waiting", "running"):
        text += f"; stops at {state.until}"
    if state.proof:
        text += f"; proof: {state.proof}"
    if state.dashboard:
        text += f"; dask's page, open to every user of the machine: {state.dashboard}"
    return text


def _stand(state: State) -> str:
    """Return the phase, and how far the run is or what ended it."""
    if state.phase == "finished" and state.ended_by:
        return state.why
    lines = [opt.phase_words(state)]
    if state.phase == "running":
        lines.append(words(state))
    elif state.trials:
        lines.append(f"{state.trials:,} of {state.budget:,} designs, {state.front:,} on the front")
    if state.phase in ("stopped", "finished") and state.why:
        lines.append(state.why)
    return "; ".join(lines)
