"""One driver per run, one writer per file of picks: an exclusive lock on a file, which says who holds it.

The lock is the kernel's (flock), so it ends with its holder, however that dies; the text in the file is for
people only. The file is never removed: else two holders could lock two files of one name.
"""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
import socket
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from boilerfront.shared import files
from boilerfront.shared.errors import InputError

# A `status` that looks at the lock holds it, shared, for an instant: a driver must not be refused for that.
PATIENCE_S = 0.5
PAUSE_S = 0.02


@dataclass(frozen=True)
class Holder:
    """Who holds a lock; `since` is an ISO time with zone."""

    pid: int
    host: str
    since: str

    def __str__(self) -> str:
        """Return the holder as a person wants to read it."""
        return f"process {self.pid} on {self.host} since {self.since}"


class HeldError(InputError):
    """Somebody else holds the lock; `holder` is None while it has not yet said who it is."""

    def __init__(self, path: Path, holder: Holder | None, *, use: str = "driven") -> None:
        self.holder = holder
        super().__init__(f"{path.parent.name} is being {use} by {holder or 'another process'}: {path}")


@contextlib.contextmanager
def locked(
    path: Path, *, now: datetime, patience_s: float = PATIENCE_S, use: str = "driven"
) -> Iterator[Holder]:
    """Hold the lock `path` inside the block; a dead holder's lock is simply taken.

    Raises `HeldError`, which says that the folder is being `use`, when a living one holds it for longer than
    `patience_s`; `DiskError` when the file cannot be written.
    """
    holder = Holder(os.getpid(), socket.gethostname(), now.isoformat(timespec="seconds"))
    try:
        descriptor = files.DISK.open(path, os.O_RDWR | os.O_CREAT)
    except OSError as error:
        raise files.DiskError(path, error) from error
    try:
        if not _taken(descriptor, patience_s):
            raise HeldError(path, _recorded(path), use=use)
        _record(path, descriptor, holder)
        yield holder
    finally:
        files.DISK.close(descriptor)


def holder_of(path: Path) -> Holder | None:
    """Return who holds the lock `path` now, or None; the recorded one only while it is really held."""
    try:
        descriptor = os.open(path, os.O_RDONLY)
    except FileNotFoundError:
        return None
    try:
        fcntl.flock(descriptor, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return _recorded(path) or Holder(0, "unknown", "unknown")
    finally:
        os.close(descriptor)
    return None


def _taken(descriptor: int, patience_s: float) -> bool:
    deadline = time.monotonic() + patience_s
    while True:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() > deadline:
                return False
            time.sleep(PAUSE_S)
        else:
            return True


def _record(path: Path, descriptor: int, holder: Holder) -> None:
    try:
        files.DISK.truncate(descriptor)
        files.DISK.write(descriptor, json.dumps(asdict(holder)).encode() + b"\n")
        files.DISK.flush(descriptor)
    except OSError as error:
        raise files.DiskError(path, error) from error


def _recorded(path: Path) -> Holder | None:
    try:
        return Holder(**json.loads(path.read_bytes()))
    except (OSError, ValueError, TypeError):
        return None
