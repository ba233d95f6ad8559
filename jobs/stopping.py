"""How a run is asked to stop: by a file in its folder, which its driver looks for."""

from __future__ import annotations

from pathlib import Path

from boilerfront.results.run_folder import RunFolder
from boilerfront.shared import files


def stop_file(run: RunFolder) -> Path:
    """Return the file that asks a run's driver to end its generation."""
    return run.path / "stop-asked"


def ask_to_stop(run: RunFolder) -> None:
    """Leave word for a run's driver. Raises `DiskError`."""
    files.write_atomically(stop_file(run), b"")


def is_asked_to_stop(run: RunFolder) -> bool:
    """Return whether somebody left word."""
    return stop_file(run).exists()


def forget_asking(run: RunFolder) -> None:
    """Take word back that was left for an earlier driver. Raises `DiskError`."""
    if is_asked_to_stop(run):
        files.remove(stop_file(run))
