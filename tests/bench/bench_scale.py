"""A million trials through the real driver, ledger and sampler, with a model that costs nothing.

    python -m tests.bench.bench_scale --trials 1000000 [--folder DIR]

Prints time a trial along the run, the driver's memory, the ledger's parts, and how long `query`, `status` and
`resume` take on it, with the sampler's cache and without. By hand: it takes minutes to an hour.
"""

from __future__ import annotations

import argparse
import math
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from boilerfront.jobs.clock import MachineClock
from boilerfront.jobs.launch import Options, resume, start
from boilerfront.jobs.state import read_state
from boilerfront.jobs.work import Design, Row
from boilerfront.model.brief import Brief
from boilerfront.model.glossary import OBJECTIVES
from boilerfront.results.ledger import part_names
from boilerfront.results.run_folder import RunFolder
from tests.jobs.fakes import Bench
from tests.jobs.toy import SWEEP, toy

MARKS = 10
STATUS = (sys.executable, "-m", "boilerfront.jobs.cli", "status")


def cheap(designs: Sequence[Design], brief: Brief) -> list[Row]:
    """Return the toy's rows, most of them off the front as in a real sweep: a bowl is laid over its trade-offs."""
    return [_off_the_front(design, row) for design, row in zip(designs, toy(designs, brief), strict=True)]


def _off_the_front(design: Design, row: Row) -> Row:
    if "part_cost" not in row:
        return row
    insulation, volume = float(design["insulation_mm"] or 0), float(design["brew_volume_mL"] or 0)
    off = 1.0 + 2.0 * (insulation / 20 - 0.5) ** 2 + 0.5 * math.sin(volume / 3.0) ** 2
    return {**row, **{name: row[name] * off for name in OBJECTIVES}}


@dataclass
class Course:
    """Processor seconds and memory at every so many designs."""

    run: RunFolder
    every: int
    designs: int = 0
    marks: list[tuple[int, float, float, float]] = field(default_factory=list)

    def evaluate(self, designs: Sequence[Design], brief: Brief) -> list[Row]:
        rows = cheap(designs, brief)
        before, self.designs = self.designs, self.designs + len(designs)
        if not before or before // self.every != self.designs // self.every:
            self.marks.append((self.designs, time.process_time(), time.perf_counter(), memory_MiB()))
            print_mark(self.marks)
        return rows


def memory_MiB() -> float:
    """Return the most memory that this process had so far; unlike getrusage it forgets who started it."""
    lines = Path("/proc/self/status").read_text(encoding="utf-8").splitlines()
    return float(next(line.split()[1] for line in lines if line.startswith("VmHWM"))) / 1024


def print_mark(marks: Sequence[tuple[int, float, float, float]]) -> None:
    designs, cpu, wall, mib = marks[-1]
    if len(marks) == 1:
        print("designs     ms a design: processor, wall     peak memory")
        return
    before = marks[-2]
    count = designs - before[0]
    a_design = 1e3 * (cpu - before[1]) / count, 1e3 * (wall - before[2]) / count
    print(f"{designs:9,}   {a_design[0]:18.3f}, {a_design[1]:.3f}   {mib:10.0f} MiB", flush=True)


def said(command: Sequence[str]) -> str:
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def timed(command: Sequence[str]) -> float:
    began = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True)
    return time.perf_counter() - began


def asked(run: RunFolder) -> None:
    """Ask one question as a process of its own, and once more in it after everything is loaded."""
    code = (
        "import sys, time; from pathlib import Path\n"
        "from boilerfront.results.ledger import read_ledger\n"
        "from boilerfront.results.query import answer_from\n"
        "from boilerfront.results.question import Question\n"
        "began = time.perf_counter(); table = read_ledger(Path(sys.argv[1])).table\n"
        "loaded = time.perf_counter()\n"
        "question = Question(where='shot_deviation_K < 0.5 AND warm_up_s < 600', all=True, cheapest=True)\n"
        "answer_from(table, question); first = time.perf_counter()\n"
        "answer_from(table, question); again = time.perf_counter()\n"
        "print(f'query: {loaded - began:.2f} s to load {table.num_rows:,} trials, then {first - loaded:.2f} s, '\n"
        "      f'again {again - first:.2f} s')\n"
    )
    print(said([sys.executable, "-c", code, str(run.trials)]), end="")


def taken_up(run: RunFolder, budget: int, name: str) -> None:
    """Resume for one more generation, as a process of its own, and say how long it took to its first design."""
    module = "tests.bench.bench_scale"
    words = [sys.executable, "-m", module, "--resume", str(run.path), "--trials", str(budget)]
    print(f"resume {name}: {said(words)}", end="")


def only_resume(run: RunFolder, budget: int) -> None:
    began = time.perf_counter()
    first: list[float] = []

    def evaluate(designs: Sequence[Design], brief: Brief) -> list[Row]:
        if not first:
            first.append(time.perf_counter() - began)
        return cheap(designs, brief)

    resume(run, options=Options(budget=budget), means=Bench(evaluate=evaluate, clock=MachineClock()).means())
    seconds = time.perf_counter() - began
    print(f"{first[0]:.1f} s to its first design, {seconds:.1f} s in all, {memory_MiB():.0f} MiB")


def drive(folder: Path, trials: int) -> None:
    sweep = folder / "scale.toml"
    text = SWEEP.replace("budget = 60", f"budget = {trials}").replace("generation = 10", "generation = 0")
    sweep.write_text(text, encoding="utf-8")
    run = RunFolder(folder / "runs" / "scale")
    course = Course(run, max(1, trials // MARKS))
    means = Bench(evaluate=course.evaluate, clock=MachineClock()).means()
    start(sweep, run.path.parent, name="scale", options=Options(), means=means)
    front, parts = read_state(run).front, len(part_names(run.trials))
    print(f"driver: peak {memory_MiB():.0f} MiB; front {front:,}; {parts} parts")
    print(f"status: {timed([*STATUS, str(run.path)]):.2f} s as a command")
    asked(run)
    taken_up(run, trials + 96, "with its cache")
    for path in run.path.glob("sampler-*.npz"):
        path.unlink()
    taken_up(run, trials + 192, "without")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trials", type=int, default=1_000_000)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--resume", type=Path)
    given = parser.parse_args()
    if given.resume:
        only_resume(RunFolder(given.resume), given.trials)
    elif given.folder:
        drive(given.folder, given.trials)
    else:
        with tempfile.TemporaryDirectory() as folder:
            drive(Path(folder), given.trials)


if __name__ == "__main__":
    main()
