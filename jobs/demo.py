"""The demo: a real sweep of the compact starter, resumed if it was cut, shown when it is finished."""

from __future__ import annotations

import os
import shutil
import sys
import textwrap
from pathlib import Path

from boilerfront.jobs.drafting import starter_folder
from boilerfront.jobs.launch import Ended, Means, Options, resume, start
from boilerfront.results.cautions import SHORT_CAUTION
from boilerfront.results.query import answer
from boilerfront.results.question import Question
from boilerfront.results.run_folder import RunFolder, runs_root
from boilerfront.results.show import as_text
from boilerfront.shared.errors import BoilerfrontError

STARTER = "compact-230v"
NAME = "demo"
BUDGET = 2_400
"""Designs: about three minutes on two cores."""
ROWS = 25


def main() -> int:
    """Run the demo and return its exit code."""
    try:
        ended = _run()
    except BoilerfrontError as error:
        print(error, file=sys.stderr)
        if error.exit_code == 3:
            print("to go on: make demo", file=sys.stderr)
        return error.exit_code
    if ended.outcome != "finished":
        print("to go on: make demo")
        return 0
    _show(ended.run)
    return 0


def _run() -> Ended:
    root = runs_root()
    run = RunFolder(root / NAME)
    if run.exists():
        return resume(run, options=Options(), means=Means())
    return start(starter_folder(STARTER), root, name=NAME, options=Options(budget=BUDGET), means=Means())


def _show(run: RunFolder) -> None:
    found = answer(run, Question(limit=ROWS))
    width = shutil.get_terminal_size((110, 24)).columns
    print(f"\nThe front: {ROWS} designs at most, the steadiest shots first\n")
    print(as_text(found.table, width=width))
    for note in found.notes:
        print(note)
    print(
        f"\nfiles: {run.front} (the front), {run.trials}{os.sep} (every trial), {run.convergence}, {run.log}"
    )
    print("\n".join(textwrap.wrap(SHORT_CAUTION, 100)))
    program = Path(sys.executable).with_name("boilerfront")
    shown = os.path.relpath(program) if program.exists() else "boilerfront"
    print(f'\nnext: {shown} query {run.path} --where "shot_deviation_K < 0.5 AND warm_up_s < 600" --cheapest')


if __name__ == "__main__":
    sys.exit(main())
