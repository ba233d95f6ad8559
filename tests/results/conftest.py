"""What several tests of packs have in common."""

from __future__ import annotations

import pytest

from boilerfront.results.pack.subject import Subject
from tests.results.packed import gathered


@pytest.fixture(scope="module")
def subject() -> Subject:
    """Return what a pack says of a dual boiler with coil."""
    return gathered("demo é", traced=4)
