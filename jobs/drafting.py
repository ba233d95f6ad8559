"""The starters: commented sweep files with invented price books, which come with the package."""

from __future__ import annotations

import difflib
from importlib.resources import files as package_files
from pathlib import Path

from boilerfront.shared import files
from boilerfront.shared.errors import Fault, InputError

FIRST = "sweep.toml"


def starter_folder(name: str) -> Path:
    """Return where a starter lies; raises `InputError`, with the nearest name, if there is none."""
    folder = _root() / name
    if name not in names():
        near = difflib.get_close_matches(name, names(), n=1, cutoff=0.4)
        hint = f"did you mean '{near[0]}'? " if near else ""
        raise InputError([Fault("--starter", repr(name), f"{hint}(there are {', '.join(names())})")])
    return folder


def names() -> list[str]:
    """Return the starters by name."""
    return sorted(path.name for path in _root().iterdir() if (path / FIRST).is_file())


def first_lines() -> dict[str, str]:
    """Return what each starter says about itself in its first line."""
    return {name: _text(name).split("\n", 1)[0].removeprefix("# ") for name in names()}


def write_starter(name: str, folder: Path) -> list[Path]:
    """Put a starter's files into `folder` and return them; raises `InputError` if one is there already."""
    source = starter_folder(name)
    found = sorted(path.name for path in source.iterdir() if path.is_file())
    targets = [folder / file for file in sorted(found, key=lambda file: file != FIRST)]
    taken = [str(path) for path in targets if path.exists()]
    if taken:
        raise InputError(f"{', '.join(taken)} is there already, nothing was written; choose another folder")
    files.make_folder(folder)
    for path in targets:
        files.write_atomically(path, (source / path.name).read_bytes())
    return targets


def _root() -> Path:
    return Path(str(package_files("boilerfront.jobs"))) / "starters"


def _text(name: str) -> str:
    return (_root() / name / FIRST).read_text(encoding="utf-8")
