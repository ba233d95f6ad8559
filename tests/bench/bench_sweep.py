"""How much of the model's speed a sweep keeps: one worker, two workers, the bare model, side by side."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from rich.table import Table

from boilerfront.jobs.sweep import load_sweep
from boilerfront.model import VARIABLES, evaluate_many
from boilerfront.results import open_run
from boilerfront.results.front import read_convergence
from boilerfront.results.run_folder import RunFolder

BUDGET = 960
SWEEP = Path("jobs/starters/compact-230v/sweep.toml")
TASK = 24
"""Designs of a task with two workers and 96 designs a generation."""


def sweep_report() -> Table:
    """Run the same short sweep with one and two workers, then its designs in this process alone."""
    table = Table(title=f"Sweep of {BUDGET} robust evaluations (wall time between first and last generation)")
    for head in ("what", "designs/s", "ratio to one worker", "share of the bare model"):
        table.add_column(head, justify="left" if head == "what" else "right")
    with tempfile.TemporaryDirectory() as folder:
        rates = {workers: _rate(Path(folder), workers) for workers in (1, 2)}
        bare = _bare_rate(Path(folder) / "bench-1")
    table.add_row("bare model, one process", f"{bare:.1f}", "", "1.00")
    for workers, rate in rates.items():
        share = rate / (bare * min(workers, os.cpu_count() or 1))
        table.add_row(f"{workers} worker(s)", f"{rate:.1f}", f"{rate / rates[1]:.2f}", f"{share:.2f}")
    table.caption = (
        "what is missing to 1.00: planning of generations and studies in the driver, which shares the cores "
        "with the workers, and the last task of each generation that the others wait for"
    )
    return table


def _rate(folder: Path, workers: int) -> float:
    name = f"bench-{workers}"
    command = [sys.executable, "-m", "boilerfront.jobs.cli", "start", str(SWEEP), "--name", name]
    options = ["--workers", str(workers), "--budget", str(BUDGET), "--runs", str(folder), "--quiet"]
    subprocess.run([*command, *options], check=True, capture_output=True)
    rows = read_convergence(RunFolder(folder / name).convergence).to_pylist()
    return float((rows[-1]["trials"] - rows[0]["trials"]) / (rows[-1]["seconds"] - rows[0]["seconds"]))


def _bare_rate(run: Path) -> float:
    brief = load_sweep(SWEEP).brief()
    trials = open_run(run).trials()
    names = [name for name in VARIABLES if name in trials.columns]
    rows = trials[names].astype(object).where(trials[names].notna(), None).to_dict("records")
    designs = [{str(name): value for name, value in row.items()} for row in rows]
    evaluate_many(designs[:TASK], brief)
    began = time.perf_counter()
    for start in range(0, len(designs), TASK):
        evaluate_many(designs[start : start + TASK], brief)
    return len(designs) / (time.perf_counter() - began)
