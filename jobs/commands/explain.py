"""`explain`: what moves a candidate, or how a family stands."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from boilerfront.jobs.commands import options as opt
from boilerfront.shared.errors import Fault, InputError
from boilerfront.shared.folding import folded

if TYPE_CHECKING:
    import pyarrow as pa

    from boilerfront.jobs.sweep import Sweep
    from boilerfront.results.explain import Explained
    from boilerfront.results.run_folder import RunFolder

FORMATS = ("text", "csv", "json")


def explain(
    run: opt.Run,
    trial: Annotated[
        str | None, typer.Argument(metavar="TRIAL", help="A trial's number, or a pick's letter.")
    ] = None,
    runs: opt.Runs = None,
    family: Annotated[
        str | None, typer.Option("--family", metavar="NAME", help="How this architecture stands, and why.")
    ] = None,
    by: Annotated[
        str | None,
        typer.Option(
            "--by", metavar="COLUMN", help="Sort by changes of this figure, not by the largest of all."
        ),
    ] = None,
    limit: Annotated[
        int | None, typer.Option("--limit", min=1, metavar="N", help="Rows of a table at most.")
    ] = None,
    form: Annotated[str, typer.Option("--format", metavar="FORMAT", help="text, csv or json.")] = "text",
    out: Annotated[Path | None, typer.Option("--out", metavar="FILE", help="Write it there.")] = None,
) -> None:
    """Say what each variable and each tolerance does to a candidate, or why a family is absent from the front."""
    if form not in FORMATS:
        raise InputError([Fault("--format", form, ", ".join(FORMATS))])
    if (trial is None) == (family is None):
        found = "neither" if trial is None else "both"
        raise InputError([Fault("TRIAL and --family", found, "one of them")])
    if family is not None and by is not None:
        raise InputError([Fault("--by", "beside --family", "with a TRIAL")])
    from boilerfront.model.variables import FAMILIES

    if trial in FAMILIES:
        raise InputError(
            [Fault("TRIAL", str(trial), f"a trial or a letter; --family {trial} explains a family")]
        )
    folder = opt.chosen_run(run, runs)
    text = (
        _family(folder, family, form, limit)
        if family is not None
        else _trial(folder, str(trial), by, form, limit)
    )
    if out is not None:
        from boilerfront.results.show import write_out

        write_out(out, text.encode())
    else:
        sys.stdout.buffer.write(text.encode())
        sys.stdout.buffer.flush()


def _family(run: RunFolder, family: str, form: str, limit: int | None) -> str:
    from boilerfront.jobs.launch import frozen_sweep
    from boilerfront.jobs.ranges import architectures
    from boilerfront.results.family import standing
    from boilerfront.results.ledger import read_run

    loaded = read_run(run)
    found = standing(loaded.table, family, compared=architectures(frozen_sweep(run).variables))
    for note in loaded.messages:
        opt.note(note)
    table = None if found.table is None else found.table.slice(0, limit)
    if form == "json":
        return _json({"notes": found.notes, "designs": table.to_pylist() if table is not None else []})
    if form == "csv":
        return _told_aside(found.notes) + (_csv(table) if table is not None else "")
    notes = [folded(note, width=opt.width()) for note in found.notes]
    return "\n".join(notes) + "\n" + (f"\n{_text(table)}" if table is not None else "")


def _trial(run: RunFolder, word: str, by: str | None, form: str, limit: int | None) -> str:
    from boilerfront.jobs.launch import frozen_sweep
    from boilerfront.jobs.ranges import offers
    from boilerfront.results.candidates import candidates
    from boilerfront.results.explain import explain as explained

    (candidate,) = candidates(run, [word])
    sweep = frozen_sweep(run)
    found = explained(
        candidate,
        sweep.brief(),
        offers=lambda name, value: offers(sweep.variables, name, value),
        by=by,
        tell=lambda line: typer.echo(line, err=True),
    )
    found = found.limited(limit)
    if form == "json":
        head = {"trial": candidate.trial, "letter": candidate.letter, "notes": found.notes}
        tables = {"variables": found.variables, "tolerances": found.tolerances}
        return _json({**head, **{name: table.to_pylist() for name, table in tables.items()}})
    if form == "csv":
        return _told_aside(found.notes) + _csv(found.together())
    lines = [f"{candidate.label}: {candidate.row['architecture']}", *found.notes]
    lines = [folded(line, width=opt.width()) for line in lines]
    lines += _variables(found, sweep, by) if found.variables.num_rows else []
    lines += _tolerances(found, by) if found.tolerances.num_rows else []
    return "\n".join(lines) + "\n"


def _variables(found: Explained, sweep: Sweep, by: str | None) -> list[str]:
    from boilerfront.results.explain import IN_SWEEP, OUTSIDE, most

    machines, quantile = sweep.tolerances.samples, 100.0 * sweep.tolerances.share
    rated = (
        f"Objectives and margins are what {quantile:g} % of its batch of {machines} machines keep, other figures "
        "those of its nominal machine"
        if machines
        else "Figures are those of the nominal machine"
    )
    heading = f"One variable moved, all others as they are. {rated}; changes are after less before."
    lines = _table(heading, most(found.variables, by), found.variables, by)
    if not all(found.variables[IN_SWEEP].to_pylist()):
        lines += ["", _folded(f"{OUTSIDE} the sweep could not have chosen this value")]
    if found.ends:
        lines += ["", _folded(f"no further the other way in the model: {', '.join(found.ends)}")]
    return lines


def _tolerances(found: Explained, by: str | None) -> list[str]:
    from boilerfront.results.explain import most

    heading = "One tolerance moved to an end of its scatter, in an otherwise nominal machine."
    return _table(heading, most(found.tolerances, by), found.tolerances, by)


def _table(heading: str, headline: str, table: pa.Table, by: str | None) -> list[str]:
    from boilerfront.results.explain import for_people, sorting

    text = _text(for_people(table, by=by), below="consequence").rstrip("\n")
    heads = [_folded(line) for line in (heading, sorting(by), headline) if line]
    return ["", *heads, "", text]


def _folded(line: str) -> str:
    return folded(line, width=opt.width())


def _text(table: pa.Table, *, below: str | None = None) -> str:
    from boilerfront.results.show import as_text

    return as_text(table, width=opt.width(), chooser=" (--format json has all)", below=below)


def _csv(table: pa.Table) -> str:
    from boilerfront.results.show import rendered

    return rendered(table, "csv").decode()


def _json(content: object) -> str:
    return json.dumps(content, allow_nan=False, ensure_ascii=False, indent=1) + "\n"


def _told_aside(notes: tuple[str, ...]) -> str:
    for note in notes:
        opt.note(note)
    return ""
