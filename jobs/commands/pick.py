"""`pick`: a few good, different candidates with reasons; keeping them under letters."""

from __future__ import annotations

import json
import shlex
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import TYPE_CHECKING, Annotated, Any

import typer

from boilerfront.jobs.commands import options as opt
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared.errors import Fault, InputError
from boilerfront.shared.folding import folded

if TYPE_CHECKING:
    import pyarrow as pa

    from boilerfront.results.confirm import Confirmation

COUNT = 5
MOST = 24
"""As many as there are letters that cannot be taken for numbers."""


def pick(
    run: opt.Run,
    runs: opt.Runs = None,
    count: Annotated[
        int | None,
        typer.Option("--count", min=1, max=MOST, metavar="N", help=f"How many; {COUNT} if not said."),
    ] = None,
    where: Annotated[
        str | None, typer.Option("--where", metavar="EXPR", help="Only among those: one SQL condition.")
    ] = None,
    confirm: Annotated[
        bool, typer.Option("--confirm", help="Rate them on 512 fresh machines; show both numbers.")
    ] = False,
    keep: Annotated[
        str | None, typer.Option("--keep", metavar="TRIAL", help="Keep this one, by its number or letter.")
    ] = None,
    letter: Annotated[str | None, typer.Option("--as", metavar="LETTER", help="The letter to keep.")] = None,
    note: Annotated[str | None, typer.Option("--note", metavar="TEXT", help="Why it is kept.")] = None,
    drop: Annotated[
        str | None, typer.Option("--drop", metavar="LETTER", help="Keep this one no longer.")
    ] = None,
    kept: Annotated[
        bool, typer.Option("--kept", help="Show those that are kept; with --confirm on fresh machines too.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Nothing but JSON on standard output.")] = False,
) -> None:
    """Propose a few good, different designs, each with a reason; keep some under letters, with notes.

    A letter, proposed or kept, may be typed wherever a TRIAL is asked for.
    """
    given = {
        "--count": count, "--where": where, "--confirm": confirm or None, "--keep": keep, "--as": letter,
        "--note": note, "--drop": drop, "--kept": kept or None,
    }  # fmt: skip
    _refuse_mixtures([option for option, value in given.items() if value is not None])
    folder = opt.chosen_run(run, runs)
    if keep is not None:
        _keep(folder, keep, letter, note, as_json=as_json)
    elif drop is not None:
        _drop(folder, drop, as_json=as_json)
    elif kept:
        _show_kept(folder, confirm=confirm, as_json=as_json)
    else:
        _propose(folder, count or COUNT, where, confirm=confirm, as_json=as_json)


def _refuse_mixtures(given: Sequence[str]) -> None:
    """One thing is done at a time: proposing, keeping, dropping, showing."""
    company = {"--keep": {"--as", "--note"}, "--drop": set[str](), "--kept": {"--confirm"}}
    for leader, others in company.items():
        if leader in given:
            strangers = [option for option in given if option != leader and option not in others]
            if strangers:
                allowed = f"{leader} with {' and '.join(sorted(others))}" if others else f"{leader} alone"
                raise InputError([Fault(option, f"beside {leader}", allowed) for option in strangers])
            return
    lost = [option for option in given if option in company["--keep"]]
    if lost:
        raise InputError([Fault(option, "without --keep", "with --keep TRIAL") for option in lost])


def _now() -> datetime:
    return datetime.now().astimezone()


def _keep(run: RunFolder, word: str, letter: str | None, note: str | None, *, as_json: bool) -> None:
    from boilerfront.results.candidates import candidates
    from boilerfront.results.picks import keep

    (candidate,) = candidates(run, [word])
    pick = keep(run, candidate.trial, letter=letter, note=note, now=_now())
    if not candidate.row["feasible"]:
        why = candidate.row["reason"] or candidate.row["fault"] or "a margin is not met"
        opt.note(f"caution: trial {candidate.trial} is not feasible: {why}")
    if as_json:
        typer.echo(json.dumps({"pick": pick.letter, "trial": pick.trial, "note": pick.note}))
    else:
        typer.echo(
            f"{pick.letter} is trial {pick.trial}, kept in {run.picks}"
            + (f": {pick.note}" if pick.note else "")
        )


