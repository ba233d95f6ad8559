"""Drives the invented model on a real local cluster, as a process of its own: python -m tests.jobs.drive_toy.

Arguments: start SWEEP ROOT or resume RUN, then the number of workers.
"""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from boilerfront.jobs.cluster import Where
from boilerfront.jobs.launch import Means, Options, resume, start
from boilerfront.jobs.work import Design, Row
from boilerfront.model.brief import Brief
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared.errors import BoilerfrontError
from tests.jobs.fakes import prepare_nothing, toy

SECONDS_A_DESIGN = 0.02
CRASHING = "BOILERFRONT_TEST_CRASH"
COUNT_FILE = "BOILERFRONT_TEST_COUNT"
"""Names a file that grows by one byte for each design that is evaluated."""


def slow_toy(designs: Sequence[Design], brief: Brief) -> list[Row]:
    """Return the toy's rows after a while; where asked for, big boilers crash the worker."""
    if count_file := os.environ.get(COUNT_FILE):
        with open(count_file, "ab") as stream:
            stream.write(b"." * len(designs))
    time.sleep(SECONDS_A_DESIGN * len(designs))
    if os.environ.get(CRASHING) and any(float(each["brew_volume_mL"] or 0) > 700 for each in designs):
        os.kill(os.getpid(), signal.SIGSEGV)
    return toy(designs, brief)


def main() -> int:
    verb, first, *rest = sys.argv[1:]
    options = Options(Where(workers=int(rest[-1])))
    means = Means(evaluate=slow_toy, prepare=prepare_nothing)
    try:
        if verb == "start":
            start(Path(first), Path(rest[0]), name="toy", options=options, means=means)
        else:
            resume(RunFolder(Path(first)), options=options, means=means)
    except BoilerfrontError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    return 0


if __name__ == "__main__":
    sys.exit(main())
