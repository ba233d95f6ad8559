"""What is kept of a run and how it is read: ledger, front, queries. Knows nothing of clusters or samplers."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from boilerfront.results.opened import Run

__all__ = ["open_run"]


def open_run(path: str | Path) -> Run:
    """Return the run of that folder or name: `front()` and `trials()` are pandas frames, `units` a dict.

        run = open_run("runs/demo")
        run.front().sort_values("part_cost")
        run.units["energy_kWh_day"]     # 'kWh'
        run.columns()                   # what each column means

    It may be finished, running or stopped. Raises `InputError` when there is none.
    """
    # Here, so that a command that only looks at a run's state does not pay for the readers of its tables.
    from boilerfront.results.opened import open_run as opened

    return opened(path)
