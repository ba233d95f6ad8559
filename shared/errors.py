"""Every error that we raise on purpose, under one root.

Each class carries the exit code of the command line, so that one place decides what a person sees.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


class BoilerfrontError(Exception):
    """Root of every error raised on purpose; unless a subclass says otherwise, our own fault."""

    exit_code = 1


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong with an input: where it stands, what was found, what is allowed."""

    where: str
    found: str
    allowed: str

    def __str__(self) -> str:
        """Return the fault as one line."""
        return f"{self.where}: found {self.found}; allowed: {self.allowed}"


class InputError(BoilerfrontError):
    """What a person gave is wrong; carries every fault at once. Nothing was changed."""

    exit_code = 2

    def __init__(self, faults: Iterable[Fault] | str) -> None:
        self.faults: Sequence[Fault] = () if isinstance(faults, str) else tuple(faults)
        super().__init__(faults if isinstance(faults, str) else "\n".join(map(str, self.faults)))


class StoppedEarlyError(BoilerfrontError):
    """A run was stopped by a signal, the disk or a lost cluster; it can be resumed."""

    exit_code = 3


class BadPartError(BoilerfrontError):
    """A file of the ledger is torn, changed or of another sweep."""
