"""Where a topology's written-out step is kept, and how it becomes a function that the march can call."""

from __future__ import annotations

import hashlib
import importlib.util
import os
import sys
from collections.abc import Callable
from pathlib import Path

from boilerfront.model.kernel.cache import cache_folder
from boilerfront.shared.shapes import Floats

Advance = Callable[[Floats], None]


def compiled_step(source: str, function: str = "advance") -> Advance:
    """Return a function of the module with this source; the file's name is its content, so none is ever stale."""
    name = f"step_{hashlib.sha256(source.encode()).hexdigest()[:16]}"
    if name not in sys.modules:
        path = cache_folder() / f"{name}.py"
        if not path.exists():
            _write(path, source)
        _load(name, path)
    step: Advance = getattr(sys.modules[name], function)
    return step


def _write(path: Path, source: str) -> None:
    """Write beside and rename: another process may be doing the same."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_suffix(f".{os.getpid()}")
    beside.write_text(source, encoding="utf-8")
    beside.replace(path)


def _load(name: str, path: Path) -> None:
    """Import the module; numba finds compiled code again by the name of a module that is already known."""
    spec = importlib.util.spec_from_file_location(name, path)
    if spec is None or spec.loader is None:
        raise ImportError(f"cannot load {path}")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
