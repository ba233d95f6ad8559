"""Where compiled code is kept: a folder of the user's cache, named after a hash of every source it comes from.

Numba's own check sees edits of the file at hand alone: a caller of an edited law would run on with the old
one. A folder a hash cannot be stale.
"""

from __future__ import annotations

import atexit
import hashlib
import os
import shutil
import tempfile
import warnings
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
    """Tell numba where to keep what it compiles from now on; a choice made by the user stands.

    Where the cache cannot be written a folder of this process and its workers serves, and ends with it. It is ours
    alone: numba runs what it finds there.
    """
    folder = cache_folder()
    if not _can_be_written(folder):
        for_now = tempfile.mkdtemp(prefix="boilerfront-")
        atexit.register(shutil.rmtree, for_now, ignore_errors=True)
        os.environ["XDG_CACHE_HOME"] = for_now
        cache_folder.cache_clear()
        warnings.warn(
            f"{folder} cannot be written: the model is compiled anew each time; "
            "XDG_CACHE_HOME may name another folder",
            stacklevel=2,
        )
    os.environ.setdefault("NUMBA_CACHE_DIR", str(cache_folder()))


def _can_be_written(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return False
    return os.access(folder, os.W_OK | os.X_OK)
