"""A tmpfs that is too small and a read-only bind mount, where this machine lets us make them."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

IN_A_NAMESPACE = ["unshare", "--map-root-user", "--mount"]
ROOT = Path(__file__).parents[2]


def may_mount(folder: Path) -> bool:
    """Return whether a process of ours may mount in a namespace of its own."""
    try:
        tried = subprocess.run([*IN_A_NAMESPACE, "mount", "-t", "tmpfs", "try", folder], capture_output=True)
    except FileNotFoundError:
        return False
    return tried.returncode == 0


def outcomes(folder: Path, fault: str, *, shots: int) -> list[dict[str, Any]]:
    if not may_mount(folder):
        pytest.skip("no mounts in a namespace of one's own on this machine")
    ran = subprocess.run(
        [*IN_A_NAMESPACE, sys.executable, "-m", "tests.jobs.real_disks", folder, fault, str(shots)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=100,
    )
    assert ran.returncode == 0, ran.stderr
    found: list[dict[str, Any]] = json.loads(ran.stdout)
    assert len(found) == shots
    for shot in found:
        assert shot["lost"] == shot["doubled"] == 0
        assert shot["equal"]
    return found


def test_a_real_disk_that_fills_up_is_said_and_costs_no_trial(tmp_path: Path) -> None:
    found = outcomes(tmp_path, "full", shots=7)
    assert all("No space left on device" in shot["said"] for shot in found)
    assert found[0]["kept"] == 0  # not even the sweep could be frozen
    assert 0 < found[-1]["kept"] < 60  # it filled up in mid-run


def test_a_read_only_mount_is_said_and_its_run_can_be_read_and_gone_on_with_later(tmp_path: Path) -> None:
    for shot in outcomes(tmp_path, "readonly", shots=3):
        assert "run.lock: Read-only file system" in shot["said"]
        assert shot["kept"] == 50
        assert shot["repeats"] == 0
