"""Compiled code without a home: a folder of the process alone, with a word about it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

WHERE = (
    "import os, boilerfront.model; "
    "print(os.environ['NUMBA_CACHE_DIR'], os.path.isdir(os.environ['XDG_CACHE_HOME']))"
)


def imported(home: str) -> tuple[str, bool, str]:
    """Return in a process with that home where compiled code is kept, whether its root is there, what was said."""
    kept = {
        name: value for name, value in os.environ.items() if name not in ("XDG_CACHE_HOME", "NUMBA_CACHE_DIR")
    }
    ran = subprocess.run(
        [sys.executable, "-c", WHERE], env={**kept, "HOME": home}, capture_output=True, text=True, check=True
    )
    folder, is_there = ran.stdout.split()
    return folder, is_there == "True", ran.stderr


def test_a_home_that_cannot_be_written_is_said_and_replaced_for_the_process() -> None:
    folder, was_there, said = imported("/proc/nobody")  # where not even root can make a folder
    assert was_there
    assert "XDG_CACHE_HOME may name another folder" in said
    assert not Path(folder).parents[1].exists()
