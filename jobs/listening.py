"""What a driver hears: reports of its workers, signals, a word left in its folder, time going by, as events."""

from __future__ import annotations

import queue
import time
from collections.abc import Callable

from boilerfront.jobs.driver import Event, StopAsked, Task, TaskDone, TaskLost, Tick, WorkersChanged
from boilerfront.jobs.means import SessionMeans, WorkerPool
from boilerfront.jobs.reports import Broken, Finished, Interrupt, Lost, Refused, Reports
from boilerfront.jobs.stopping import is_asked_to_stop
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared.errors import BoilerfrontError, StoppedEarlyError

_NO_WORKERS_FOR_S = 300.0


class TaskError(BoilerfrontError):
    """A task raised where it should have given a row: our own fault."""


class Listener:
    """The events of one session, from a queue and from what is looked at now and then."""

    def __init__(self, run: RunFolder, means: SessionMeans, story: Callable[[str], None]) -> None:
        self._run = run
        self._clock = means.clock
        self._tick_s = means.tick_s
        self._story = story
        self._look_at = 0.0
        self._workers_seen = self._clock.now()
        self._count = 0
        self._stop_seen = False
        self.interrupt: str | None = None
        """The signal that asked to stop."""

    def is_asked_to_stop(self, reports: Reports) -> bool:
        """Return whether a signal or `stop` came before there were workers."""
        return not reports.empty() or self._is_word_left()

    @property
    def was_asked(self) -> bool:
        """Return whether a signal or `stop` was heard."""
        return self.interrupt is not None or self._stop_seen

    def hear_interrupt(self, reports: Reports) -> None:
        """Take a signal that came before there were workers."""
        if not reports.empty() and isinstance(report := reports.get(), Interrupt):
            self.interrupt = report.name

    def next_event(self, reports: Reports, workers: WorkerPool) -> Event:
        """Wait for the next event.

        Raises `StoppedEarlyError` when the workers are gone, `TaskError` when one of them raised.
        """
        # Looked at by the machine's own pace, however busy reports keep us.
        left = self._look_at - time.monotonic()
        try:
            report = reports.get(timeout=left) if left > 0 else None
        except queue.Empty:
            report = None
        if report is None:
            self._look_at = time.monotonic() + self._tick_s
            return self._look(workers)
        now = self._clock.now()
        match report:
            case Finished(task, rows):
                return TaskDone(now, task, rows)
            case Lost(task, cause):
                self._story(
                    f"a worker died ({cause or 'killed from outside'}); once more: {range_text(task)}"
                )
                return TaskLost(now, task, cause)
            case Refused(why):
                self._story(why)
                return Tick(now)
            case Interrupt(name):
                self.interrupt = name
                self._story(f"{name}: finishing what runs, then stopping; once more stops at once")
                return StopAsked(at_once=True)
            case Broken(task, error):
                raise TaskError(f"{range_text(task)}: {type(error).__name__}: {error}") from error

    def _look(self, workers: WorkerPool) -> Event:
        workers.check()
        now = self._clock.now()
        count = workers.count
        if count:
            self._workers_seen = now
        elif now - self._workers_seen > _NO_WORKERS_FOR_S:
            raise StoppedEarlyError(f"no worker has been there for {_NO_WORKERS_FOR_S:.0f} s")
        if not self._stop_seen and self._is_word_left():
            self._stop_seen = True
            self._story("asked to stop: bringing the running generation to its end")
            return StopAsked(at_once=False)
        if count and count != self._count:
            self._count = count
            return WorkersChanged(count)
        return Tick(now)

    def _is_word_left(self) -> bool:
        """Return whether somebody asked this run to stop, or the run in whose folder it lies."""
        above = RunFolder(self._run.path.parent)
        return is_asked_to_stop(self._run) or (above.exists() and is_asked_to_stop(above))


def range_text(task: Task) -> str:
    """Return which designs a task has."""
    first, last = task.trials[0], task.trials[-1]
    return f"design {first}" if first == last else f"designs {first} to {last}"
