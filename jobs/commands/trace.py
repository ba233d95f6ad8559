"""`trace`: designs through the duty, as a picture or as numbers."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from boilerfront.jobs.commands import options as opt
from boilerfront.shared.errors import Fault, InputError

if TYPE_CHECKING:
    from boilerfront.jobs.sweep import Sweep

Design = dict[str, Any]
Chosen = list[tuple[str, Design, float | None]]
"""Designs to be traced: label, values, shot deviation where it is known."""

MOST = 2


def trace(
    subject: Annotated[str, typer.Argument(metavar="RUN|SWEEP", help="A run with trials, or a sweep file.")],
    trials: Annotated[
        list[str] | None,
        typer.Argument(metavar="[TRIAL [TRIAL]]", help="One or two, by their numbers or letters."),
    ] = None,
    runs: opt.Runs = None,
    settings: Annotated[
        list[str] | None, typer.Option("--set", metavar="VAR=VALUE", help="A sweep's design, by variables.")
    ] = None,
    designs: Annotated[
        list[Path] | None,
        typer.Option("--design", metavar="FILE", help="A design as TOML: variable = value; twice for two."),
    ] = None,
    site: opt.MarketName = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="*.png, *.csv or *.parquet.")
    ] = None,
) -> None:
    """Put one or two designs through the duty and show temperatures, powers, flow, pressure."""
    from boilerfront.model import simulate
    from boilerfront.results.trace_plot import Traced, checked_target, write_traces

    words = trials or [path.stem for path in designs or []] or ["design"]
    target = checked_target(out or Path(f"trace-{'-'.join(words)}.png"))
    if len(words) > MOST:
        raise InputError([Fault("TRIAL" if trials else "--design", f"{len(words)} of them", "one or two")])
    if trials and (settings or designs):
        raise InputError("either trials of a run, or --set and --design with a sweep file")
    sweep, chosen = (
        _of_run(subject, trials, runs) if trials else _of_sweep(subject, settings or [], designs or [])
    )
    brief = sweep.brief()
    traced = [
        Traced(label, simulate(values, brief, site=site), deviation) for label, values, deviation in chosen
    ]
    write_traces(target, traced)
    for each in traced:
        ready = "never ready" if each.trace.ready_s is None else f"ready after {each.trace.ready_s:.0f} s"
        typer.echo(f"{each.label}: {ready}, {each.trace.verdict}")
    typer.echo(target)


def _of_run(name: str, words: list[str], root: Path | None) -> tuple[Sweep, Chosen]:
    from boilerfront.jobs.launch import frozen_sweep
    from boilerfront.results.candidates import candidates

    run = opt.chosen_run(name, root)
    sweep = frozen_sweep(run)
    return sweep, [(each.label, each.design, each.row["shot_deviation_K"]) for each in candidates(run, words)]


def _of_sweep(subject: str, settings: list[str], files: list[Path]) -> tuple[Sweep, Chosen]:
    from boilerfront.jobs.design_file import read_design_file
    from boilerfront.jobs.ranges import middle_design
    from boilerfront.jobs.sweep import load_sweep

    sweep = load_sweep(Path(subject))
    typed = dict(map(_setting, settings))
    named = [(file.stem, read_design_file(file, sweep.variables)) for file in files] or [("design", {})]
    return sweep, [(name, middle_design(sweep.variables, {**given, **typed}), None) for name, given in named]


def _setting(text: str) -> tuple[str, float | str]:
    name, equals, value = text.partition("=")
    if not equals:
        raise InputError([Fault("--set", repr(text), "VAR=VALUE")])
    try:
        return name.strip(), float(value)
    except ValueError:
        return name.strip(), value.strip()
