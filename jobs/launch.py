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
from boilerfront.jobs.means import SessionMeans, WorkerPool
from boilerfront.jobs.plan import Generations, Plan
from boilerfront.jobs.ranges import one_of_each
from boilerfront.jobs.reports import Reports
from boilerfront.jobs.shell import Shell
from boilerfront.jobs.signals import interruptible
from boilerfront.jobs.state import State, read_state, write_state
from boilerfront.jobs.stopping import forget_asking
from boilerfront.jobs.sweep import Sweep, checked_name, default_name, load_sweep
from boilerfront.jobs.tables import provenance, sweep_schema
from boilerfront.jobs.work import Design, Evaluator, Work, compile_model, model_evaluator
from boilerfront.model.brief import Brief
from boilerfront.results.ledger import read_ledger
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared import files
from boilerfront.shared.errors import Fault, InputError, StoppedEarlyError
from boilerfront.shared.lock import locked

OpenWorkers = Callable[[Where, Work, Reports], AbstractContextManager[WorkerPool]]


@dataclass(frozen=True)
class Options:
    """How a session is driven; nothing here changes what the run computes, but for budget and seed.

    `at` and `until` are local times as HH:MM, or instants [s since the epoch] that they were fixed to.
    """

    where: Where = field(default_factory=Where)
    at: str | float | None = None
    until: str | float | None = None
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
    run, sweep = checked(sweep_file, root, name=name, options=options)
    options = with_instants(options, means.clock)
    if run.exists():
        means.teller.say(_finished_text(run))
        return Ended(run, "finished")
    files.make_folder(run.path)
    with locked(run.lock, now=_local(means.clock)):
        if run.exists():
            raise InputError(f"{run.path} was started by somebody else a moment ago")
        frozen = recorded(sweep.model_copy(update={"name": run.name}), started=_local(means.clock))
        files.write_atomically(run.sweep_file, frozen_toml(frozen).encode())
        return _drive(run, frozen, options=options, means=means)


def checked(sweep_file: Path, root: Path, *, name: str | None, options: Options) -> tuple[RunFolder, Sweep]:
    """Return the run that `start` would drive and its sweep; if the run exists, it is finished.

    Raises `InputError` for whatever `start` refuses; nothing is touched.
    """
    given = {"budget": options.budget, "seed": options.seed}
    sweep = load_sweep(sweep_file, {key: value for key, value in given.items() if value is not None})
    run = RunFolder(root / checked_name(name or sweep.name or default_name(sweep_file)))
    if run.exists():
        _refuse_or_pass(run, sweep)
    elif _holds_something_else(run):
        raise InputError(f"{run.path} exists and is no run of ours; choose another --name")
    return run, sweep


def with_instants(options: Options, clock: Clock) -> Options:
    """Return options whose times are fixed to the next such instants; raises `InputError` if one is none."""
    at, until = options.at, options.until
    if isinstance(at, str):
        at = next_instant(at, after=clock.now(), option="--at")
    if isinstance(until, str):
        until = next_instant(until, after=at or clock.now(), option="--until")
    return replace(options, at=at, until=until)


def resume(run: RunFolder, *, options: Options, means: Means) -> Ended:
    """Go on with a run where it stopped.

    Raises `InputError` if its frozen sweep was changed, or if the budget is smaller than before.
    """
    options = with_instants(options, means.clock)
    sweep = frozen_sweep(run)
    if options.budget is not None:
        sweep = _with_budget(sweep, options.budget)
    if _is_finished(run, sweep):
        means.teller.say(_finished_text(run))
        return Ended(run, "finished")
    with locked(run.lock, now=_local(means.clock)):
        if options.budget is not None:
            files.write_atomically(run.sweep_file, frozen_toml(sweep).encode())
        return _drive(run, sweep, options=options, means=means)


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
    if not _is_finished(run, sweep):
        more = f" --budget {sweep.search.budget}" if sweep.search.budget > there.search.budget else ""
        raise InputError(f"{run.path} has this sweep, unfinished; type: boilerfront resume {run.path}{more}")


def _is_finished(run: RunFolder, sweep: Sweep) -> bool:
    """Return whether a run ended and nothing that the budget wants is missing from its ledger."""
    if read_state(run).phase != "finished":
        return False
    table = read_ledger(run.trials, sweep_hash=sweep_hash(sweep)).table
    done = frozenset(table["trial"].to_pylist()) if table.num_rows else frozenset()
    return Plan(Generations(sweep.search.generation), sweep.search.budget, done).finished


def _holds_something_else(run: RunFolder) -> bool:
    """Return whether there is more at a run's path than what a start leaves that is cut at once."""
    ours = {run.lock.name, run.sweep_file.name + files.TEMPORARY_SUFFIX}
    if run.path.is_dir():
        return any(path.name not in ours for path in run.path.iterdir())
    return run.path.exists()


def _finished_text(run: RunFolder) -> str:
    state = read_state(run)
    return f"{run.path} is finished: {state.trials:,} designs, {state.front:,} on the front"


# Driving


def _drive(run: RunFolder, sweep: Sweep, *, options: Options, means: Means) -> Ended:
    """Drive a run that is locked; its options' times are instants."""
    forget_asking(run)
    schema = sweep_schema(sweep, provenance(run, sweep))
    reports: Reports = queue.SimpleQueue()
    with interruptible(reports), threadpool_limits(1):
        shell = Shell(run, sweep, schema, means=means)
        try:
            return Ended(run, _session(shell, sweep, reports, options=options, means=means))
        except StoppedEarlyError as error:
            if shell.has_ended:
                raise
            shell.note_failure(error)
            raise StoppedEarlyError(f"{error}\nto go on: boilerfront resume {run.path}") from error


def _session(shell: Shell, sweep: Sweep, reports: Reports, *, options: Options, means: Means) -> Outcome:
    until = options.until if isinstance(options.until, float) else None
    _tell_beginning(shell, sweep, until)
    _wait(shell, sweep, options.at, reports)
    if not shell.is_asked_to_stop(reports):
        shell.story("preparing the model; compiled once for each version, this may take a minute")
        means.prepare(sweep.brief(), one_of_each(sweep.variables))
    if shell.is_asked_to_stop(reports):
        return shell.end_before_work(reports)
    with means.open_workers(options.where, Work(means.evaluate, sweep.brief()), reports) as workers:
        _tell_workers(shell, sweep, workers)
        return shell.run(workers, reports, deadline=until)


def _tell_beginning(shell: Shell, sweep: Sweep, until: float | None) -> None:
    done = len(shell.plan.done)
    budget = sweep.search.budget
    shell.story(
        f"{shell.run_folder.path}: {budget:,} designs to evaluate"
        + (f", {done:,} of them are there already" if done else "")
    )
    if until is not None:
        shell.story(f"stops at {local_text(until)}")
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


def _wait(shell: Shell, sweep: Sweep, at: str | float | None, reports: Reports) -> None:
    """Wait for the evening, or for somebody who asks to stop."""
    if not isinstance(at, float) or at <= shell.clock.now():
        return
    shell.story(f"waiting until {local_text(at)}")
    write_state(
        shell.run_folder,
        replace(State(), phase="waiting", trials=len(shell.plan.done), budget=sweep.search.budget),
    )
    while (left := at - shell.clock.now()) > 0 and not shell.is_asked_to_stop(reports):
        shell.clock.sleep(min(left, 1.0))


def _local(clock: Clock) -> datetime:
    return datetime.fromtimestamp(clock.now()).astimezone()
