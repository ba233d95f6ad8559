"""Starting and resuming a run: which folder, whose lock, until when, with which workers.

A folder that exists is never overwritten: the same sweep is resumed or already finished, another one is
refused with what differs.
"""

from __future__ import annotations

import queue
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

from threadpoolctl import threadpool_limits

from boilerfront.jobs.clock import Clock, local_text, next_instant
from boilerfront.jobs.cluster import Where, open_workers
from boilerfront.jobs.driver import Outcome
from boilerfront.jobs.frozen import cpu_type, differences, frozen_toml, recorded, sweep_hash, versions
from boilerfront.jobs.plan import Generations
from boilerfront.jobs.ranges import columns, one_of_each
from boilerfront.jobs.reports import Reports
from boilerfront.jobs.shell import SessionMeans, Shell, WorkerPool
from boilerfront.jobs.signals import interruptible
from boilerfront.jobs.state import State, read_state, write_state
from boilerfront.jobs.sweep import Sweep, checked_name, default_name, load_sweep
from boilerfront.jobs.work import Design, Evaluator, Work, compile_model, model_evaluator
from boilerfront.model.brief import Brief
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.schema import Provenance, ledger_schema
from boilerfront.shared import files
from boilerfront.shared.errors import Fault, InputError
from boilerfront.shared.lock import locked

OpenWorkers = Callable[[Where, Work, Reports], AbstractContextManager[WorkerPool]]


@dataclass(frozen=True)
class Options:
    """How a session is driven; nothing here changes what the run computes, but for budget and seed."""

    where: Where = field(default_factory=Where)
    at: str | None = None
    until: str | None = None
    budget: int | None = None
    seed: int | None = None


@dataclass(frozen=True)
class Means(SessionMeans):
    """All that a session leans on, so that tests can put other things in their place."""

    evaluate: Evaluator = model_evaluator
    prepare: Callable[[Brief, Sequence[Design]], None] = compile_model
    open_workers: OpenWorkers = open_workers


@dataclass(frozen=True)
class Ended:
    """How a session ended."""

    run: RunFolder
    outcome: Outcome


def start(sweep_file: Path, root: Path, *, name: str | None, options: Options, means: Means) -> Ended:
    """Start the sweep in a folder of its own under `root` and drive it.

    Raises `InputError` for a faulty sweep, and for a folder that holds an unfinished or another run.
    """
    given = {"budget": options.budget, "seed": options.seed}
    sweep = load_sweep(sweep_file, {key: value for key, value in given.items() if value is not None})
    run = RunFolder(root / checked_name(name or sweep.name or default_name(sweep_file)))
    deadlines = _instants(options, means.clock)
    if run.exists():
        _refuse_or_pass(run, sweep)
        means.teller.say(_finished_text(run))
        return Ended(run, "finished")
    if run.path.exists() and (not run.path.is_dir() or any(run.path.iterdir())):
        raise InputError(f"{run.path} exists and is no run of ours; choose another --name")
    files.make_folder(run.path)
    with locked(run.lock, now=_local(means.clock)):
        if run.exists():
            raise InputError(f"{run.path} was started by somebody else a moment ago")
        frozen = recorded(sweep.model_copy(update={"name": run.name}), started=_local(means.clock))
        files.write_atomically(run.sweep_file, frozen_toml(frozen).encode())
        return _drive(run, frozen, options=options, instants=deadlines, means=means)


def resume(run: RunFolder, *, options: Options, means: Means) -> Ended:
    """Go on with a run where it stopped.

    Raises `InputError` if its frozen sweep was changed, or if the budget is smaller than before.
    """
    deadlines = _instants(options, means.clock)
    sweep = frozen_sweep(run)
    if options.budget is not None:
        sweep = _with_budget(sweep, options.budget)
    if read_state(run).phase == "finished" and read_state(run).trials >= sweep.search.budget:
        means.teller.say(_finished_text(run))
        return Ended(run, "finished")
    with locked(run.lock, now=_local(means.clock)):
        if options.budget is not None:
            files.write_atomically(run.sweep_file, frozen_toml(sweep).encode())
        return _drive(run, sweep, options=options, instants=deadlines, means=means)


def frozen_sweep(run: RunFolder) -> Sweep:
    """Return the sweep that a run belongs to; raises `InputError` if its file was changed."""
    sweep = load_sweep(run.sweep_file)
    if sweep.run is None:
        raise InputError(f"{run.path} holds a sweep that was not started: type boilerfront start {run.path}")
    if sweep.run.sweep_hash != sweep_hash(sweep):
        raise InputError(
            f"{run.sweep_file} no longer has the hash of its start: it was edited, or this version "
            "of boilerfront has other keys. Start the edited sweep as another run."
        )
    return sweep


def _with_budget(sweep: Sweep, budget: int) -> Sweep:
    if budget < sweep.search.budget:
        found = f"{budget} after {sweep.search.budget}"
        raise InputError([Fault("--budget", found, "no smaller than before: what is computed stays")])
    return sweep.model_copy(update={"search": sweep.search.model_copy(update={"budget": budget})})


