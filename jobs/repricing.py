"""A run at new prices: a run of its own beside the old one, from what is computed already."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pyarrow as pa

from boilerfront.jobs.frozen import frozen_toml, recorded
from boilerfront.jobs.launch import frozen_sweep
from boilerfront.jobs.plan import Plan, generations_of
from boilerfront.jobs.state import State, read_state, write_state
from boilerfront.jobs.sweep import Sweep, checked_name
from boilerfront.model.prices import PriceBook, read_price_book
from boilerfront.results.front import feasible_count, write_front
from boilerfront.results.ledger import Ledger, read_run
from boilerfront.results.reprice import Repriced, reprice
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared import files
from boilerfront.shared.errors import Fault, InputError
from boilerfront.shared.lock import locked

SUFFIX = "-repriced"


@dataclass(frozen=True)
class RepricedRun:
    """The new run, what the prices changed, and a sentence about every file of the old one left out."""

    run: RunFolder
    sweep: Sweep
    result: Repriced
    messages: tuple[str, ...]


def reprice_run(run: RunFolder, prices: Path, *, name: str | None, now: datetime) -> RepricedRun:
    """Write the trials of `run` with the costs of the book at `prices` into a run of its own beside it.

    That one is called `name`, or as the old one with `SUFFIX`. It keeps trial numbers and picks, and can be
    resumed: then the search goes on at the new prices. The old run is not touched. Raises `InputError` for a
    faulty book, for one with the same prices, and where the new run's place is taken.
    """
    target = RunFolder(run.path.resolve().parent / checked_name(name or f"{run.name}{SUFFIX}"))
    book = read_price_book(prices)
    sweep = frozen_sweep(run)
    _refuse_same(prices, sweep.prices, book)
    if target.path.exists():
        raise InputError([Fault("--name", f"{target.path}, which exists", "a name that is not taken")])
    loaded = read_run(run)
    result = reprice(loaded.table, sweep.brief(), book)
    frozen = _frozen(sweep, book, source=run, target=target, now=now)
    files.make_folder(target.path)
    with locked(target.lock, now=now):
        _write(target, frozen, result, source=run, now=now)
    return RepricedRun(target, frozen, result, loaded.messages)


def _refuse_same(path: Path, old: PriceBook, new: PriceBook) -> None:
    if (old.currency, old.prices) == (new.currency, new.prices):
        raise InputError([Fault(str(path), "the prices that the run was rated with", "at least one other")])


def _frozen(sweep: Sweep, book: PriceBook, *, source: RunFolder, target: RunFolder, now: datetime) -> Sweep:
    """Return the sweep at the new prices; figures were computed by the versions and CPU of the old record."""
    new = recorded(sweep.model_copy(update={"prices": book, "name": target.name}), started=now)
    if sweep.run is None or new.run is None:
        return new
    kept = {
        "versions": sweep.run.versions, "cpu": sweep.run.cpu, "repriced_from": source.name,
        "taken_from": sweep.run.taken_from, "taken": sweep.run.taken,
    }  # fmt: skip
    return new.model_copy(update={"run": new.run.model_copy(update=kept)})


def _write(target: RunFolder, sweep: Sweep, result: Repriced, *, source: RunFolder, now: datetime) -> None:
    """Write all files of the new run; the frozen sweep, which makes a folder a run, is the last."""
    trials = _stamped(result.trials, sweep, target)
    Ledger(target.trials, trials.schema).write_closed(trials)
    write_front(target.front, _stamped(result.after, sweep, target))
    if source.picks.is_file():
        files.write_atomically(target.picks, source.picks.read_bytes())
    story = (
        f"repriced from {source.path}: {trials.num_rows:,} designs, {result.after.num_rows:,} on the front"
    )
    files.append(target.log, f"{now.isoformat(timespec='seconds')}  {story}\n")
    write_state(target, _state(sweep, result, source))
    files.write_atomically(target.sweep_file, frozen_toml(sweep).encode())


def _stamped(table: pa.Table, sweep: Sweep, run: RunFolder) -> pa.Table:
    """Return a table that says which run and sweep it is of."""
    record = {b"run": run.name.encode(), b"sweep_hash": (sweep.run.sweep_hash if sweep.run else "").encode()}
    return table.replace_schema_metadata({**(table.schema.metadata or {}), **record})


def _state(sweep: Sweep, result: Repriced, source: RunFolder) -> State:
    done = frozenset(result.trials["trial"].to_pylist())
    is_finished = Plan(generations_of(sweep), sweep.search.budget, done).finished
    return State(
        phase="finished" if is_finished else "stopped",
        trials=len(done),
        budget=sweep.search.budget,
        feasible=feasible_count(result.trials),
        front=result.after.num_rows,
        seconds=read_state(source).seconds,
        why=f"repriced from {source.name}",
    )
