"""Carries the driver's instructions out: asks the study, sends tasks, writes the ledger, says how it goes.

Finished tasks are on the disk before anything is planned from them, and as soon as no other is coming in: what
ends the driver costs the designs in flight, and at most those that came back in the last moment.
"""

from __future__ import annotations

import contextlib
from collections import deque
from dataclasses import replace

import pyarrow as pa

from boilerfront.jobs.clock import local_text, stamp
from boilerfront.jobs.driver import (
    Begin,
    CloseGeneration,
    Driver,
    Event,
    Finish,
    Instruction,
    NoBetter,
    Outcome,
    PlanGeneration,
    Planned,
    Store,
    StoreFault,
    Submit,
    Task,
)
from boilerfront.jobs.growth import Growth
from boilerfront.jobs.known import Known
from boilerfront.jobs.listening import Listener
from boilerfront.jobs.means import SessionMeans, WorkerPool
from boilerfront.jobs.plan import Plan, by_kind, generations_of
from boilerfront.jobs.progress import Meter, duration, words
from boilerfront.jobs.reports import Reports
from boilerfront.jobs.sampler_cache import SamplerCache
from boilerfront.jobs.state import Phase, State, read_state, write_state
from boilerfront.jobs.stop_rule import StopRule
from boilerfront.jobs.study import StudyWindow, outcome_columns
from boilerfront.jobs.sweep import Sweep
from boilerfront.jobs.warm import TAKEN_GENERATION, guiding
from boilerfront.jobs.work import Design, Row, fault_row
from boilerfront.results.front import feasible_count, front_table, write_front
from boilerfront.results.ledger import Ledger, each_trial_once, part_names
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared import files
from boilerfront.shared.errors import InputError, StoppedEarlyError

_FRONT_EVERY_S = 60.0
TASKS_A_WRITE = 32
_FRONT_DESIGNS = 5_000
"""Designs on the front from which on it is written more seldom, as it takes longer."""
_COMPACT_EVERY = 640
"""Generations: by default about as many rows as a compacted part holds."""
_STATE_EVERY_S = 2.0
_LOG_EVERY_S = 300.0
_REPLAY_S_A_TRIAL = 5e-4


