"""All faults in turn for some minutes, each at least once, and a table: `make torture`.

Exits with 1 when anything was lost, doubled or changed, and when a fault never met a running run.
"""

from __future__ import annotations

import argparse
import itertools
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from rich.console import Console
from rich.table import Table

from boilerfront.shared.errors import BoilerfrontError
from tests.torture.disk_faults import DISK_FAULTS
from tests.torture.process_faults import PROCESS_FAULTS
from tests.torture.stage import LeftOverError, MissedError, Shot, Stage

DISK_SHARE = 0.3
"""Part of the time that disk faults get: each takes a fraction of a second, a process fault some seconds."""
MOST_MISSES = 10
"""A fault that came too late so many times is not tried again."""


@dataclass
class Tally:
    """What came of one fault: its shots, how often it came too late, what went wrong in words."""

    shots: list[Shot] = field(default_factory=list)
    misses: int = 0
    wrong: list[str] = field(default_factory=list)

    def take(self, act: Callable[[Stage], Shot], stage: Stage) -> None:
        """Do the fault once more."""
        try:
            self.shots.append(act(stage))
        except MissedError:
            self.misses += 1
        except LeftOverError as error:
            self.wrong.append(str(error))
        except subprocess.TimeoutExpired as error:
            self.wrong.append(f"it did not end: {error}")
        except BoilerfrontError as error:
            self.wrong.append(f"{type(error).__name__} where it should have gone on: {error}")

    @property
    def is_over(self) -> bool:
        """Return whether trying again would tell nothing new."""
        return bool(self.wrong) or self.misses >= MOST_MISSES

    @property
    def is_good(self) -> bool:
        """Return whether it was done, and nothing was lost, doubled or changed."""
        return bool(self.shots) and not self.wrong and not any(map(_is_bad, self.shots))


def main() -> int:
    """Torture, print, and return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.torture", description=__doc__)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--times", type=int, default=1, help="each fault at least so often, however long it takes"
    )
    parser.add_argument("--only", default="", help="only faults with this in their name")
    given = parser.parse_args()
    kinds = [
        {fault: act for fault, act in faults.items() if given.only in fault}
        for faults in (DISK_FAULTS, PROCESS_FAULTS)
    ]
    if not any(kinds):
        parser.error(f"--only: no fault has {given.only!r} in its name")
    for number in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, _leave)  # so that drivers, in sessions of their own, are ended as well
    tallies = {fault: Tally() for faults in kinds for fault in faults}
    with tempfile.TemporaryDirectory() as folder:
        stage = Stage(Path(folder), random.Random(given.seed))
        begun = time.monotonic()
        for faults, share in zip(kinds, (DISK_SHARE, 1.0), strict=True):
            until = begun + 60 * given.minutes * share
            for fault, act in itertools.cycle(faults.items()):
                of_kind = [tallies[each] for each in faults]
                all_done = all(len(tally.shots) >= given.times or tally.is_over for tally in of_kind)
                if all(tally.is_over for tally in of_kind) or (all_done and time.monotonic() > until):
                    break
                wanted = time.monotonic() <= until or len(tallies[fault].shots) < given.times
                if wanted and not tallies[fault].is_over:
                    tallies[fault].take(act, stage)
    console = Console(width=120)
    console.print(_table(tallies))
    for fault, tally in tallies.items():
        for text in tally.wrong:
            console.print(f"{fault}: {text}", markup=False)
    return 0 if all(tally.is_good for tally in tallies.values()) else 1


def _leave(number: int, frame: object) -> None:
    sys.exit(128 + number)


def _is_bad(shot: Shot) -> bool:
    """Return whether a shot shows a fault of ours; fewer evaluations than trials: a harmed part was used."""
    return bool(shot.lost or shot.doubled or shot.repeats < 0 or not shot.equal)


def _table(tallies: dict[str, Tally]) -> Table:
    table = Table(title="What was done to a run, and what it cost")
    headings = (
        "fault",
        "times",
        "lost trials",
        "doubled trials",
        "repeats",
        "front equal",
        "skipped",
        "too late",
    )
    for heading in headings:
        table.add_column(heading, justify="left" if heading == "fault" else "right")
    for fault, tally in tallies.items():
        sums = [sum(getattr(shot, name) for shot in tally.shots) for name in ("lost", "doubled", "repeats")]
        equal = ("yes" if all(shot.equal for shot in tally.shots) else "NO") if tally.shots else ""
        equal = "WRONG" if tally.wrong else equal
        skipped = 0 if tally.shots or tally.wrong else 1
        table.add_row(fault, str(len(tally.shots)), *map(str, sums), equal, str(skipped), str(tally.misses))
    return table


if __name__ == "__main__":
    sys.exit(main())
