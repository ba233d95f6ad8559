"""What was compiled first leaves no trace in the bits: numba shares small helpers among compiled functions."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

TABLE = """
import sys
from boilerfront.model.parts import films
for before in sys.argv[1:]:
    getattr(films, before)(3)
print(films.condensation_table(0.006).tobytes().hex())
"""


def table_after(cache: Path, *before: str) -> str:
    """Return the bytes of a film table that a process with an empty cache made after calling `before`."""
    home = {name: value for name, value in os.environ.items() if name != "NUMBA_CACHE_DIR"}
    ran = subprocess.run(
        [sys.executable, "-c", TABLE, *before],
        env={**home, "XDG_CACHE_HOME": str(cache)},
        capture_output=True,
        text=True,
        check=True,
    )
    return ran.stdout


def test_a_table_has_the_same_bits_whatever_was_compiled_before_it(tmp_path: Path) -> None:
    # `flow_of` and the table both raise to a whole power: the helper is compiled for one and used by the other
    first = table_after(tmp_path / "one")
    assert len(first) > 1000
    assert table_after(tmp_path / "other", "flow_of") == first
