"""How the front grows generation by generation, and the record of it.

Generations close in order, those that the ledger held already among them, so that the record of a run that
was cut is that of an undisturbed one. Until all of these have closed, the front shown is that of the ledger
as it was opened: a resumed run does not seem to begin anew.

To find the front and its hypervolume takes ever longer as it grows, so a front of many thousand designs is
looked at every so many generations only; the record has no rows for those between.
"""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from boilerfront.jobs.known import copied
from boilerfront.model.glossary import OBJECTIVES
from boilerfront.results.front import (
    Progress,
    Record,
    feasible_count,
    front_table,
    front_values,
    objective_values,
)
from boilerfront.results.run_folder import RunFolder

EVERY_GENERATION = 4_000
"""Designs on the front up to which each generation is looked at."""
_WRITTEN_AT_ONCE = 1_000
"""Rows of the record up to which it is written with each of them."""
_WRITTEN_EVERY = 20
_FOLDED = 64
"""Generations of which all rows are kept at most."""


class Growth:
    """The front of a run: as its ledger was opened, then as its generations close."""

    def __init__(self, run: RunFolder, known: pa.Table) -> None:
        self._record = Record(run.convergence)
        self._is_written = True
        self._last_known = pc.max(known["trial"]).as_py() if known.num_rows else -1
        self._known, self._feasible_known = (
            known,
            feasible_count(known),
        )  # those whose generations are not closed
        self._opening: pa.Table | None = None
        self._closed = known.schema.empty_table()
        self._values = np.empty((0, len(OBJECTIVES)))
        self._waiting: list[pa.Table] = []  # to become part of the front's rows
        self._unseen: list[pa.Table] = []  # to become part of its values
        self._due = -1  # that of the trials taken from an earlier run
        self._trials = self._feasible = 0
        self._caught_up = not known.num_rows

    @property
    def front(self) -> pa.Table:
        """Return the front that is known for certain now."""
        if not self._caught_up:
            return self._at_opening()
        self._fold()
        return self._closed

    @property
    def size(self) -> int:
        """Return how many designs were on the front when it was last looked at."""
        return len(self._values) if self._caught_up else int(self._at_opening().num_rows)

    @property
    def feasible(self) -> int:
        """Return how many designs are feasible."""
        return self._feasible if self._caught_up else self._feasible_known

    def recorded(self, begin: int) -> list[tuple[int, float | None]] | None:
        """Return each generation before `begin` with its hypervolume, None where the record does not reach it."""
        own = sorted(generation for generation in self._record.rows if generation < begin)
        if begin > (self._due_after(own[-1]) if own else 0):
            return None
        return [(generation, self._record.rows[generation]["hypervolume"]) for generation in own]

    def take_in_recorded(self, rows: pa.Table, *, begin: int) -> None:
        """Let the front grow by the rows of all generations before `begin`, which are in the record."""
        self._count(rows)
        self._closed = front_table(pa.concat_tables([self._closed, rows]))
        self._values = objective_values(self._closed)
        self._known = copied(self._known.slice(self._trials))
        own = [generation for generation in self._record.rows if generation < begin]
        self._due = self._due_after(max(own)) if own else self._due

    def take_in(self, generation: int, rows: pa.Table, *, seconds: float, fresh: bool) -> float | None:
        """Let the front grow by a generation's rows; return its hypervolume where it was looked at.

        What is neither `fresh` nor missing from the record (a crash came before it was written) is not
        written again. Raises `DiskError`.
        """
        self._count(rows)
        self._waiting.append(rows)
        self._unseen.append(rows)
        if len(self._waiting) >= _FOLDED:
            self._fold()
        if generation < self._due:
            return None
        self._values = front_values(pa.concat_tables(self._unseen), self._values)
        self._unseen.clear()
        if fresh or generation not in self._record.rows:
            self._record.note(Progress(generation, self._trials, self._feasible, seconds), self._values)
            self._is_written = False
            if len(self._record.rows) < _WRITTEN_AT_ONCE or generation % _WRITTEN_EVERY == 0:
                self.write()
        self._due = self._due_after(generation)
        volume: float | None = self._record.rows[generation]["hypervolume"]
        return volume

    def forget_known(self) -> None:
        """Let go of what the ledger held when the run was opened."""
        self._known = self._known.schema.empty_table()

    def write(self) -> None:
        """See to it that the record is on the disk. Raises `DiskError`."""
        if not self._is_written:
            self._record.write()
            self._is_written = True

    def _at_opening(self) -> pa.Table:
        """Return the front of all that the ledger held: that of the closed generations and of the rows after them."""
        if self._opening is None:
            self._fold()
            self._opening = front_table(pa.concat_tables([self._closed, self._known]))
        return self._opening

    def _fold(self) -> None:
        """Let the rows that wait become part of the front's."""
        if self._waiting:
            self._closed = front_table(pa.concat_tables([self._closed, *self._waiting]))
            self._waiting.clear()

    def _due_after(self, generation: int) -> int:
        """Return the generation that is looked at after this one: what that costs a design grows slowly."""
        size = self._record.rows[generation]["front_size"]
        return generation + max(1, int((size / EVERY_GENERATION) ** 1.5))

    def _count(self, rows: pa.Table) -> None:
        self._trials += rows.num_rows
        self._feasible += feasible_count(rows)
        self._caught_up = self._caught_up or (pc.max(rows["trial"]).as_py() or 0) >= self._last_known
