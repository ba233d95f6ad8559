"""What all tests of the jobs have in common."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from boilerfront.jobs import plan


@pytest.fixture(autouse=True, scope="session")
def ahead_early() -> Iterator[None]:
    """Let short runs plan ahead from their third generation on, as long ones do from 480 designs on."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(plan, "AHEAD_FROM", 20)
        yield
