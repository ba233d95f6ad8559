"""Results of long proofs on disk, so that a proof that was cut goes on where it was."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path

import numba
import numpy as np
import scipy

from boilerfront.shared.files import append, make_folder, sha256_hex
from tests.validate.stiff import Compared

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "build" / "validate"
SOURCES = ("model", "shared", "tests/model", "tests/validate")


def digest() -> str:
    """Return what the results rest on: all sources of the model and of the proofs, and the solvers' versions."""
    texts = [numba.__version__, np.__version__, scipy.__version__]
    for folder in SOURCES:
        for path in sorted((ROOT / folder).rglob("*.py")):
            texts.append(f"{path.relative_to(ROOT)} {sha256_hex(path.read_bytes())}")
    return sha256_hex("\n".join(texts).encode())[:16]


class Store:
    """The designs compared so far under the present sources; others' results are never taken."""

    def __init__(self, folder: Path = FOLDER, name: str | None = None) -> None:
        make_folder(folder)
        self.path = folder / f"stiff-{name or digest()}.jsonl"

    def load(self) -> dict[tuple[str, int], Compared]:
        """Return what is there by architecture and number; a line that was torn is left out."""
        if not self.path.exists():
            return {}
        found = {}
        for line in self.path.read_text(encoding="utf-8").splitlines():
            try:
                one = Compared(**json.loads(line))
            except (ValueError, TypeError):
                continue
            found[one.architecture, one.index] = one
        return found

    def add(self, results: Iterable[Compared]) -> None:
        """Write results down."""
        append(self.path, "".join(json.dumps(asdict(one)) + "\n" for one in results))
