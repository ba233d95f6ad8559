"""How much of the model's speed a sweep keeps: one and two workers beside the bare model in as many processes."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from rich.table import Table

from boilerfront.jobs.plan import EARLY_SIZE, EARLY_TRIALS, Generations, by_kind, cut
from boilerfront.jobs.sweep import load_sweep
from boilerfront.model import VARIABLES, evaluate_many
from boilerfront.model.brief import Brief
from boilerfront.results import open_run
from boilerfront.results.front import read_convergence
from boilerfront.results.run_folder import RunFolder

BUDGET = 2400
WORKERS = (1, 2)
TURNS = 2
SWEEP = Path("jobs/starters/compact-230v/sweep.toml")
SPANS = ((0, EARLY_TRIALS), (EARLY_TRIALS, BUDGET))
"""Designs that are planned from all before them, and those of a night: planned while the generation before runs."""


def sweep_report() -> Table:
    """Run the same short sweep with one and two workers, then its tasks in as many processes and nothing else."""
    table = Table(title=f"Sweep of {BUDGET} robust evaluations (wall time from generation to generation)")
    for head in ("what", "designs", "designs/s", "ratio to one", "share of the bare model"):
        table.add_column(head, justify="left" if head == "what" else "right")
    with tempfile.TemporaryDirectory() as folder:
        rates, bare = {}, {}
        for workers in WORKERS:
            # What is compared takes turns: the machine's pace changes by the minute.
            turns = []
            for turn in range(TURNS):
                run = Path(folder) / f"bench-{workers}-{turn}"
                turns.append((_rates(run, workers), _bare_rates(run, workers)))
            rates[workers], bare[workers] = (_together(measured) for measured in zip(*turns, strict=True))
    for k, (first, last) in enumerate(SPANS):
        designs = f"{first} to {last}"
        for workers in WORKERS:
            own, ratio = bare[workers][k], bare[workers][k] / bare[1][k]
            table.add_row(f"bare model, {workers} process(es)", designs, f"{own:.1f}", f"{ratio:.2f}", "")
        for workers in WORKERS:
            rate, ratio = rates[workers][k], rates[workers][k] / rates[1][k]
            share = rate / bare[workers][k]
            table.add_row(f"{workers} worker(s)", designs, f"{rate:.1f}", f"{ratio:.2f}", f"{share:.2f}")
    table.caption = (
        "what is missing to 1.00: planning of generations and studies in the driver, which shares the cores "
        "with the workers, and in the first span the last task of each generation that the others wait for"
    )
    return table


def _together(turns: Sequence[Sequence[float]]) -> list[float]:
    """Return the rate of each span over all turns: as many designs in each, so their times add up."""
    return [len(span) / sum(1.0 / rate for rate in span) for span in zip(*turns, strict=True)]


def _rates(run: Path, workers: int) -> list[float]:
    command = [sys.executable, "-m", "boilerfront.jobs.cli", "start", str(SWEEP), "--name", run.name]
    options = ["--workers", str(workers), "--budget", str(BUDGET), "--runs", str(run.parent), "--quiet"]
    subprocess.run([*command, *options], check=True, capture_output=True)
    rows = read_convergence(RunFolder(run).convergence).to_pylist()
    return [_rate([row for row in rows if first <= row["trials"] <= last]) for first, last in SPANS]


def _rate(rows: Sequence[Mapping[str, Any]]) -> float:
    return float((rows[-1]["trials"] - rows[0]["trials"]) / (rows[-1]["seconds"] - rows[0]["seconds"]))


def _bare_rates(run: Path, processes: int) -> list[float]:
    """Return designs a second of each span: the run's own tasks, each process takes the next when it is done."""
    brief = load_sweep(SWEEP).brief()
    trials = open_run(run).trials().sort_values("trial")
    names = [name for name in VARIABLES if name in trials.columns]
    rows = trials[names].astype(object).where(trials[names].notna(), None).to_dict("records")
    designs = [{str(name): value for name, value in row.items()} for row in rows]
    sizes, rates = Generations(), []
    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        # Imports and the loading of the kernels are not timed; each task is long enough for every process to get one.
        evaluated = partial(_evaluated, brief)
        list(pool.map(evaluated, [designs[:EARLY_SIZE]] * 2 * processes))
        for first, last in SPANS:
            tasks = [
                [designs[k] for k in task]
                for generation in range(sizes.generation_of(first), sizes.generation_of(last - 1) + 1)
                for task in cut(
                    by_kind(sizes.trials(generation), lambda k: designs[k]["architecture"]), workers=processes
                )
            ]
            began = time.perf_counter()
            assert sum(pool.map(evaluated, tasks)) == last - first
            rates.append((last - first) / (time.perf_counter() - began))
    return rates


def _evaluated(brief: Brief, designs: Sequence[Mapping[str, Any]]) -> int:
    return len(evaluate_many(designs, brief))
