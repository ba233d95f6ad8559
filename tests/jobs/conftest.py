"""What all tests of the jobs have in common."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from boilerfront.jobs import plan
from tests.jobs.toy import SWEEP


@pytest.fixture(autouse=True, scope="session")
def ahead_early() -> Iterator[None]:
    """Let short runs plan ahead from their third generation on, as long ones do from 480 designs on."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(plan, "AHEAD_FROM", 20)
        yield


@pytest.fixture
def sweep_file(tmp_path: Path) -> Path:
    """Return the file of the toy's sweep."""
    path = tmp_path / "toy.toml"
    path.write_text(SWEEP, encoding="utf-8")
    return path
