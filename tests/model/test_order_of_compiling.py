"""What was compiled first leaves no trace in the bits: numba shares small helpers among compiled functions."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

TABLE = """
from boilerfront.model.parts import films
print(films.condensation_table(0.006).tobytes().hex())
"""
# Both raise to a whole power: the helper is compiled for one and used by the other.
FLOW = """
from boilerfront.model.parts import films
films.flow_of(3)
"""
# The search has other options of compiling than the model.
SEARCH = """
import numpy as np
from boilerfront.search.choice import Rays
rng = np.random.default_rng(1)
Rays(rng.random((30, 4)), rng.random((5, 4)), rng=rng).take(np.ones(30, dtype=np.bool_), 5)
"""


def table_after(cache: Path, before: str) -> str:
    """Return the bytes of a film table that a process with an empty cache made after running `before`."""
    ran = subprocess.run(
        [sys.executable, "-c", before + TABLE],
        env={**os.environ, "NUMBA_CACHE_DIR": str(cache)},
        capture_output=True,
        text=True,
        check=True,
    )
    return ran.stdout


@pytest.mark.parametrize("before", [FLOW, SEARCH], ids=["flow", "search"])
def test_a_table_has_the_same_bits_whatever_was_compiled_before_it(tmp_path: Path, before: str) -> None:
    first = table_after(tmp_path / "one", "")
    assert len(first) > 1000
    assert table_after(tmp_path / "other", before) == first
