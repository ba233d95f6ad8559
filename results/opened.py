"""A run opened for a notebook: its front and its trials as pandas frames."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import pyarrow as pa

from boilerfront.results.front import front_table, read_front
from boilerfront.results.ledger import read_ledger
from boilerfront.results.run_folder import RunFolder, find_run
from boilerfront.results.schema import metadata_of

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Run:
    """The files of one run. A frame's `attrs["units"]` names the unit of each of its columns."""

    folder: RunFolder

    def front(self) -> pd.DataFrame:
        """Return the feasible non-dominated trials as last written, else computed from the ledger.

        Raises `BadPartError` when the file cannot be read.
        """
        try:
            return _frame(read_front(self.folder.front))
        except FileNotFoundError:
            return _frame(front_table(read_ledger(self.folder.trials).table))

    def trials(self) -> pd.DataFrame:
        """Return every trial once, sorted by number; rows of files that are not whole are left out.

        `attrs["messages"]` names such files.
        """
        loaded = read_ledger(self.folder.trials)
        frame = _frame(loaded.table)
        frame.attrs["messages"] = loaded.messages
        return frame


def open_run(path: str | Path) -> Run:
    """Return the run of that folder or name. Raises `InputError` when there is none."""
    return Run(find_run(path))


def _frame(table: pa.Table) -> pd.DataFrame:
    frame: pd.DataFrame = table.to_pandas()
    frame.attrs["units"] = {field.name: metadata_of(field).get("unit", "") for field in table.schema}
    return frame
