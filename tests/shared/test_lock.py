"""One driver per run: the second is refused and told who holds it; a dead holder's lock is taken."""

from __future__ import annotations

import errno
import os
import signal
import socket
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from boilerfront.shared import files
from boilerfront.shared.errors import InputError
from boilerfront.shared.lock import HeldError, holder_of, locked
from tests.faulty_disk import RefusingDisk

NOW = datetime(2026, 1, 2, 19, 0, tzinfo=UTC)
HOLD = """
import sys, time
from datetime import datetime, timezone
from pathlib import Path
from boilerfront.shared.lock import locked
with locked(Path(sys.argv[1]), now=datetime.now(timezone.utc)):
    print("held", flush=True)
    time.sleep(60)
"""


def test_the_second_is_refused_and_told_who(tmp_path: Path) -> None:
    path = tmp_path / "lock"
    assert holder_of(path) is None
    with locked(path, now=NOW) as holder:
        assert holder_of(path) == holder
        assert (holder.pid, holder.host) == (os.getpid(), socket.gethostname())
        with pytest.raises(HeldError, match=rf"process {os.getpid()} on .* since 2026-01-02T19:00:00"):
            locked(path, now=NOW).__enter__()
    assert holder_of(path) is None
    with locked(path, now=NOW):
        pass


def test_it_is_a_fault_of_the_input() -> None:
    assert issubclass(HeldError, InputError)
    assert HeldError.exit_code == 2


def test_a_living_process_holds_it_and_a_killed_one_does_not(tmp_path: Path) -> None:
    path = tmp_path / "lock"
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(path)], stdout=subprocess.PIPE, text=True
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "held\n"
        held = holder_of(path)
        assert held is not None
        assert held.pid == other.pid
        with pytest.raises(HeldError, match=str(other.pid)):
            locked(path, now=NOW).__enter__()
        other.send_signal(signal.SIGKILL)
        other.wait()
        with locked(path, now=NOW):
            assert holder_of(path) is not None


def test_a_child_that_outlives_its_driver_does_not_keep_the_lock(tmp_path: Path) -> None:
    path = tmp_path / "lock"
    with locked(path, now=NOW):
        child = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
    try:
        with locked(path, now=NOW):
            pass
    finally:
        child.kill()
        child.wait()


def test_what_the_file_says_does_not_lock(tmp_path: Path) -> None:
    path = tmp_path / "lock"
    for text in ("", "{", '{"pid": 1}', '{"pid": 1, "host": "gone", "since": "long ago"}'):
        path.write_text(text)
        assert holder_of(path) is None
        with locked(path, now=NOW):
            pass


@pytest.mark.parametrize("at", [1, 2, 3, 4])
def test_a_full_disk_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int) -> None:
    monkeypatch.setattr(files, "DISK", RefusingDisk(at=at, number=errno.EROFS))
    with pytest.raises(files.DiskError, match="Read-only"):
        locked(tmp_path / "lock", now=NOW).__enter__()
    monkeypatch.undo()
    assert holder_of(tmp_path / "lock") is None
