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

from distributed.security import Security

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
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "scheduler.json"
        words = ("--host", "127.0.0.1", "--port", str(port), "--scheduler-file", str(file))
        with _process("distributed.cli.dask_scheduler", *words) as scheduler:
            wait_for(lambda: file.is_file() and file.read_text().rstrip().endswith("}"))
            address = json.loads(file.read_text())["address"]
            with worker_elsewhere(address, more):
                yield scheduler, address


@contextlib.contextmanager
def worker_elsewhere(
    address: str, more: Mapping[str, str] | None = None, *, keys: Security | None = None
) -> Iterator[subprocess.Popen[bytes]]:
    """Give a worker of a scheduler, a process of its own; `more` is environment, `keys` are its own ones."""
    with tempfile.TemporaryDirectory() as folder:
        words: list[str] = []
        for place, text in (keys.get_tls_config_for_role("worker") if keys else {}).items():
            if place != "ciphers":
                file = Path(folder) / place
                file.write_text(str(text), encoding="utf-8")
                words += [f"--tls-{place.replace('_', '-')}", str(file)]
        with _process("distributed.cli.dask_worker", address, "--no-nanny", *words, more=more) as worker:
            yield worker


@contextlib.contextmanager
def _process(
    module: str, *words: str, more: Mapping[str, str] | None = None
) -> Iterator[subprocess.Popen[bytes]]:
    command = [sys.executable, "-m", module, *words, "--no-dashboard"]
    environment = {**os.environ, **(more or {})}
    process = subprocess.Popen(
        command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        yield process
    finally:
        process.kill()
        process.wait(timeout=10)
