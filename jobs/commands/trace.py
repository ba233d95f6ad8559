"""`trace`: designs through the duty, as a picture or as numbers."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from boilerfront.jobs.commands import options as opt
from boilerfront.shared.errors import Fault, InputError

if TYPE_CHECKING:
    from boilerfront.jobs.sweep import Sweep

Design = dict[str, Any]


def trace(
    subject: Annotated[str, typer.Argument(metavar="RUN|SWEEP", help="A run with trials, or a sweep file.")],
    trials: Annotated[list[int] | None, typer.Argument(metavar="[TRIAL [TRIAL]]", help="One or two.")] = None,
    runs: opt.Runs = None,
    settings: Annotated[
        list[str] | None, typer.Option("--set", metavar="VAR=VALUE", help="A sweep's design, by variables.")
    ] = None,
    design: Annotated[
        Path | None, typer.Option("--design", metavar="FILE", help="A design as TOML: variable = value.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="*.png, *.csv or *.parquet.")
    ] = None,
) -> None:
    """Put one or two designs through the duty and show temperatures, powers, flow."""
    from boilerfront.model import simulate
    from boilerfront.results.trace_plot import Traced, write_traces

    if trials:
        if settings or design:
            raise InputError("either trials of a run, or --set and --design with a sweep file")
        sweep, designs = _of_run(subject, trials, runs)
    else:
        sweep, designs = _of_sweep(subject, settings or [], design)
    brief = sweep.brief()
    traced = [Traced(label, simulate(values, brief), deviation) for label, values, deviation in designs]
    target = out or Path("trace-" + "-".join(label.replace(" ", "-") for label, _, _ in designs) + ".png")
    write_traces(target, traced)
    for each in traced:
        ready = "never ready" if each.trace.ready_s is None else f"ready after {each.trace.ready_s:.0f} s"
        typer.echo(f"{each.label}: {ready}, {each.trace.verdict}")
    typer.echo(target)


def _of_run(
    name: str, trials: list[int], root: Path | None
) -> tuple[Sweep, list[tuple[str, Design, float | None]]]:
    from boilerfront.jobs.launch import frozen_sweep
    from boilerfront.jobs.ranges import columns
    from boilerfront.results.ledger import read_ledger

    if len(trials) > 2:
        raise InputError([Fault("TRIAL", f"{len(trials)} trials", "one or two")])
    run = opt.chosen_run(name, root)
    sweep = frozen_sweep(run)
    table = read_ledger(run.trials).table
    by_trial = (
        {trial: place for place, trial in enumerate(table["trial"].to_pylist())} if table.num_rows else {}
    )
    missing = [Fault("TRIAL", str(trial), "a trial of the run") for trial in trials if trial not in by_trial]
    if missing:
        raise InputError(missing)
    rows = [table.slice(by_trial[trial], 1).to_pylist()[0] for trial in trials]
    names = columns(sweep.variables)
    return sweep, [
        (f"trial {row['trial']}", {name: row[name] for name in names}, row["shot_deviation_K"])
        for row in rows
    ]


def _of_sweep(
    subject: str, settings: list[str], file: Path | None
) -> tuple[Sweep, list[tuple[str, Design, float | None]]]:
    from boilerfront.jobs.ranges import middle_design
    from boilerfront.jobs.sweep import load_sweep

    sweep = load_sweep(Path(subject))
    given = {**(_read_design(file) if file else {}), **dict(map(_setting, settings))}
    return sweep, [("design", middle_design(sweep.variables, given), None)]


def _read_design(file: Path) -> Design:
    try:
        return tomllib.loads(file.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise InputError([Fault("--design", f"{file}: {error}", "a TOML file of variable = value")]) from None


def _setting(text: str) -> tuple[str, float | str]:
    name, equals, value = text.partition("=")
    if not equals:
        raise InputError([Fault("--set", repr(text), "VAR=VALUE")])
    try:
        return name.strip(), float(value)
    except ValueError:
        return name.strip(), value.strip()
