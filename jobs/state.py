"""How far a run is, in a small file that `status` reads without opening the ledger.

The file is a report, never a source: who resumes reads the ledger. Whether a driver is alive is told by the
run's lock, so a state of `running` without a holder means that the driver died.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Literal, get_args, get_origin, get_type_hints

from boilerfront.results.run_folder import RunFolder
from boilerfront.shared.files import write_atomically
from boilerfront.shared.lock import holder_of

Phase = Literal["waiting", "running", "proving", "finished", "stopped", "died", "new"]


@dataclass(frozen=True)
class State:
    """One moment of a run; times are ISO with zone, durations in seconds."""

    phase: Phase = "new"
    trials: int = 0
    budget: int = 0
    feasible: int = 0
    front: int = 0
    generation: int = 0
    rate_per_s: float | None = None
    time_left_s: float | None = None
    growth: float | None = None
    """Relative growth of the front's hypervolume over the last `growth_over_s`."""
    growth_over_s: float = 0.0
    seconds: float = 0.0
    """Time spent evaluating, over all starts of the run."""
    workers: int = 0
    updated: str = ""
    until: str | None = None
    dashboard: str | None = None
    why: str = ""
    """Why it ended, in words."""
    ended_by: str = ""
    """What ended the search: finished (the budget), no_better (its stop rule), until, stopped, signal."""
    proof: str = ""
    """How far the proof is, and what it found, in words."""
    proof_done: bool = False


def write_state(run: RunFolder, state: State) -> None:
    """Put the state into the run's folder. Raises `DiskError`."""
    write_atomically(run.state, (json.dumps(asdict(state), indent=1) + "\n").encode())


def read_state(run: RunFolder) -> State:
    """Return the run's state as it is now; a driver that died without a word is seen by its lock.

    A file that is missing, or in which anything is not what we write, counts as none.
    """
    try:
        state = _state(json.loads(run.state.read_bytes()))
    except (OSError, ValueError, OverflowError, RecursionError):
        state = State()
    if state.phase in ("waiting", "running", "proving") and holder_of(run.lock) is None:
        return State(**{**asdict(state), "phase": "died", "why": "its driver ended without a word"})
    return state


def _state(data: Any) -> State:
    """Return what was read as a state; raises `ValueError` where it is none."""
    if not isinstance(data, Mapping):
        raise ValueError("no table")
    kinds = get_type_hints(State)
    known = {name: data[name] for name in kinds if name in data}
    wrong = [name for name, value in known.items() if not _fits(value, kinds[name])]
    if wrong:
        raise ValueError(f"wrong types: {wrong}")
    return State(**known)


def _fits(value: Any, kind: Any) -> bool:
    """Return whether a value of JSON is of a field's type; a float may stand there as a whole number."""
    if get_origin(kind) is Literal:
        return value in get_args(kind)
    kinds = get_args(kind) or (kind,)
    if isinstance(value, bool):
        return bool in kinds
    if isinstance(value, int | float) and float in kinds:
        return math.isfinite(value)
    return isinstance(value, kinds)
