"""Which code this is: a digest of sources, where a version's number would say too little."""

from __future__ import annotations

from pathlib import Path

from boilerfront.shared.files import short_digest


def code_digest(*folders: Path) -> str:
    """Return a digest of all Python sources below these folders, by their names and contents."""
    texts = [
        f"{path.relative_to(folder).as_posix()} ".encode() + path.read_bytes()
        for folder in folders
        for path in sorted(folder.glob("**/*.py"))
    ]
    return short_digest(b"\0".join(texts))
