"""The rows that the ledger held when a run was opened, by trial: what need not be evaluated again."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyarrow as pa

from boilerfront.jobs.work import Row


def copied(table: pa.Table) -> pa.Table:
    """Return a few rows with memory of their own: a slice would keep that of the whole table."""
    return table.take(pa.array(np.arange(table.num_rows)))


class Known:
    """The rows that the ledger held when the run was opened, by trial."""

    def __init__(self, table: pa.Table, columns: Sequence[str]) -> None:
        self.table = table
        self._trials = np.asarray(table["trial"].to_numpy(), dtype=np.int64)
        self._columns = list(columns)
        self.trials = frozenset(self._trials.tolist())

    def slice(self, trials: range) -> pa.Table:
        """Return the rows of a range of trials."""
        low, high = np.searchsorted(self._trials, [trials.start, trials.stop])
        return self.table.slice(int(low), int(high - low))

    def keep_from(self, trial: int) -> None:
        """Let go of the rows before a trial, of which none will be asked for; they still count as known."""
        low = int(np.searchsorted(self._trials, trial))
        if not low:
            return
        self.table = copied(self.table.slice(low))
        self._trials = self._trials[low:].copy()

    def rows(self, trials: range) -> dict[int, Row]:
        """Return what the study needs of the rows of a range of trials."""
        rows = self.slice(trials)
        return self.told(rows) if rows.num_rows else {}

    def told(self, rows: pa.Table) -> dict[int, Row]:
        """Return what the study needs of rows, by trial."""
        return {row["trial"]: row for row in rows.select(self._columns).to_pylist()}
