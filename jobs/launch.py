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
from boilerfront.jobs.plan import Plan, generations_of
from boilerfront.jobs.proof_session import ProofSession
from boilerfront.jobs.ranges import one_of_each
from boilerfront.jobs.reports import Reports
from boilerfront.jobs.shell import Shell
from boilerfront.jobs.signals import interruptible
from boilerfront.jobs.state import State, read_state, write_state
from boilerfront.jobs.stopping import forget_asking
from boilerfront.jobs.sweep import Sweep, checked_name, default_name, load_sweep
from boilerfront.jobs.tables import provenance, sweep_schema
from boilerfront.jobs.warm import Taken, taken_trials
from boilerfront.jobs.work import (
    Design,
    Evaluator,
    Work,
    compile_model,
    finer_evaluator,
    model_evaluator,
)
from boilerfront.model.brief import Brief
from boilerfront.results.ledger import Ledger, read_ledger
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
    warm_from: RunFolder | None = None
    """An earlier run, whose trials the new one begins with."""


@dataclass(frozen=True)
class Means(SessionMeans):
    """All that a session leans on, so that tests can put other things in their place."""

    evaluate: Evaluator = model_evaluator
    evaluate_finer: Evaluator = finer_evaluator
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
        sweep = sweep.model_copy(update={"name": run.name})
        frozen = _begun(run, sweep, warm_from=options.warm_from, means=means)
        return _drive(run, frozen, options=options, means=means)


def checked(sweep_file: Path, root: Path, *, name: str | None, options: Options) -> tuple[RunFolder, Sweep]:
    """Return the run that `start` would drive and its sweep; if the run exists, it is finished.

    Raises `InputError` for whatever `start` refuses; nothing is touched.
    """
    given = {"budget": options.budget, "seed": options.seed}
    sweep = load_sweep(sweep_file, {key: value for key, value in given.items() if value is not None})
    run = RunFolder(root / checked_name(name or sweep.name or default_name(sweep_file)))
    if run.exists():
        _refuse_or_pass(run, sweep, warm_from=options.warm_from)
    elif _holds_something_else(run):
        raise InputError(f"{run.path} exists and is no run of ours; choose another --name")
    elif options.warm_from is not None:
        _taken(run, sweep, options.warm_from)
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
        _bring_in_taken(run)
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


def _begun(run: RunFolder, sweep: Sweep, *, warm_from: RunFolder | None, means: Means) -> Sweep:
    """Return the frozen sweep of a new run, whose folder begins with it and with the trials taken.

    These are made ready under another name, so that a crash leaves either no run or a whole one.
    """
    now = _local(means.clock)
    if warm_from is None:
        frozen = recorded(sweep, started=now)
        files.write_atomically(run.sweep_file, frozen_toml(frozen).encode())
        return frozen
    taken = _taken(run, sweep, warm_from)
    ready = _ready(run)
    if ready.is_dir():
        files.remove(*ready.iterdir())
    Ledger(ready, taken.table.schema).write_closed(taken.table)
    frozen = recorded(sweep, started=now, taken_from=str(warm_from.path), taken=taken.table.num_rows)
    files.write_atomically(run.sweep_file, frozen_toml(frozen).encode())
    _bring_in_taken(run)
    for message in taken.messages:
        files.append(run.log, f"{now.isoformat(timespec='seconds')}  {message}\n")
        means.teller.say(message)
    return frozen


def _taken(run: RunFolder, sweep: Sweep, source: RunFolder) -> Taken:
    """Return what a new run begins with; raises `InputError` where an earlier one has nothing for it."""
    return taken_trials(source, frozen_sweep(source), sweep, sweep_schema(sweep, provenance(run, sweep)))


def _ready(run: RunFolder) -> Path:
    return run.trials.with_name(run.trials.name + files.TEMPORARY_SUFFIX)


def _bring_in_taken(run: RunFolder) -> None:
    """Give the trials that were made ready their place; a start that was cut may not have come so far."""
    if _ready(run).is_dir() and not run.trials.exists():
        files.move(_ready(run), run.trials)


def _with_budget(sweep: Sweep, budget: int) -> Sweep:
    if budget < sweep.search.budget:
        found = f"{budget} after {sweep.search.budget}"
        raise InputError([Fault("--budget", found, "no smaller than before: what is computed stays")])
    return sweep.model_copy(update={"search": sweep.search.model_copy(update={"budget": budget})})


