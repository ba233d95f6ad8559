"""All faults in turn for some minutes, and a table: `make torture`.

Exits with 1 when anything was lost, doubled or changed, and when a fault was skipped without --allow-skips.
"""

from __future__ import annotations

import argparse
import itertools
import random
import sys
import tempfile
import time
from pathlib import Path

from rich.console import Console
from rich.table import Table

from tests.torture.disk_faults import DISK_FAULTS
from tests.torture.process_faults import PROCESS_FAULTS
from tests.torture.stage import Shot, SkippedError, Stage

DISK_SHARE = 0.3
"""Part of the time that disk faults get: each takes a fraction of a second, a process fault some seconds."""


def main() -> int:
    """Torture, print, and return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.torture", description=__doc__)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--allow-skips", action="store_true")
    given = parser.parse_args()
    shots: dict[str, list[Shot]] = {}
    skipped: dict[str, str] = {}
    with tempfile.TemporaryDirectory() as folder:
        stage = Stage(Path(folder), random.Random(given.seed))
        begun = time.monotonic()
        for faults, share in ((DISK_FAULTS, DISK_SHARE), (PROCESS_FAULTS, 1.0)):
            for fault, act in itertools.cycle(faults.items()):
                if time.monotonic() - begun > 60 * given.minutes * share:
                    break
                if fault in skipped:
                    continue
                try:
                    shots.setdefault(fault, []).append(act(stage))
                except SkippedError as error:
                    skipped[fault] = str(error)
    for fault in {**DISK_FAULTS, **PROCESS_FAULTS}.keys() - shots.keys() - skipped.keys():
        skipped[fault] = "no time left for it"
    Console(width=120).print(_table(shots, skipped))
    failed = any(_is_bad(shot) for each in shots.values() for shot in each)
    return 1 if failed or (skipped and not given.allow_skips) else 0


def _is_bad(shot: Shot) -> bool:
    """Return whether a shot shows a fault of ours; fewer evaluations than trials: a harmed part was used."""
    return bool(shot.lost or shot.doubled or shot.repeats < 0 or not shot.equal)


def _table(shots: dict[str, list[Shot]], skipped: dict[str, str]) -> Table:
    table = Table(title="What was done to a run, and what it cost")
    for heading in ("fault", "times", "lost trials", "doubled trials", "repeats", "front equal", "skipped"):
        table.add_column(heading, justify="left" if heading in ("fault", "skipped") else "right")
    for fault in (*DISK_FAULTS, *PROCESS_FAULTS):
        done = shots.get(fault, [])
        sums = [sum(getattr(shot, name) for shot in done) for name in ("lost", "doubled", "repeats")]
        equal = ("yes" if all(shot.equal for shot in done) else "NO") if done else ""
        table.add_row(fault, str(len(done)), *(str(each) for each in sums), equal, skipped.get(fault, "0"))
    return table


if __name__ == "__main__":
    sys.exit(main())
