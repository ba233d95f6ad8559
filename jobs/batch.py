"""Job scripts for workers on a batch system: printed, never submitted.

    python -m boilerfront.jobs.batch slurm tls://node:8786 --tls keys --walltime 12:00:00 > worker.sh

Each job of the script is one single-threaded worker that joins the scheduler at that address, and may come late or
leave early. What the systems want written on top of a script is dask-jobqueue's to know (extra `batch`).
"""

from __future__ import annotations

import argparse
import shlex
import sys
from importlib import import_module
from pathlib import Path

from boilerfront.jobs.cluster import TLS_FILES, tls_faults
from boilerfront.jobs.equipment import single_threaded

SYSTEMS = {
    "slurm": "SLURMJob",
    "pbs": "PBSJob",
    "lsf": "LSFJob",
    "sge": "SGEJob",
    "moab": "MoabJob",
}
"""Batch systems and their kind of job in dask-jobqueue."""
OWN_NAME = '"$(hostname)-$$"'
"""A worker's name is its machine and process: a scheduler takes each name once."""


def job_script(system: str, scheduler: str, *, tls: Path, walltime: str, memory: str) -> str:
    """Return the script of a job with one worker; raises `ModuleNotFoundError` without dask-jobqueue."""
    kind = getattr(import_module(f"dask_jobqueue.{system}"), SYSTEMS[system])
    words = ("--tls-ca-file", "--tls-cert", "--tls-key")
    files = [shlex.quote(str((tls / name).resolve())) for name in TLS_FILES]
    job = kind(
        scheduler=scheduler,
        name=OWN_NAME,
        cores=1,
        processes=1,
        memory=memory,
        walltime=walltime,
        protocol="tls://",
        worker_extra_args=[word for pair in zip(words, files, strict=True) for word in pair],
        job_script_prologue=[f"export {name}={value}" for name, value in single_threaded().items()],
    )
    return str(job.job_script())


def main(arguments: list[str] | None = None) -> int:
    """Print the script; return 2 where keys or dask-jobqueue are missing."""
    parser = argparse.ArgumentParser(prog="python -m boilerfront.jobs.batch", description=__doc__)
    parser.add_argument("system", choices=sorted(SYSTEMS))
    parser.add_argument("scheduler", metavar="ADDRESS", help="the scheduler's, as in --cluster")
    parser.add_argument("--tls", type=Path, required=True, metavar="DIR", help="ca.pem, cert.pem, key.pem")
    parser.add_argument("--walltime", default="12:00:00", help="how long a worker may run (12:00:00)")
    parser.add_argument("--memory", default="3GiB", help="of a worker (3GiB)")
    given = parser.parse_args(arguments)
    faults = tls_faults(given.tls)
    if faults:
        print(faults, file=sys.stderr)
        return 2
    try:
        script = job_script(
            given.system, given.scheduler, tls=given.tls, walltime=given.walltime, memory=given.memory
        )
    except ModuleNotFoundError as error:
        print(f"{error}; python -m pip install 'boilerfront[batch]' brings it", file=sys.stderr)
        return 2
    print(script, end="")
    return 0


if __name__ == "__main__":
    sys.exit(main())