def _drop(run: RunFolder, letter: str, *, as_json: bool) -> None:
    from boilerfront.results.picks import drop

    gone = drop(run, letter, now=_now())
    if as_json:
        typer.echo(json.dumps({"pick": gone.letter, "trial": gone.trial, "note": gone.note}))
    else:
        typer.echo(f"{gone.letter} (trial {gone.trial}) is no longer kept")


def _show_kept(run: RunFolder, *, confirm: bool, as_json: bool) -> None:
    from boilerfront.results.ledger import read_run
    from boilerfront.results.pick_tables import kept_table, rows_of_trials
    from boilerfront.results.picks import kept_picks
    from boilerfront.results.show import as_text

    picks = list(kept_picks(run).values())
    table = read_run(run).table
    if not picks or not table.num_rows:
        typer.echo("[]" if as_json else f"nothing is kept yet; boilerfront pick {run.path} proposes some")
        return
    rows = rows_of_trials(table, [pick.trial for pick in picks])
    shown = kept_table(picks, rows)
    known = set(rows["trial"].to_pylist())
    gone = [pick for pick in picks if pick.trial not in known]
    looked_at = _fresh(run, rows) if confirm else {}
    if as_json:
        records = shown.to_pylist()
        typer.echo(
            json.dumps([_with_fresh(each, looked_at) for each in records], ensure_ascii=False, indent=1)
        )
    else:
        typer.echo(as_text(shown, width=opt.width(), chooser=""), nl=False)
        _print_fresh(rows, {pick.trial: pick.letter for pick in picks}, looked_at)
    for each in gone:
        opt.note(f"{each.letter}: the run has no trial {each.trial}")


def _propose(run: RunFolder, count: int, where: str | None, *, confirm: bool, as_json: bool) -> None:
    from boilerfront.results.front import front_of
    from boilerfront.results.propose import proposed_rows
    from boilerfront.results.question import Question, default_columns
    from boilerfront.results.reasons import reasons
    from boilerfront.results.show import as_text
    from boilerfront.results.within import rows_within

    whole, notes = front_of(run)
    for line in notes:
        typer.echo(line, err=True)
    front, why = rows_within(whole, Question(where=where)) if whole.num_rows else (whole, None)
    if not front.num_rows:
        if why is None:
            every = f"boilerfront query {shlex.quote(str(run.path))} --all"
            opt.note(f"the front is empty: {every} shows every trial with its reason")
        else:
            nearest = whole.take(list(why.nearest)).select(default_columns(whole.schema))
            for line in (*why.notes, as_text(nearest, width=opt.width(), chooser="")):
                typer.echo(line, err=True)
        if as_json:
            typer.echo("[]")
        return
    looked_at: Mapping[int, Confirmation] = {}
    rows, looked_at = _confirmed(run, front, count) if confirm else (proposed_rows(front, count), looked_at)
    letters = _letters(run, rows["trial"].to_pylist())
    said = reasons(rows, [letters[trial] for trial in rows["trial"].to_pylist()])
    if as_json:
        typer.echo(json.dumps(_records(rows, letters, said, looked_at), ensure_ascii=False, indent=1))
    else:
        _print_proposals(run, rows, letters, said, looked_at)
    if rows.num_rows < count:
        opt.note(f"{rows.num_rows} of {count}: no other design differs enough from these")


def _letters(run: RunFolder, trials: Sequence[int]) -> dict[int, str]:
    """Return the letters, remembered in the run's folder where it can be written."""
    from boilerfront.results.picks import free_letters, propose_letters
    from boilerfront.shared.files import DiskError

    try:
        return propose_letters(run, trials, now=_now())
    except DiskError as error:
        opt.note(f"the letters are good for this list only: {error}")
        return dict(zip(trials, free_letters(()), strict=False))


