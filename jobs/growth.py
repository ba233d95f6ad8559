"""How the front grows generation by generation, and the record of it.

Generations close in order, those that the ledger held already among them, so that the record of a run that
was cut is that of an undisturbed one. Until all of these have closed, the front shown is that of the ledger
as it was opened: a resumed run does not seem to begin anew.
"""

from __future__ import annotations

import pyarrow as pa
import pyarrow.compute as pc

from boilerfront.results.front import (
    Progress,
    append_convergence,
    feasible_count,
    front_table,
    read_convergence,
)
from boilerfront.results.run_folder import RunFolder


class Growth:
    """The front of a run: as its ledger was opened, then as its generations close."""

    def __init__(self, run: RunFolder, known: pa.Table) -> None:
        self._file = run.convergence
        record = read_convergence(run.convergence)
        self._recorded: dict[int, float | None] = dict(
            zip(record["generation"].to_pylist(), record["hypervolume"].to_pylist(), strict=True)
        )
        self._last_known = pc.max(known["trial"]).as_py() if known.num_rows else -1
        self._opening, self._opening_feasible = front_table(known), feasible_count(known)
        self._closed = known.schema.empty_table()
        self._trials = self._feasible = 0
        self._caught_up = not known.num_rows

    @property
    def front(self) -> pa.Table:
        """Return the front that is known for certain now."""
        return self._closed if self._caught_up else self._opening

    @property
    def feasible(self) -> int:
        """Return how many designs are feasible."""
        return self._feasible if self._caught_up else self._opening_feasible

    def recorded(self, generation: int) -> list[float | None] | None:
        """Return the hypervolume of every generation before `generation`, None where the record has a hole."""
        if not all(each in self._recorded for each in range(generation)):
            return None
        return [self._recorded[each] for each in range(generation)]

    def take_in_recorded(self, rows: pa.Table) -> None:
        """Let the front grow by the rows of many generations, all of which are in the record."""
        self._grow(rows)

    def take_in(self, generation: int, rows: pa.Table, *, seconds: float, fresh: bool) -> float | None:
        """Let the front grow by a generation's rows; return its hypervolume, None before there is a front.

        What is neither `fresh` nor missing from the record (a crash came before it was written) is not
        written again. Raises `DiskError`.
        """
        self._grow(rows)
        if not fresh and generation in self._recorded:
            return self._recorded[generation]
        progress = Progress(generation, self._trials, self._feasible, seconds)
        return append_convergence(self._file, progress, self._closed)

    def _grow(self, rows: pa.Table) -> None:
        self._closed = front_table(pa.concat_tables([self._closed, rows]))
        self._trials += rows.num_rows
        self._feasible += feasible_count(rows)
        self._caught_up = self._caught_up or (pc.max(rows["trial"]).as_py() or 0) >= self._last_known
