"""TOML files that people write or keep: read with one clear fault where that cannot be."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from boilerfront.shared.errors import Fault, InputError


def read_toml_table(path: Path, *, allowed: str) -> dict[str, Any]:
    """Return the table in the file at `path`; raises `InputError`, which says what is `allowed` there."""
    try:
        return tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except (OSError, ValueError, RecursionError) as error:
        found = error.strerror or str(error) if isinstance(error, OSError) else str(error)
        raise InputError([Fault(str(path), found, allowed)]) from None
