"""`inspect`: every fault of a sweep file, else what the sweep will take."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from boilerfront.jobs.sweep import Sweep

WIDTH = 110


def inspect(
    sweep: Annotated[Path, typer.Argument(metavar="SWEEP", help="A sweep file, or its folder.")],
    without_timing: Annotated[
        bool, typer.Option("--without-timing", help="Evaluate nothing; the time is not said.")
    ] = False,
) -> None:
    """Validate a sweep file; print every fault with its place, or how many designs, how long, how large."""
    from boilerfront.jobs.estimate import warm_up_bound_s
    from boilerfront.jobs.sweep import load_sweep

    loaded = load_sweep(sweep)
    typer.echo(f"{sweep}: valid")
    for line in (*_variables(loaded), *_amounts(loaded)):
        typer.echo(line)
    if not without_timing:
        for line in _measured(loaded):
            typer.echo(line)
    bound_s = warm_up_bound_s(loaded)
    typer.echo(
        f"energy bound   no warm-up below {bound_s:.0f} s: heat of the smallest machine, full socket, no loss"
    )
    typer.echo("limits that law, standards and physics set, and their sources:")
    for line in _limits(loaded):
        typer.echo(line)
    typer.echo(f"next: boilerfront start {sweep}")


def _variables(sweep: Sweep) -> list[str]:
    from boilerfront.jobs.ranges import ChoiceList, columns
    from boilerfront.model import VARIABLES
    from boilerfront.model.variables import base_name

    lines = []
    for name in columns(sweep.variables):
        each = sweep.variables[name]
        unit = VARIABLES[base_name(name)].unit
        if isinstance(each, ChoiceList):
            text = ", ".join(f"{c:g}" if isinstance(c, float) else c for c in each.choices)
        else:
            text = f"{each.low:g} to {each.high:g}"
            text += " (logarithmic)" if each.log else f" in steps of {each.step:g}" if each.step else ""
        lines.append(f"{name:19}{text} {unit}".rstrip())
    return lines


def _limits(sweep: Sweep) -> list[str]:
    """Return the hard limits, and which of the tubes asked for no mill makes."""
    from boilerfront.jobs.ranges import ChoiceList
    from boilerfront.model.hard_limits import hard_limits
    from boilerfront.model.parts.tube import unlisted_bores_mm

    indent = " " * 15
    lines = [
        textwrap.fill(f"{each.what:15}{each.limit}: {each.source}", WIDTH, subsequent_indent=indent)
        for each in hard_limits(sweep.brief())
    ]
    tubes, bores = sweep.variables.get("coil_material"), sweep.variables.get("coil_bore_mm")
    if isinstance(tubes, ChoiceList) and "copper" in tubes.choices and isinstance(bores, ChoiceList):
        unlisted = unlisted_bores_mm([float(bore) for bore in bores.choices])
        if unlisted:
            lines.append(
                f"caution        no copper tube of EN 1057 has a bore of {', '.join(map('{:g}'.format, unlisted))} mm"
            )
    return lines


def _amounts(sweep: Sweep) -> list[str]:
    from boilerfront.jobs.cluster import cores
    from boilerfront.jobs.estimate import runs_a_design
    from boilerfront.jobs.plan import Generations
    from boilerfront.jobs.ranges import search_space

    budget, a_design = sweep.search.budget, runs_a_design(sweep)
    size = len(Generations(sweep.search.generation).trials(10**6))
    lines = [
        f"designs        {budget:,}, over {len(search_space(sweep.variables))} open variables",
        f"runs           about {budget * a_design:,}: {a_design} a design "
        f"({sweep.tolerances.samples} machines of its batch, trim, set-point check"
        + (f", at each of {len(sweep.sites)} sites)" if sweep.sites else ")"),
        *_sites(sweep),
    ]
    if cores() > size:
        lines.append(
            f"caution        {cores()} workers, {size} designs a generation: {cores() - size} idle; "
            f"set generation = {4 * cores()} in [search]"
        )
    return lines


def _sites(sweep: Sweep) -> list[str]:
    """Return a line for each site, and how they count."""
    named = sweep.sites or {sweep.site.name: sweep.site}
    lines = [
        f"site           {name}: {site.voltage_V:g} V, {site.current_limit_A:g} A"
        for name, site in named.items()
    ]
    if sweep.markets.weights:
        shares = ", ".join(f"{name} {weight:g}" for name, weight in sweep.markets.weights.items())
        lines.append(
            f"over sites     objectives are the mean by weight: {shares}; every margin holds at each"
        )
    elif sweep.sites:
        lines.append("over sites     objectives are those of the worst site; every margin holds at each")
    return lines


def _measured(sweep: Sweep) -> list[str]:
    from boilerfront.jobs.cluster import cores
    from boilerfront.jobs.estimate import explained_designs, probe, sweep_bytes, sweep_seconds
    from boilerfront.jobs.progress import duration

    measured = probe(sweep)
    workers = cores()
    seconds = sweep_seconds(sweep, measured.seconds_a_design)
    return [
        f"time           about {duration(seconds)} with {workers} workers on this machine "
        f"({1e3 * measured.seconds_a_design:.0f} ms a design, measured)",
        _other_batches(sweep, seconds),
        f"explain        about {duration(explained_designs(sweep) * measured.seconds_a_design)} a design, "
        "to say what each variable does to it",
        f"space          about {sweep_bytes(sweep, measured) / 1e6:.1f} MB",
        f"first look     of {measured.designs} designs {measured.came_through} come through their duty, "
        f"{measured.feasible} are feasible",
    ]


def _other_batches(sweep: Sweep, seconds: float) -> str:
    """Return how long the sweep takes with other numbers of machines in the batch, by their runs."""
    from boilerfront.jobs.estimate import runs_a_design
    from boilerfront.jobs.progress import duration
    from boilerfront.model.tolerances import Tolerances

    own = runs_a_design(sweep)
    others = [count for count in (0, 8, Tolerances().samples) if count != sweep.tolerances.samples]
    texts = [
        f"{duration(seconds * runs_a_design(sweep, samples=count) / own)} with samples = {count}"
        for count in others
    ]
    return "other batches  about " + ", ".join(texts)
