"""What follows a search that has ended: its front's proof, stage by stage, as far as the time goes."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

import pyarrow as pa

from boilerfront.jobs.clock import local_text, stamp
from boilerfront.jobs.driver import Outcome
from boilerfront.jobs.proving import Rating, Stage, finer_ratings, neighbour_ratings
from boilerfront.jobs.reports import Reports
from boilerfront.jobs.state import Phase, read_state, write_state
from boilerfront.jobs.sweep import Proof, Sweep
from boilerfront.jobs.weighing import weighs_by_ratio
from boilerfront.jobs.work import Work
from boilerfront.results.confirm import with_fresh_machines
from boilerfront.results.front import front_of, write_front
from boilerfront.results.proof import ProofTable, summary, with_status
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared import files
from boilerfront.shared.errors import StoppedEarlyError

if TYPE_CHECKING:
    from boilerfront.jobs.launch import Means, Options

_STATE_EVERY_S = 2.0

SearchSeed = Callable[[RunFolder, Sweep], Outcome]
"""Searches, or goes on to search, a run of its own to its end."""


class ProofSession:
    """The proof of one run, by the driver that holds its lock; `options.until` is an instant by now."""

    def __init__(
        self, run: RunFolder, sweep: Sweep, schema: pa.Schema, *, options: Options, means: Means
    ) -> None:
        self.run_folder = run
        self._sweep = sweep
        self._options = options
        self._means = means
        self._table = ProofTable(run.proof, schema)
        self._front = front_of(run)[0]
        self._interrupt: str | None = None
        self._wrote = float("-inf")

    def prove(self, proof: Proof, reports: Reports, search_seed: SearchSeed) -> Outcome:
        """Do what is left of the proof; return how it ended.

        Raises `StoppedEarlyError` after a signal and when disk or workers are gone.
        """
        outcome: Outcome = "finished"
        try:
            for stage in self._stages(proof, reports, search_seed) if self._front.num_rows else ():
                outcome = stage()
                self._write_front()
                if outcome != "finished":
                    break
        except StoppedEarlyError as error:
            with contextlib.suppress(files.DiskError):
                self._write_state("stopped", self._said(), why=str(error))
            raise StoppedEarlyError(
                f"{error}\nto go on: boilerfront resume {self.run_folder.path}"
            ) from error
        self._end(outcome)
        return outcome

    def _stages(
        self, proof: Proof, reports: Reports, search_seed: SearchSeed
    ) -> Iterator[Callable[[], Outcome]]:
        """Yield what is to be done, in the order of what it is worth to who must leave early."""
        brief = self._sweep.brief()
        if proof.machines:
            finer = Work(self._means.evaluate_finer, with_fresh_machines(brief, proof.machines))
            what = f"designs of the front on {proof.machines} fresh machines, with half the step"
            yield lambda: self._rate(what, finer_ratings(self._front), finer, reports)
        for number in range(1, proof.seeds + 1):
            yield partial(self._search, number, search_seed)
        if proof.neighbours:
            same = Work(self._means.evaluate, brief)
            yield lambda: self._rate(
                "neighbours of the front's designs",
                neighbour_ratings(self._front, self._sweep),
                same,
                reports,
            )

    def _rate(self, what: str, ratings: Sequence[Rating], work: Work, reports: Reports) -> Outcome:
        def show(done: int, count: int) -> None:
            self._show(f"{done:,} of {count:,} {what}")

        stage = Stage(self.run_folder, self._table, means=self._means, story=self._story, show=show)
        left = len(stage.missing(ratings))
        if not left:
            return "finished"
        self._story(f"proof: {left:,} {what}")
        until = self._options.until
        with self._means.open_workers(self._options.where, work, reports) as workers:
            outcome = stage.run(
                ratings, workers, reports, deadline=until if isinstance(until, float) else None
            )
        self._interrupt = stage.listener.interrupt
        return outcome

    def _search(self, number: int, search_seed: SearchSeed) -> Outcome:
        seed = (self._sweep.search.seed + number) % 2**32
        # a run's own record goes, and with it what it means that nothing is said of ratios
        kept = {"seed": seed, "by_ratio": weighs_by_ratio(self._sweep)}
        search = self._sweep.search.model_copy(update=kept)
        run = self._seed_run(number)
        changed = {"name": run.name, "search": search, "proof": None, "run": None}
        self._write_state("proving", f"searching with seed {seed}: boilerfront status {run.path}")
        return search_seed(run, self._sweep.model_copy(update=changed))

    def _seed_run(self, number: int) -> RunFolder:
        return RunFolder(self.run_folder.path / f"seed-{number}")

    def _write_front(self) -> None:
        """Put the front down with what is known of each design by now."""
        seeds = self._sweep.proof.seeds if self._sweep.proof else 0
        runs = [run for number in range(1, seeds + 1) if (run := self._seed_run(number)).front.exists()]
        ended = {run.name: front_of(run)[0] for run in runs if read_state(run).phase == "finished"}
        self._front = with_status(self._front, self._table.table, ended)
        write_front(self.run_folder.front, self._front)

    # How it stands

    def _show(self, text: str) -> None:
        now = self._means.clock.now()
        if now - self._wrote < _STATE_EVERY_S:
            return
        self._wrote = now
        self._write_state("proving", text)
        self._means.teller.progress(now, f"proof: {text}")

    def _end(self, outcome: Outcome) -> None:
        """Say how it ended; raises `StoppedEarlyError` after a signal."""
        said = self._said()
        if outcome == "finished":
            self._write_state("finished", said, done=True)
            self._story(f"proof finished; {said}")
            return
        until = self._options.until
        how = f"by {self._interrupt}" if self._interrupt else "as asked"
        if isinstance(until, float) and outcome == "until":
            how = f"at {local_text(until)} as asked"
        why = f"stopped {how}; the search had ended, its proof had not"
        self._write_state("stopped", said, why=why)
        self._story(f"{why}; {said}")
        if self._interrupt:
            raise StoppedEarlyError(f"to go on: boilerfront resume {self.run_folder.path}")

    def _said(self) -> str:
        return summary(self._front) or "no design of the front was looked at"

    def _write_state(self, phase: Phase, proof: str, *, why: str | None = None, done: bool = False) -> None:
        state = read_state(self.run_folder)
        updated = stamp(self._means.clock.now())
        changed = replace(state, phase=phase, proof=proof, proof_done=done, updated=updated)
        write_state(self.run_folder, changed if why is None else replace(changed, why=why))

    def _story(self, text: str) -> None:
        files.append(self.run_folder.log, f"{stamp(self._means.clock.now())}  {text}\n")
        self._means.teller.say(text)
