"""Everything that takes longer than a table: as jobs for a few processes, with progress."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from multiprocessing import get_context
from typing import Any

from boilerfront.model import ARCHITECTURES
from tests.validate.checks import Check
from tests.validate.conservation import conservation_group, keep, weigh
from tests.validate.published.groups import PUBLISHED, checks_of
from tests.validate.segments import COUNTS, cut, segment_group
from tests.validate.steps import refine, step_group
from tests.validate.stiff import compare, exceptions, stiff_group
from tests.validate.store import Store

STEP_DESIGNS = 2
CHUNK = 100
WEIGHED_PER_COMPARED = 5
REPORT_S = 15.0

Key = tuple[str, ...]


@dataclass(frozen=True)
class Size:
    """How much is proven: designs of each architecture in the stiff solver, and rated for their balances."""

    compared: int
    rated: int

    @property
    def weighed(self) -> int:
        """Return the runs of each architecture whose water is added up."""
        return WEIGHED_PER_COMPARED * self.compared


@dataclass(frozen=True)
class Job:
    """A call that a process makes; jobs of one `kind` give one group of the table."""

    kind: str
    call: Callable[..., Any]
    arguments: tuple[Any, ...]

    def run(self) -> Any:
        """Make the call."""
        return self.call(*self.arguments)


def jobs_of(size: Size) -> list[Job]:
    """Return all jobs, the longest first."""
    jobs = [Job("segments", cut, (count,)) for count in reversed(COUNTS)]
    for name in ARCHITECTURES:
        jobs += [Job("steps", refine, (name, index)) for index in range(STEP_DESIGNS)]
        jobs += [
            Job("kept", keep, (name, first, min(CHUNK, size.rated - first)))
            for first in range(0, size.rated, CHUNK)
        ]
    jobs += [Job("published", checks_of, (name,)) for name in PUBLISHED]
    # design by design through all architectures: a cut proof has seen as much of each
    jobs += [
        Job("compared", compare, (name, index)) for index in range(size.compared) for name in ARCHITECTURES
    ]
    jobs += [Job("weighed", weigh, (name, index)) for index in range(size.weighed) for name in ARCHITECTURES]
    return jobs


def run_all(jobs: Sequence[Job], workers: int, store: Store) -> dict[str, dict[tuple[Any, ...], Any]]:
    """Return the results by kind and arguments, in the order of `jobs`; what the store holds is not run again."""
    known = store.load()
    done: dict[Job, Any] = {
        job: known[job.arguments] for job in jobs if job.kind == "compared" and job.arguments in known
    }
    if done:
        print(f"{len(done)} comparisons taken from {store.path}", file=sys.stderr)
    left = [job for job in jobs if job not in done]
    progress = Progress(len(left))
    for job, result in _results(left, workers):
        done[job] = result
        if job.kind == "compared":
            store.add([result])
        progress.note()
    results: dict[str, dict[tuple[Any, ...], Any]] = {}
    for job in jobs:
        results.setdefault(job.kind, {})[job.arguments] = done[job]
    return results


def _results(jobs: Sequence[Job], workers: int) -> Iterator[tuple[Job, Any]]:
    """Run jobs as they come; one of each kind and architecture first, here: it compiles, and others find the code."""
    first = [job for job in jobs if job.kind in ("steps", "compared") and job.arguments[-1] == 0]
    for job in first:
        yield job, job.run()
    rest = [job for job in jobs if job not in first]
    if workers == 1:
        yield from ((job, job.run()) for job in rest)
        return
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        futures = {pool.submit(job.run): job for job in rest}
        try:
            for future in as_completed(futures):
                yield futures[future], future.result()
        finally:  # a job that fails is said at once, not after all others
            pool.shutdown(cancel_futures=True)


class Progress:
    """Says on standard error how far it is."""

    def __init__(self, total: int) -> None:
        self.total = total
        self.count = 0
        self.began = self.said = time.monotonic()

    def note(self) -> None:
        """Count one more."""
        self.count += 1
        now = time.monotonic()
        if now - self.said >= REPORT_S:
            self.said = now
            print(f"{self.count} of {self.total} pieces of work, {now - self.began:.0f} s", file=sys.stderr)


def checks_and_exceptions(size: Size, workers: int, store: Store) -> tuple[list[Check], list[str]]:
    """Return all rows of the table, and a line for each design in which the solvers disagree."""
    results = run_all(jobs_of(size), workers, store)
    checks: list[Check] = [check for part in results["published"].values() for check in part]
    cuts = {arguments[0]: found for arguments, found in results["segments"].items()}
    compared = list(results.get("compared", {}).values())
    for group in (
        step_group(list(results["steps"].values())),
        segment_group(cuts),
        stiff_group(compared),
        conservation_group(results.get("kept", {}).values(), results.get("weighed", {}).values()),
    ):
        checks += group.checks
    return checks, exceptions(compared)
