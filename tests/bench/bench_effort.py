"""What a design costs to evaluate, by architecture and machines in its batch, and to plan.

    python -m tests.bench.bench_effort

The constants of `boilerfront.jobs.effort` are from here. Processor time of one core, so that what else runs on
the machine counts little.
"""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import optuna
from rich.console import Console
from rich.table import Table

from boilerfront.jobs.plan import Generations
from boilerfront.jobs.ranges import ChoiceList, architectures, search_space
from boilerfront.jobs.study import StudyWindow
from boilerfront.jobs.sweep import Sweep, load_sweep
from boilerfront.model import evaluate_many
from boilerfront.model.glossary import MARGINS, OBJECTIVES

STARTER = Path("jobs/starters/compact-230v")
MACHINES = (0, 1, 8, 32)
DESIGNS, TASK = 48, 24
PLANNED = (480, 2016, 4896)


def evaluation_table(sweep: Sweep) -> Table:
    """Return milliseconds a design for each architecture and number of machines."""
    table = Table(title="Evaluation: processor time of a design in ms, by machines in its batch")
    for head in ("architecture", *map(str, MACHINES)):
        table.add_column(head, justify="left" if head == "architecture" else "right")
    for kind in architectures(sweep.variables):
        spent = [_evaluation_ms(_of_kind(sweep, kind, machines)) for machines in MACHINES]
        table.add_row(kind, *(f"{each:.1f}" for each in spent))
    return table


def planning_table(sweep: Sweep) -> Table:
    """Return milliseconds a design of sampler and study together, by how many were asked before."""
    table = Table(
        title="Planning: processor time of a design in ms, invented figures in place of the model's"
    )
    for head in ("share with a surrogate", *(f"to {count:,}" for count in PLANNED)):
        table.add_column(head, justify="right")
    _planning_ms(sweep, 1.0, counts=PLANNED[:1])  # compiles
    for share in (1.0, 0.5, 0.0):
        table.add_row(f"{share:g}", *(f"{each:.2f}" for each in _planning_ms(sweep, share)))
    return table


def _of_kind(sweep: Sweep, kind: str, machines: int) -> Sweep:
    return sweep.model_copy(
        update={
            "variables": {**sweep.variables, "architecture": ChoiceList(choices=(kind,))},
            "tolerances": sweep.tolerances.model_copy(update={"samples": machines}),
        }
    )


def _evaluation_ms(sweep: Sweep) -> float:
    designs = list(StudyWindow(sweep).plan(range(DESIGNS), {}).values())
    evaluate_many(designs[:TASK], sweep.brief())  # compiles
    began = time.process_time()
    for start in range(0, DESIGNS, TASK):
        evaluate_many(designs[start : start + TASK], sweep.brief())
    return (time.process_time() - began) / DESIGNS * 1e3


def _planning_ms(sweep: Sweep, share: float, counts: tuple[int, ...] = PLANNED) -> list[float]:
    space = search_space(sweep.variables)
    rng = np.random.default_rng(0)
    optima, slopes = rng.random((len(OBJECTIVES), len(space))), rng.normal(size=(len(space), len(MARGINS)))
    window = StudyWindow(
        sweep.model_copy(update={"search": sweep.search.model_copy(update={"surrogate": share})})
    )
    generations = Generations()
    result: list[float] = []
    spent, before, asked, generation = 0.0, 0, 0, 0
    while asked < counts[-1]:
        trials = generations.trials(generation)
        generation += 1
        began = time.process_time()
        designs = window.plan(trials, {})
        spent += time.process_time() - began
        genomes = space.encode(list(designs.values()))
        objectives = ((genomes[:, None, :] - optima) ** 2).sum(axis=2) + 0.3 * np.sin(7 * genomes @ optima.T)
        margins = 0.3 * (0.6 - genomes) @ slopes + 0.3
        rows = [
            {"trial": trial, **dict(zip(OBJECTIVES, f, strict=True)), **dict(zip(MARGINS, g, strict=True))}
            | {name: design.get(name) for name in space.names}
            for (trial, design), f, g in zip(
                designs.items(), objectives.tolist(), margins.tolist(), strict=True
            )
        ]
        began = time.process_time()
        window.tell(rows)
        spent += time.process_time() - began
        asked = trials.stop
        if asked in counts:
            result.append(spent / (asked - before) * 1e3)
            spent, before = 0.0, asked
    return result


def main() -> None:
    """Print both tables."""
    optuna.logging.set_verbosity(optuna.logging.ERROR)
    sweep = load_sweep(STARTER)
    console = Console(width=120)
    console.print(planning_table(sweep))
    console.print(evaluation_table(sweep))


if __name__ == "__main__":
    main()
