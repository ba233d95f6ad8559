"""The search as it stood before a generation was planned: a cache that spares a resumed run its replay.

In the run's folder, `sampler-<generation>-<digest>.npz`: what the sampler's `state` gave, and the key of what
may read it. The ledger alone remembers: a file that is damaged, of another version or ahead of what the ledger
holds is taken away, and the search is told everything again, which leaves it the same.
"""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boilerfront import search
from boilerfront.jobs.frozen import sweep_hash
from boilerfront.jobs.sweep import Sweep
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared import files
from boilerfront.shared.code import code_digest
from boilerfront.shared.errors import BadPartError

EVERY = 50
"""Generations between two caches."""
KEPT = 2

_NAME = re.compile(rf"sampler-(\d+)-([0-9a-f]{{{files.DIGEST_DIGITS}}})\.npz")
_KEY = "key"

Arrays = Mapping[str, NDArray[np.generic]]


@dataclass(frozen=True)
class Cached:
    """The state of a sampler before `generation` was planned."""

    generation: int
    state: Arrays


class SamplerCache:
    """The caches of one run, for its one driver; one is due `every` so many generations."""

    every = EVERY

    def __init__(self, run: RunFolder, sweep: Sweep) -> None:
        self._folder = run.path
        taken = sweep.run.taken if sweep.run else 0
        parts = [sweep_hash(sweep), str(sweep.search.seed), str(taken), _code_digest(), np.__version__]
        self._key = json.dumps(parts)

    def write(self, generation: int, state: Arrays) -> None:
        """Keep a state, and take away those that are no longer the last. Raises `DiskError`."""
        sink = io.BytesIO()
        arrays: dict[str, Any] = {**state, _KEY: np.array(self._key)}
        np.savez(sink, **arrays)
        data = sink.getvalue()
        name = f"sampler-{generation:06d}-{files.short_digest(data)}.npz"
        files.write_atomically(self._folder / name, data)
        self._remove(self._found()[KEPT:])

    def newest(self, usable: Callable[[int], bool]) -> tuple[Cached | None, tuple[str, ...]]:
        """Return the newest whole state of a generation that is `usable`, and why others were taken away.

        Older ones stay. Raises `DiskError`.
        """
        messages: list[str] = []
        for generation, path in self._found():
            try:
                state = self._read(path)
                if usable(generation):
                    return Cached(generation, state), tuple(messages)
                messages.append(f"{path.name}: ahead of what ledger and record hold; taken away")
            except BadPartError as error:
                messages.append(f"{error}; taken away")
            self._remove([(generation, path)])
        return None, tuple(messages)

    def _found(self) -> list[tuple[int, Path]]:
        """Return generations and files, the newest first."""
        matches = [(match, path) for path in self._folder.iterdir() if (match := _NAME.fullmatch(path.name))]
        return sorted(((int(match[1]), path) for match, path in matches), reverse=True)

    def _read(self, path: Path) -> Arrays:
        """Return a state; raises `BadPartError` where the file is damaged or of another version."""
        match = _NAME.fullmatch(path.name)
        data = files.read_checked(path, match[2] if match else "")
        with np.load(io.BytesIO(data), allow_pickle=False) as arrays:
            state = {name: arrays[name] for name in arrays.files}
        if str(state.pop(_KEY, "")) != self._key:
            raise BadPartError(f"{path.name}: of another version or another search")
        return state

    def _remove(self, gone: list[tuple[int, Path]]) -> None:
        if gone:
            files.remove(*(path for _, path in gone))


def _code_digest() -> str:
    """Return what the sampler's sources are: another version may mean another thing by the same arrays."""
    return code_digest(Path(search.__path__[0]))
