"""A design that somebody typed, or that a pack holds: a TOML file of variable = value."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from boilerfront.jobs.ranges import Range, middle_design
from boilerfront.shared.errors import Fault, InputError
from boilerfront.shared.toml_file import read_toml_table


def read_design_file(path: Path, ranges: Mapping[str, Range]) -> dict[str, Any]:
    """Return the values that the file at `path` names, checked for a sweep with these `ranges`.

    Raises `InputError` with every unknown variable and every value that none can have.
    """
    given = read_toml_table(path, allowed="a TOML file of variable = value")
    try:
        middle_design(ranges, given)
    except InputError as error:
        named = [(f"{path}: {fault.where.removeprefix('variables.')}", fault) for fault in error.faults]
        raise InputError([Fault(where, fault.found, fault.allowed) for where, fault in named]) from None
    return given
