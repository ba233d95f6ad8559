"""A run opened for a notebook: its front and its trials as pandas frames, and what their columns are."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pyarrow as pa

from boilerfront.model.glossary import site_columns
from boilerfront.results.front import front_of
from boilerfront.results.ledger import read_run
from boilerfront.results.run_folder import RunFolder, find_run
from boilerfront.results.schema import Provenance, ledger_schema, metadata_of, unit_of
from boilerfront.shared.errors import Fault, InputError

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Run:
    """The files of one run, which may be finished, running or stopped; nothing in it is changed.

        run = open_run("runs/demo")
        front = run.front()                  # pandas.DataFrame: the feasible non-dominated trials
        front.plot.scatter("warm_up_s", "shot_deviation_K")
        run.units["energy_kWh_day"]          # 'kWh'
        run.columns().loc["warm_up_s"]       # unit, meaning, statistic, samples, sites

    Each call reads what is there then. Before the first designs are rated the frames have their columns and
    no rows. A frame's `attrs["units"]` names the unit of each of its columns, `attrs["messages"]` every file
    that could not be used.
    """

    folder: RunFolder

    @property
    def name(self) -> str:
        """Return the run's name."""
        return self.folder.name

    @property
    def units(self) -> dict[str, str]:
        """Return each column's unit, empty for texts and pure numbers."""
        return {field.name: unit_of(field) for field in self._front()[0].schema}

    def front(self) -> pd.DataFrame:
        """Return the feasible non-dominated trials as last written, else computed from all trials.

        A driver writes them about once a minute.
        """
        return _frame(*self._front())

    def trials(self) -> pd.DataFrame:
        """Return every trial once, sorted by number, also while a driver writes."""
        loaded = read_run(self.folder)
        return _frame(self._with_columns(loaded.table), loaded.messages)

    def columns(self) -> pd.DataFrame:
        """Return what each column is: unit, meaning, group, statistic, samples and sites, by its name."""
        import pandas as pd

        keys = {"unit": "unit", "text": "meaning", "group": "group"}
        keys |= {key: key for key in ("statistic", "samples", "sites")}
        schema = self._front()[0].schema
        rows = [{word: metadata_of(field).get(key, "") for key, word in keys.items()} for field in schema]
        return pd.DataFrame(rows, index=pd.Index(schema.names, name="column"), columns=list(keys.values()))

    def _front(self) -> tuple[pa.Table, tuple[str, ...]]:
        table, messages = front_of(self.folder)
        return self._with_columns(table), messages

    def _with_columns(self, table: pa.Table) -> pa.Table:
        """Return a table as it is, or one without columns with those that the run will have."""
        return table if table.column_names else _schema(self.folder).empty_table()


def open_run(path: str | Path) -> Run:
    """Return the run of that folder, or of that name under `runs` (or what BOILERFRONT_RUNS names).

    Raises `InputError`, which names near ones, when there is none.
    """
    return Run(find_run(path))


def _schema(run: RunFolder) -> pa.Schema:
    """Return the schema of a run that has no rows yet, by its frozen sweep; raises `InputError` for a broken one."""
    try:
        sweep: dict[str, Any] = tomllib.loads(run.sweep_file.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise InputError([Fault(str(run.sweep_file), str(error), "the frozen sweep of the run")]) from None
    sites = tuple(sweep.get("sites", {}))
    columns = site_columns(sites, sweep.get("variables", {}))
    variables = [name for name in sweep.get("variables", {}) if name in columns and name != "architecture"]
    behind = Provenance(
        run=run.name,
        sweep_hash=sweep.get("run", {}).get("sweep_hash", ""),
        sites=sites or (sweep.get("site", {}).get("name", ""),),
        currency=sweep.get("prices", {}).get("currency", "currency"),
    )
    return ledger_schema(variables, behind, columns=columns)


def _frame(table: pa.Table, messages: tuple[str, ...]) -> pd.DataFrame:
    frame: pd.DataFrame = table.to_pandas()
    frame.attrs["units"] = {field.name: unit_of(field) for field in table.schema}
    frame.attrs["messages"] = messages
    return frame