def _refuse_or_pass(run: RunFolder, sweep: Sweep) -> None:
    """Pass for the same sweep, finished; raise `InputError` otherwise."""
    there = load_sweep(run.sweep_file)
    if sweep_hash(there) != sweep_hash(sweep):
        changed = "\n".join(
            f"  {each.where}: {each.allowed} there, {each.found} here" for each in differences(sweep, there)
        )
        raise InputError(
            f"{run.path} is the run of another sweep; what differs:\n{changed}\n"
            f"Start this one under another name: --name {run.name}-2"
        )
    state = read_state(run)
    if state.phase != "finished" or state.trials < sweep.search.budget:
        more = f" --budget {sweep.search.budget}" if sweep.search.budget > there.search.budget else ""
        raise InputError(f"{run.path} has this sweep, unfinished; type: boilerfront resume {run.path}{more}")


def _finished_text(run: RunFolder) -> str:
    state = read_state(run)
    return f"{run.path} is finished: {state.trials:,} designs, {state.front:,} on the front"


# Driving


@dataclass(frozen=True)
class _Instants:
    at: float | None
    until: float | None


def _instants(options: Options, clock: Clock) -> _Instants:
    now = clock.now()
    at = None if options.at is None else next_instant(options.at, after=now, option="--at")
    until = None if options.until is None else next_instant(options.until, after=at or now, option="--until")
    return _Instants(at, until)


def _drive(run: RunFolder, sweep: Sweep, *, options: Options, instants: _Instants, means: Means) -> Ended:
    schema = ledger_schema(columns(sweep.variables)[1:], provenance(run, sweep))
    reports: Reports = queue.SimpleQueue()
    with interruptible(reports), threadpool_limits(1):
        shell = Shell(run, sweep, schema, means=means)
        _tell_beginning(shell, sweep, instants)
        _wait(shell, sweep, instants, reports)
        shell.story("preparing the model; compiled once for each version, this may take a minute")
        means.prepare(sweep.brief(), one_of_each(sweep.variables))
        work = Work(means.evaluate, sweep.brief())
        with means.open_workers(options.where, work, reports) as workers:
            _tell_workers(shell, sweep, workers)
            return Ended(run, shell.run(workers, reports, deadline=instants.until))


def provenance(run: RunFolder, sweep: Sweep) -> Provenance:
    """Return where a run's tables come from."""
    count = sweep.tolerances.samples
    nearly_all = f"q{100 * sweep.tolerances.share:g} of the samples"
    return Provenance(
        run=run.name,
        sweep_hash=sweep_hash(sweep),
        statistic=nearly_all if count else "nominal",
        samples=max(1, count),
        sites=(sweep.site.name,),
        currency=sweep.prices.currency,
        versions=sweep.run.versions if sweep.run else versions(),
    )


def _tell_beginning(shell: Shell, sweep: Sweep, instants: _Instants) -> None:
    done = len(shell.plan.done)
    budget = sweep.search.budget
    shell.story(
        f"{shell.run_folder.path}: {budget:,} designs to evaluate"
        + (f", {done:,} of them are there already" if done else "")
    )
    if instants.until is not None:
        shell.story(f"stops at {local_text(instants.until)}")
    record = sweep.run
    if record is None:
        return
    now = versions()
    changed = [
        f"{name} {was}, now {now.get(name)}" for name, was in record.versions.items() if now.get(name) != was
    ]
    if record.cpu != cpu_type():
        changed.append(f"CPU {record.cpu}, now {cpu_type()}")
    if changed:
        shell.story("figures may differ in their last digits, the run was started with " + "; ".join(changed))


def _tell_workers(shell: Shell, sweep: Sweep, workers: WorkerPool) -> None:
    count = workers.count
    shell.story(f"{count} worker{'s' if count != 1 else ''}")
    if workers.dashboard:
        shell.story(f"dask's page, which every user of this machine can read: {workers.dashboard}")
    last = shell.plan.last_generation
    size = len(Generations(sweep.search.generation).trials(last))
    if count > size:
        shell.story(
            f"{count} workers, {size} designs a generation: {count - size} idle; "
            f"set generation = {4 * count} in [search]"
        )


def _wait(shell: Shell, sweep: Sweep, instants: _Instants, reports: Reports) -> None:
    """Wait for the evening; a signal meanwhile stays on the queue and ends the session at its start."""
    if instants.at is None:
        return
    shell.story(f"waiting until {local_text(instants.at)}")
    write_state(
        shell.run_folder,
        replace(State(), phase="waiting", trials=len(shell.plan.done), budget=sweep.search.budget),
    )
    while (left := instants.at - shell.clock.now()) > 0 and reports.empty():
        shell.clock.sleep(min(left, 1.0))


def _local(clock: Clock) -> datetime:
    return datetime.fromtimestamp(clock.now()).astimezone()
