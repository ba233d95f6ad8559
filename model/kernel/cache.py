"""Where compiled code is kept: a folder of the user's cache, named after a hash of every source it comes from.

Numba's own check sees edits of the file at hand alone: a caller of an edited law would run on with the old
one. A folder a hash cannot be stale.
"""

from __future__ import annotations

import hashlib
import os
from functools import cache
from pathlib import Path

SOURCES = ("props", "laws", "network", "kernel", "parts")


@cache
def cache_folder() -> Path:
    """Return the folder of this version of the sources."""
    model = Path(__file__).resolve().parent.parent
    digest = hashlib.sha256()
    for room in SOURCES:
        for path in sorted((model / room).glob("*.py")):
            digest.update(path.name.encode() + b"\0" + path.read_bytes())
    for path in sorted(model.glob("*.py")):
        digest.update(path.name.encode() + b"\0" + path.read_bytes())
    root = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    return Path(root) / "boilerfront" / digest.hexdigest()[:16]


def use_cache_folder() -> None:
    """Tell numba where to keep what it compiles from now on; a choice made by the user stands."""
    os.environ.setdefault("NUMBA_CACHE_DIR", str(cache_folder()))
