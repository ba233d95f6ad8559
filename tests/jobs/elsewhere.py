"""A scheduler with a worker that nobody of ours started, as on a cluster."""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]


def wait_for(condition: Callable[[], bool], seconds: float = 30.0) -> None:
    deadline = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < deadline, "it did not come in time"
        time.sleep(0.02)


@contextlib.contextmanager
def scheduler_elsewhere(
    port: int = 0, more: Mapping[str, str] | None = None
) -> Iterator[tuple[subprocess.Popen[bytes], str]]:
    """Give a scheduler with one worker, both processes of their own, and its address; `more` is environment."""
    command = [
        sys.executable,
        "-m",
        "distributed.cli.dask_scheduler",
        "--host",
        "127.0.0.1",
        "--no-dashboard",
    ]
    quiet: dict[str, Any] = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    quiet |= {"cwd": ROOT, "env": {**os.environ, **(more or {})}}
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "scheduler.json"
        scheduler = subprocess.Popen([*command, "--port", str(port), "--scheduler-file", str(file)], **quiet)
        wait_for(lambda: file.is_file() and file.read_text().rstrip().endswith("}"))
        address = json.loads(file.read_text())["address"]
        worker = subprocess.Popen(
            [sys.executable, "-m", "distributed.cli.dask_worker", address, "--no-dashboard", "--no-nanny"],
            **quiet,
        )
        try:
            yield scheduler, address
        finally:
            for process in (worker, scheduler):
                process.kill()
                process.wait(timeout=10)
