"""Drives the invented model on a real local cluster, as a process of its own: python -m tests.jobs.drive_toy.

Arguments: start SWEEP ROOT or resume RUN, then the number of workers.
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.jobs.toy import prepare_nothing, slow_toy


def main() -> int:
    """Drive; a worker imports this file as well, and needs none of what is imported here."""
    from boilerfront.jobs.cluster import Where
    from boilerfront.jobs.launch import Means, Options, resume, start
    from boilerfront.results.run_folder import RunFolder
    from boilerfront.shared.errors import BoilerfrontError

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