class Shell:
    """One session of a run, from its workers being there until nothing is left to do."""

    def __init__(self, run: RunFolder, sweep: Sweep, schema: pa.Schema, *, means: SessionMeans) -> None:
        self.run_folder = run
        self.clock = means.clock
        self.teller = means.teller
        self._listener = Listener(run, means, self.story)
        self._schema = schema
        self._sweep = sweep
        self._generations = generations_of(sweep)
        self._stop_rule = StopRule(sweep.stop)
        self._ledger = Ledger(run.trials, schema)
        loaded = self._ledger.load()
        for message in loaded.messages:
            self.story(message)
        self._known = Known(loaded.table, outcome_columns(sweep))
        self._with_open_files = {name.first for name in part_names(run.trials) if name.kind == "open"}
        taken = self._taken()
        self._study = StudyWindow(sweep, taken=self._known.told(guiding(taken)).values())
        self._designs: dict[int, Design] = {}
        self._live: dict[int, list[Row]] = {}
        self._growth = Growth(run, loaded.table)
        self._pending: deque[Event] = deque()
        self._stored = 0
        self._unwritten: dict[int, list[Row]] = {}
        self._unwritten_tasks = 0
        self._parts = 0  # since they were compacted last
        self._meter = Meter()
        self._seconds_before = read_state(run).seconds
        self._began = self.clock.now()
        self._wrote: dict[str, float] = {}
        self.has_ended = False
        self._workers: WorkerPool | None = None
        self._deadline: float | None = None
        if taken.num_rows:
            self._growth.take_in(TAKEN_GENERATION, taken, seconds=self._seconds_before, fresh=False)
        self._cache = SamplerCache(run, sweep)
        self._rebuilding_since: float | None = None
        self._begin = self._take_up()
        self._known.keep_from(self._generations.trials(self._begin).start)

    # The session

    @property
    def plan(self) -> Plan:
        """Return what was to do when the run was opened."""
        own = self._known.trials - frozenset(range(self._generations.first))
        return Plan(self._generations, self._sweep.search.budget, own)

    def run(self, workers: WorkerPool, reports: Reports, *, deadline: float | None = None) -> Outcome:
        """Drive the run until it is finished or stopped, and return how it ended.

        Raises `StoppedEarlyError` after a signal and when disk or workers are gone.
        """
        self._workers, self._deadline = workers, deadline
        driver = Driver(
            self.plan,
            lag=self._sweep.search.lag,
            ahead_from=self._generations.ahead_from,
            deadline=deadline,
            begin=self._begin,
        )
        # From here on: the model was compiled and workers were started since the session began.
        self._meter.note_trials(self.clock.now(), self._trials_done)
        self._pending.appendleft(Begin(self.clock.now(), max(1, workers.count)))
        while True:
            event = self._pending.popleft() if self._pending else self._listener.next_event(reports, workers)
            for instruction in driver.handle(event):
                if isinstance(instruction, Finish):
                    return self._end(instruction.outcome)
                self._carry_out(instruction)
            if self._is_time_to_write(reports):
                self._write_tasks()
            self._show()

    def is_asked_to_stop(self, reports: Reports) -> bool:
        """Return whether a signal or `stop` came before there were workers."""
        return self._listener.is_asked_to_stop(reports)

    @property
    def was_asked_to_stop(self) -> bool:
        """Return whether somebody asked while there were workers."""
        return self._listener.was_asked

    def end_before_work(self, reports: Reports) -> Outcome:
        """End a session that was asked to stop before there were workers; raises as `run` does."""
        self._listener.hear_interrupt(reports)
        return self._end("stopped")

    def note_failure(self, error: StoppedEarlyError) -> None:
        """Leave word of what ended the session early, as far as the disk lets us; its workers are gone."""
        self._workers = None
        with contextlib.suppress(files.DiskError):
            self._log(str(error))
            write_state(self.run_folder, replace(self._state, phase="stopped", why=str(error)))

    def story(self, text: str) -> None:
        """Write a line of the run's log, and say it."""
        self._log(text)
        self.teller.say(text)

    def _taken(self) -> pa.Table:
        """Return the rows that the run began with; raises `InputError` where some are lost."""
        first = self._generations.first
        taken = self._known.slice(range(first))
        if taken.num_rows < first:
            record = self._sweep.run
            raise InputError(
                f"{first - taken.num_rows:,} of the {first:,} trials taken from {record and record.taken_from} "
                f"are lost in {self.run_folder.trials}, and cannot be evaluated again here; start another run"
            )
        return taken

    def _take_up(self) -> int:
        """Go on from the sampler's cache if there is one; return the first generation to look at."""
        cached, messages = self._cache.newest(lambda planned: self._is_whole_before(self._closed_at(planned)))
        for message in messages:
            self.story(message)
        own = len(self._known.trials) - self._generations.first
        if cached is None:
            if self._generations.generation_of(self._generations.first + own) >= self._cache.every:
                about = duration(own * _REPLAY_S_A_TRIAL)
                self.story(f"no cache of the search: rebuilding it from {own:,} trials, about {about}")
                self._rebuilding_since = self.clock.now()
            return 0
        begin = self._closed_at(cached.generation)
        self._study.restore(cached.state)
        first = self._generations.trials(begin).start
        self._growth.take_in_recorded(self._known.slice(range(self._generations.first, first)), begin=begin)
        for generation, volume in self._growth.recorded(begin) or ():
            if generation >= 0 and self._stop_rule.note(generation, volume):
                self._pending.append(NoBetter(generation))
        self.story(f"the search goes on from its cache at generation {cached.generation:,}")
        return begin

    def _closed_at(self, generation: int) -> int:
        """Return how many generations have closed when this one is planned."""
        is_ahead = generation >= self._generations.ahead_from
        return generation - (self._sweep.search.lag if is_ahead else 0)

    def _is_whole_before(self, generation: int) -> bool:
        """Return whether ledger and record hold all generations before one."""
        if generation < 0 or self._growth.recorded(generation) is None:
            return False
        wanted = range(self._generations.trials(generation).start)
        return int(self._known.slice(wanted).num_rows) == len(wanted)

    # Instructions

    def _plan(self, instruction: PlanGeneration) -> Planned:
        """Ask for a generation."""
        generation = instruction.generation
        trials = self._generations.trials(generation)
        if generation % self._cache.every == 0 and generation > self._begin + 1:
            self._growth.write()
            self._cache.write(generation, self._study.sampler.state())
        if instruction.missing and self._rebuilding_since is not None:
            seconds = self.clock.now() - self._rebuilding_since
            self.story(f"the search was rebuilt in {duration(seconds)}")
            self._rebuilding_since = None
        self._designs.update(self._study.plan(trials, self._known.rows(trials)))
        kinds = by_kind(instruction.missing, lambda trial: self._designs[trial]["architecture"])
        return Planned(generation, kinds)

    def _carry_out(self, instruction: Instruction) -> None:
        match instruction:
            case Submit(task):
                assert self._workers is not None
                self._workers.submit(task, [self._designs[trial] for trial in task.trials])
            case Store(task, rows):
                self._store(task, [dict(row) for row in rows])
            case StoreFault(task, cause):
                trial = task.trials[0]
                self.story(f"design {trial} ended its worker three times running: {cause}; kept as faulty")
                self._store(task, [fault_row(trial, self._designs[trial], f"worker ended: {cause}")])
            case CloseGeneration(generation, tell):
                self._close(generation, tell)
            case PlanGeneration():
                self._pending.append(self._plan(instruction))
            case Finish():
                raise AssertionError("handled in the loop")

    def _store(self, task: Task, rows: list[Row]) -> None:
        self._unwritten.setdefault(task.generation, []).extend(rows)
        self._unwritten_tasks += 1
        self._live.setdefault(task.generation, []).extend(rows)
        self._stored += len(rows)
        for trial in task.trials:
            self._designs.pop(trial, None)

    def _is_time_to_write(self, reports: Reports) -> bool:
        """Return whether finished tasks go to the disk now: together with those that came in meanwhile.

        With hundreds of workers a flush of the disk for each task would be all that the driver does.
        """
        return reports.empty() or self._unwritten_tasks >= TASKS_A_WRITE

    def _write_tasks(self) -> None:
        """Put what came back on the disk. Raises `DiskError`."""
        for generation, rows in self._unwritten.items():
            self._ledger.write_task(generation, min(row["trial"] for row in rows), rows)
        self._unwritten.clear()
        self._unwritten_tasks = 0

    def _close(self, generation: int, tell: bool) -> None:
        self._write_tasks()
        trials = self._generations.trials(generation)
        live = self._live.pop(generation, [])
        if tell:
            self._study.tell([*self._known.rows(trials).values(), *live])
        closed = self._schema.empty_table()
        if live or generation in self._with_open_files:
            closed = self._ledger.close_generation(generation)
            self._parts += 1
        if self._parts >= _COMPACT_EVERY:
            self._ledger.compact()
            self._parts = 0
        self._designs = {trial: d for trial, d in self._designs.items() if trial not in trials or not tell}
        rows = each_trial_once([self._known.slice(trials), closed], self._schema)
        self._take_in(generation, rows, is_fresh=bool(live))

    def _take_in(self, generation: int, rows: pa.Table, *, is_fresh: bool) -> None:
        """Let the front grow by a generation; write how it stands."""
        now = self.clock.now()
        volume = self._growth.take_in(generation, rows, seconds=self._seconds(now), fresh=is_fresh)
        if self._stop_rule.note(generation, volume):
            self._pending.append(NoBetter(generation))
        if not is_fresh:
            return
        self._meter.note_volume(now, volume)
        if self._due("front", now, _FRONT_EVERY_S * max(1.0, self._growth.size / _FRONT_DESIGNS)):
            write_front(self.run_folder.front, self._growth.front)

    # How it stands

    @property
    def _trials_done(self) -> int:
        return len(self._known.trials) - self._generations.first + self._stored

    @property
    def _state(self) -> State:
        growth, over = self._meter.growth
        rate = self._meter.rate_per_s
        left = self._sweep.search.budget - self._trials_done
        now = self.clock.now()
        return State(
            phase="running",
            trials=self._trials_done,
            budget=self._sweep.search.budget,
            feasible=self._growth.feasible,
            front=self._growth.size,
            generation=self._generations.generation_of(self._last_trial),
            rate_per_s=rate,
            time_left_s=left / rate if rate else None,
            growth=growth,
            growth_over_s=over,
            seconds=self._seconds(now),
            workers=self._workers.count if self._workers else 0,
            updated=stamp(now),
            until=local_text(self._deadline) if self._deadline else None,
            dashboard=self._workers.dashboard if self._workers else None,
        )

    @property
    def _last_trial(self) -> int:
        return self._generations.first + max(0, self._trials_done - 1)

    def _seconds(self, now: float) -> float:
        return self._seconds_before + now - self._began

    def _show(self) -> None:
        now = self.clock.now()
        self._meter.note_trials(now, self._trials_done)
        if self._due("state", now, _STATE_EVERY_S):
            state = self._state
            write_state(self.run_folder, state)
            self.teller.progress(now, words(state))
            if self._due("log", now, _LOG_EVERY_S):
                self._log(words(state))

    def _log(self, text: str) -> None:
        files.append(self.run_folder.log, f"{stamp(self.clock.now())}  {text}\n")

    def _due(self, what: str, now: float, every_s: float) -> bool:
        if now - self._wrote.get(what, float("-inf")) < every_s:
            return False
        self._wrote[what] = now
        return True

    def _end(self, outcome: Outcome) -> Outcome:
        """Write front and state, and say how it ended."""
        self._write_tasks()
        self._growth.write()
        self._growth.forget_known()
        self._known.keep_from(self._generations.first + self._sweep.search.budget)
        everything = self._whole_ledger(outcome)
        front = front_table(everything)
        write_front(self.run_folder.front, front)
        is_finished = outcome in ("finished", "no_better")
        if is_finished:
            self._ledger.compact()
        why = self._why(outcome, front.num_rows)
        ended_by = "signal" if self._listener.interrupt and not is_finished else outcome
        phase: Phase = "finished" if is_finished else "stopped"
        feasible = feasible_count(everything)
        state = replace(
            self._state, phase=phase, why=why, ended_by=ended_by, feasible=feasible, front=front.num_rows
        )
        write_state(self.run_folder, state)
        self.story(why)
        self.has_ended = True
        if self._listener.interrupt and not is_finished:
            raise StoppedEarlyError(f"to go on: boilerfront resume {self.run_folder.path}")
        return "finished" if is_finished else outcome

    def _whole_ledger(self, outcome: Outcome) -> pa.Table:
        """Read the ledger once more, every byte; what was lost since it was opened is said.

        Raises `StoppedEarlyError` if a finished run lacks trials for it.
        """
        loaded = self._ledger.load()
        for message in loaded.messages:
            self.story(message)
        lost = self._generations.first + self._trials_done - loaded.table.num_rows
        if outcome in ("finished", "no_better") and lost > 0:
            raise StoppedEarlyError(
                f"{lost} trials of {self.run_folder.trials} were lost while the run went on"
            )
        return loaded.table

    def _why(self, outcome: Outcome, front: int) -> str:
        done, budget = self._trials_done, self._sweep.search.budget
        if outcome == "finished":
            return f"finished; {done:,} of {budget:,} designs, the whole budget, {front:,} on the front"
        if outcome == "no_better":
            return (
                f"finished by its stop rule, {self._stop_rule.words}: "
                f"{done:,} of {budget:,} designs, {front:,} on the front"
            )
        if outcome == "until" and self._deadline is not None:
            return f"stopped at {local_text(self._deadline)} as asked, {done:,} of {budget:,}"
        by = f"by {self._listener.interrupt}" if self._listener.interrupt else "as asked"
        return f"stopped {by}, {done:,} of {budget:,}"
