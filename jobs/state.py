"""How far a run is, in a small file that `status` reads without opening the ledger.

The file is a report, never a source: who resumes reads the ledger. Whether a driver is alive is told by the
run's lock, so a state of `running` without a holder means that the driver died.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, fields
from typing import Literal

from boilerfront.results.run_folder import RunFolder
from boilerfront.shared.files import write_atomically
from boilerfront.shared.lock import holder_of

Phase = Literal["waiting", "running", "finished", "stopped", "died", "new"]


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
    """Why it stopped, in words."""


def write_state(run: RunFolder, state: State) -> None:
    """Put the state into the run's folder. Raises `DiskError`."""
    write_atomically(run.state, (json.dumps(asdict(state), indent=1) + "\n").encode())


def read_state(run: RunFolder) -> State:
    """Return the run's state as it is now; a driver that died without a word is seen by its lock."""
    try:
        data = json.loads(run.state.read_bytes())
        state = State(**{field.name: data[field.name] for field in fields(State) if field.name in data})
    except (OSError, ValueError, TypeError):
        state = State()
    if state.phase in ("waiting", "running") and holder_of(run.lock) is None:
        return State(**{**asdict(state), "phase": "died", "why": "its driver ended without a word"})
    return state