def _refuse_or_pass(run: RunFolder, sweep: Sweep, *, warm_from: RunFolder | None) -> None:
    """Pass for the same sweep, finished; raise `InputError` otherwise."""
    there = load_sweep(run.sweep_file)
    began_with = there.run.taken_from if there.run else None
    if warm_from is not None and str(warm_from.path) != began_with:
        found = f"{run.path}, which began with {began_with or 'no earlier trials'}"
        raise InputError([Fault("--from", found, f"a new run: --name {run.name}-2")])
    if sweep_hash(there) != sweep_hash(sweep):
        changed = "\n".join(
            f"  {each.where}: {each.allowed} there, {each.found} here" for each in differences(sweep, there)
        )
        raise InputError(
            f"{run.path} is the run of another sweep; what differs:\n{changed}\n"
            f"Start this one under another name: --name {run.name}-2"
        )
    wanted = there.search.model_copy(update={"budget": sweep.search.budget})
    if not _is_finished(run, there.model_copy(update={"search": wanted})):
        more = f" --budget {sweep.search.budget}" if sweep.search.budget > there.search.budget else ""
        raise InputError(f"{run.path} has this sweep, unfinished; type: boilerfront resume {run.path}{more}")


def _is_finished(run: RunFolder, sweep: Sweep) -> bool:
    """Return whether a run ended, by its stop rule or with nothing missing that the budget wants."""
    state = read_state(run)
    if state.phase != "finished" or (sweep.proof is not None and not state.proof_done):
        return False
    if state.ended_by == "no_better" and sweep.stop is not None:
        return True
    if state.trials < sweep.search.budget:
        return False  # a ledger of a million trials takes its time to read
    table = read_ledger(run.trials, sweep_hash=sweep_hash(sweep)).table
    done = frozenset(table["trial"].to_pylist()) if table.num_rows else frozenset()
    return Plan(generations_of(sweep), sweep.search.budget, done).finished


def _holds_something_else(run: RunFolder) -> bool:
    """Return whether there is more at a run's path than what a start leaves that is cut at once."""
    ours = {run.lock.name, run.sweep_file.name + files.TEMPORARY_SUFFIX, _ready(run).name}
    if run.path.is_dir():
        return any(path.name not in ours for path in run.path.iterdir())
    return run.path.exists()


def _finished_text(run: RunFolder) -> str:
    state = read_state(run)
    text = f"{run.path} is finished: {state.trials:,} designs, {state.front:,} on the front"
    if state.ended_by == "no_better":
        text += f"; {state.why}. To go on nevertheless take [stop] out of {run.sweep_file} and resume"
    return f"{text}; proof: {state.proof}" if state.proof else text


# Driving


def _drive(run: RunFolder, sweep: Sweep, *, options: Options, means: Means) -> Ended:
    """Drive a run that is locked; its options' times are instants."""
    forget_asking(run)
    schema = sweep_schema(sweep, provenance(run, sweep))
    reports: Reports = queue.SimpleQueue()
    with interruptible(reports), threadpool_limits(1):
        shell = Shell(run, sweep, schema, means=means)
        try:
            outcome = _session(shell, sweep, reports, options=options, means=means)
        except StoppedEarlyError as error:
            if shell.has_ended:
                raise
            shell.note_failure(error)
            raise StoppedEarlyError(f"{error}\nto go on: boilerfront resume {run.path}") from error
        if outcome == "finished" and sweep.proof is not None and shell.was_asked_to_stop:
            shell.story(f"asked to stop: the proof waits for boilerfront resume {run.path}")
        elif outcome == "finished" and sweep.proof is not None:
            session = ProofSession(run, sweep, schema, options=options, means=means)
            outcome = session.prove(
                sweep.proof, reports, lambda other, own: _other_seed(other, own, options=options, means=means)
            )
        return Ended(run, outcome)


def _other_seed(run: RunFolder, sweep: Sweep, *, options: Options, means: Means) -> Outcome:
    """Search with another seed, or go on to, in a run in the folder of the first."""
    files.make_folder(run.path)
    with locked(run.lock, now=_local(means.clock)):
        if not run.exists():
            frozen = _begun(run, sweep, warm_from=None, means=means)
        else:
            frozen = _with_budget(frozen_sweep(run), sweep.search.budget)
        if _is_finished(run, frozen):
            return "finished"
        return _drive(run, frozen, options=replace(options, at=None), means=means).outcome


def _session(shell: Shell, sweep: Sweep, reports: Reports, *, options: Options, means: Means) -> Outcome:
    until = options.until if isinstance(options.until, float) else None
    _tell_beginning(shell, sweep, until)
    _wait(shell, sweep, options.at, reports)
    if not shell.is_asked_to_stop(reports):
        shell.story(
            "preparing the model; compiled once for each version, this may take a minute "
            "(Ctrl-C is heeded after it, a second one at once)"
        )
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
    size = len(shell.plan.generations.trials(last))
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
