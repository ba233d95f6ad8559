"""`inspect`: every fault of a sweep file, else what the sweep will take."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from boilerfront.jobs.commands import options as opt

if TYPE_CHECKING:
    from boilerfront.jobs.sweep import Sweep

Entry = tuple[str, str]
"""A name, and what is said of it."""
_SHARE_APART = 0.1
"""Shares that lie nearer are the same by a measurement of a few designs."""


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
    for name, text in (*_variables(loaded), *_amounts(loaded)):
        opt.entry(name, text)
    if not without_timing:
        for name, text in _measured(loaded):
            opt.entry(name, text)
    bound = f"no warm-up below {warm_up_bound_s(loaded):.0f} s: heat of the smallest machine, full socket, no loss"
    opt.entry("energy bound", bound)
    typer.echo("limits that law, standards and physics set, and their sources:")
    for name, text in _limits(loaded):
        opt.entry(name, text)
    typer.echo(f"next: boilerfront start {sweep}")


def _variables(sweep: Sweep) -> list[Entry]:
    from boilerfront.jobs.ranges import ChoiceList, NumberRange, columns
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
        text = f"{text} {unit}".rstrip()
        if isinstance(each, NumberRange):
            text += ", logarithmic" if each.log else f", in steps of {each.step:g}" if each.step else ""
        lines.append((name, text))
    return lines


def _limits(sweep: Sweep) -> list[Entry]:
    """Return the hard limits, and which of the tubes asked for no mill makes."""
    from boilerfront.jobs.ranges import ChoiceList
    from boilerfront.model.hard_limits import hard_limits
    from boilerfront.model.parts.tube import unlisted_bores_mm

    lines = [(each.what, f"{each.limit}: {each.source}") for each in hard_limits(sweep.brief())]
    tubes, bores = sweep.variables.get("coil_material"), sweep.variables.get("coil_bore_mm")
    if isinstance(tubes, ChoiceList) and "copper" in tubes.choices and isinstance(bores, ChoiceList):
        unlisted = unlisted_bores_mm([float(bore) for bore in bores.choices])
        if unlisted:
            listed = ", ".join(map("{:g}".format, unlisted))
            lines.append(("caution", f"no copper tube of EN 1057 has a bore of {listed} mm"))
    return lines


def _amounts(sweep: Sweep) -> list[Entry]:
    from boilerfront.jobs.effort import runs_a_design, surrogate_share
    from boilerfront.jobs.equipment import cores
    from boilerfront.jobs.plan import Generations
    from boilerfront.jobs.ranges import search_space

    budget, a_design = sweep.search.budget, runs_a_design(sweep)
    size = len(Generations(sweep.search.generation).trials(10**6))
    machines = f"{sweep.tolerances.samples} machines of its batch, trim, set-point check"
    machines += ", each machine's second session" if sweep.duty.sessions > 1 else ""
    where = f", at each of {len(sweep.sites)} sites" if sweep.sites else ""
    lines = [
        ("designs", f"{budget:,}, over {len(search_space(sweep.variables))} open variables"),
        ("runs", f"about {budget * a_design:,}: {a_design} a design ({machines}{where})"),
        (
            "surrogate",
            f"plans {surrogate_share(sweep):.0%} of the generations in which it may pay",
        ),
        *_sites(sweep),
    ]
    if cores() > size:
        idle = f"{cores()} workers, {size} designs a generation: {cores() - size} idle"
        lines.append(("caution", f"{idle}; set generation = {4 * cores()} in [search]"))
    return lines


def _sites(sweep: Sweep) -> list[Entry]:
    """Return a line for each site, and how they count."""
    named = sweep.sites or {sweep.site.name: sweep.site}
    lines = [
        ("site", f"{name}: {site.voltage_V:g} V, {site.current_limit_A:g} A") for name, site in named.items()
    ]
    if sweep.markets.weights:
        shares = ", ".join(f"{name} {weight:g}" for name, weight in sweep.markets.weights.items())
        lines.append(
            ("over sites", f"objectives are the mean by weight: {shares}; every margin holds at each")
        )
    elif sweep.sites:
        lines.append(("over sites", "objectives are those of the worst site; every margin holds at each"))
    return lines


def _measured(sweep: Sweep) -> list[Entry]:
    from boilerfront.jobs.equipment import cores
    from boilerfront.jobs.estimate import explained_designs, probe, sweep_bytes, sweep_seconds
    from boilerfront.jobs.progress import duration

    measured = probe(sweep)
    workers = cores()
    seconds = sweep_seconds(sweep, measured.seconds_a_design)
    a_design = f"{1e3 * measured.seconds_a_design:.0f} ms a design, measured"
    explaining = duration(explained_designs(sweep) * measured.seconds_a_design)
    came = f"of {measured.designs} designs {measured.came_through} come through their duty"
    return [
        ("time", f"about {duration(seconds)} with {workers} workers on this machine ({a_design})"),
        *_proposed_share(sweep, measured.seconds_a_design),
        ("other batches", _other_batches(sweep, seconds)),
        ("explain", f"about {explaining} a design, for what each variable does; at first a minute more"),
        ("space", f"about {sweep_bytes(sweep, measured) / 1e6:.1f} MB"),
        ("first look", f"{came}, {measured.feasible} are feasible"),
    ]


def _proposed_share(sweep: Sweep, seconds_a_design: float) -> list[Entry]:
    """Return which share of the generations would suit designs that take so long, where it is another one."""
    from boilerfront.jobs.effort import surrogate_share, worthwhile_share
    from boilerfront.jobs.equipment import cores

    proposed = worthwhile_share(1e3 * seconds_a_design, workers=cores())
    if abs(proposed - surrogate_share(sweep)) < _SHARE_APART:
        return []
    why = f"with {cores()} workers here a surrogate spares more time than it takes up to there"
    return [("proposal", f"set surrogate = {proposed:g} in [search]: {why}")]


def _other_batches(sweep: Sweep, seconds: float) -> str:
    """Return how long the sweep takes with other numbers of machines in the batch, by their runs."""
    from boilerfront.jobs.effort import runs_a_design
    from boilerfront.jobs.progress import duration
    from boilerfront.model.tolerances import Tolerances

    own = runs_a_design(sweep)
    others = [count for count in (0, 8, Tolerances().samples) if count != sweep.tolerances.samples]
    texts = [
        f"{duration(seconds * runs_a_design(sweep, samples=count) / own)} with samples = {count}"
        for count in others
    ]
    return "about " + ", ".join(texts)
