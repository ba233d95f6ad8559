"""What Ctrl-C, SIGTERM and a closed terminal mean to a run."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from types import FrameType
from typing import Any

from boilerfront.jobs.reports import Interrupt, Reports
from boilerfront.shared.errors import StoppedEarlyError


@contextmanager
def interruptible(reports: Reports) -> Iterator[None]:
    """Turn the first SIGINT or SIGTERM into a report and the second into an end at once; outlive SIGHUP."""
    asked: list[int] = []

    def ask(number: int, frame: FrameType | None) -> None:
        if asked:
            # Every finished task is on the disk, the kernel frees the lock and ends the workers.
            with suppress(OSError):  # the terminal may be gone
                os.write(2, b"\nstopped at once\n")
            os._exit(StoppedEarlyError.exit_code)
        asked.append(number)
        reports.put(Interrupt(signal.Signals(number).name))

    handlers: Mapping[int, Any] = {signal.SIGINT: ask, signal.SIGTERM: ask, signal.SIGHUP: signal.SIG_IGN}
    before = {number: signal.signal(number, handler) for number, handler in handlers.items()}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