def _confirmed(run: RunFolder, front: pa.Table, count: int) -> tuple[pa.Table, dict[int, Confirmation]]:
    from boilerfront.jobs.launch import frozen_sweep
    from boilerfront.results.confirm import FRESH_MACHINES, confirmed_proposals

    with _telling() as tell:
        rows, looked_at = confirmed_proposals(front, count, frozen_sweep(run).brief(), tell=tell)
    chosen = set(rows["trial"].to_pylist())
    for trial, found in looked_at.items():
        if trial not in chosen and not found.holds:
            typer.echo(
                f"trial {trial} is left out: on {FRESH_MACHINES} fresh machines {found.why_not}", err=True
            )
    return rows, looked_at


def _fresh(run: RunFolder, rows: pa.Table) -> dict[int, Confirmation]:
    from boilerfront.jobs.launch import frozen_sweep
    from boilerfront.results.confirm import confirmed_rows

    with _telling() as tell:
        return confirmed_rows(rows, frozen_sweep(run).brief(), tell=tell)


@contextmanager
def _telling() -> Iterator[Callable[[str], None]]:
    """Yield what shows a line of progress in place of the last; the last goes at the end."""
    from boilerfront.jobs.progress import Teller

    teller = Teller()
    yield lambda text: teller.progress(time.monotonic(), text)
    teller.clear()


def _records(
    rows: pa.Table, letters: Mapping[int, str], said: Sequence[str], looked_at: Mapping[int, Confirmation]
) -> list[dict[str, Any]]:
    records = []
    for row, why in zip(rows.to_pylist(), said, strict=True):
        record = {"pick": letters[row["trial"]], "why": why, **row}
        records.append(_with_fresh(record, looked_at))
    return records


def _with_fresh(record: dict[str, Any], looked_at: Mapping[int, Confirmation]) -> dict[str, Any]:
    """Return a record with what the fresh machines say of its trial, where they were asked."""
    found = looked_at.get(record["trial"])
    if found is None:
        return record
    return {**record, "confirmed": {"holds": found.holds, "why_not": found.why_not, **found.row}}


def _print_proposals(
    run: RunFolder,
    rows: pa.Table,
    letters: Mapping[int, str],
    said: Sequence[str],
    looked_at: Mapping[int, Confirmation],
) -> None:
    from boilerfront.results.pick_tables import lettered
    from boilerfront.results.show import as_text

    width = opt.width()
    typer.echo(as_text(lettered(rows, letters), width=width, chooser=""))
    trials = rows["trial"].to_pylist()
    for trial, why in zip(trials, said, strict=True):
        typer.echo(folded(f"{letters[trial]}  {why}", width=width, indent="   "))
    _print_fresh(rows, letters, looked_at)
    first, path = letters[trials[0]], shlex.quote(str(run.path))
    typer.echo(
        f"\nnext: boilerfront trace {path} {' '.join(letters[trial] for trial in trials[:2])}"
        f"\n      boilerfront pick {path} --keep {first} --note 'why'"
        f"\n      boilerfront pack {path} {first} --out packs"
    )


def _print_fresh(rows: pa.Table, letters: Mapping[int, str], looked_at: Mapping[int, Confirmation]) -> None:
    """Print the numbers of the fresh machines beside the run's, where they were asked."""
    from boilerfront.results.confirm import FRESH_MACHINES
    from boilerfront.results.pick_tables import confirmation_table
    from boilerfront.results.show import as_text

    if not looked_at:
        return
    typer.echo(f"\nand on {FRESH_MACHINES} fresh machines each:\n")
    table = confirmation_table(rows, letters, looked_at)
    typer.echo(as_text(table, width=opt.width(), chooser=""), nl=False)
    for trial in rows["trial"].to_pylist():
        if not looked_at[trial].holds:
            typer.echo(f"{letters[trial]} does not hold: {looked_at[trial].why_not}")
