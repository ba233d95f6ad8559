"""A run for other tools: as an optuna storage that opens with its user's own tools, or as CSV.

Optuna's own way to add a trial takes some 35 ms each, whatever the disk: minutes for thousands. So optuna makes
the file and the study, and the trials are written into its tables all at once. Whether this version of optuna
keeps its tables as we know them is tried first, with a few trials that optuna must read back as they are meant;
else all are added in its own way.
"""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
import tempfile
import warnings
from collections.abc import Iterator, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

import optuna
import pyarrow as pa
from optuna.distributions import distribution_to_json
from optuna.trial import FrozenTrial, TrialState, create_trial

from boilerfront.jobs.launch import frozen_sweep
from boilerfront.jobs.optuna_tables import Entry, append, knows
from boilerfront.jobs.ranges import ChoiceList, search_space
from boilerfront.jobs.study import outcome, outcome_columns
from boilerfront.jobs.sweep import Sweep
from boilerfront.model.glossary import OBJECTIVES
from boilerfront.results.ledger import read_run
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.schema import metadata_of
from boilerfront.results.show import rendered, write_out
from boilerfront.search.distributions import optuna_distributions
from boilerfront.shared import files
from boilerfront.shared.errors import Fault, InputError

TARGETS = ("optuna", "csv")
TRIED = 40
"""Trials that optuna reads back before all are written."""
BATCH = 2_000
_TOLD = ("trial", "generation", "feasible", "reason", "fault")
"""Columns that become a trial's user attributes where they say something."""


def export(run: RunFolder, to: str, out: Path) -> tuple[int, tuple[str, ...]]:
    """Write every trial of a run to `out`; return how many, and what is to be said about files not used.

    As `csv`: all columns, in full precision; a file that is there is replaced. As `optuna`: a storage in SQLite
    with one study of the run's name; nothing that is there is replaced, for it may hold other studies. Raises
    `InputError` for another target, or where it cannot be written.
    """
    if to not in TARGETS:
        raise InputError([Fault("--to", to, " or ".join(TARGETS))])
    sweep = frozen_sweep(run) if to == "optuna" else None
    loaded = read_run(run)
    if sweep is None:
        write_out(out, rendered(loaded.table, "csv"))
    else:
        _write_storage(out, run.name, sweep, loaded.table)
    return loaded.table.num_rows, loaded.messages


def _write_storage(out: Path, name: str, sweep: Sweep, table: pa.Table) -> None:
    if out.exists():
        raise InputError(
            [Fault("--out", f"{out}, which exists", "a new file: a storage may hold other studies")]
        )
    exported = _Exported(name, sweep, table)
    temporary = out.with_name(out.name + files.TEMPORARY_SUFFIX)
    try:
        with tempfile.TemporaryDirectory() as folder:
            exported.write(Path(folder), temporary)
        files.move(temporary, out)
    except (OSError, sqlite3.OperationalError, files.DiskError) as error:
        allowed = "a file in a folder that can be written, on a disk with room"
        raise InputError([Fault("--out", f"{out}: {error}", allowed)]) from error
    finally:
        temporary.unlink(missing_ok=True)


class _Exported:
    """The trials of one run as optuna has them."""

    def __init__(self, name: str, sweep: Sweep, table: pa.Table) -> None:
        self.name = name
        self.sweep = sweep
        self.table = table
        space = search_space(sweep.variables)
        self._distributions = optuna_distributions(space)
        self._json = {name: distribution_to_json(each) for name, each in self._distributions.items()}
        wanted = [*outcome_columns(sweep), *_TOLD]
        self._columns = [name for name in dict.fromkeys(wanted) if name in table.column_names]
        self._moment = datetime.fromisoformat(sweep.run.started) if sweep.run else datetime.now()

    def write(self, folder: Path, target: Path) -> None:
        """Write the storage to `target`; `folder` is for what is made on the way."""
        optuna.logging.set_verbosity(optuna.logging.WARNING)
        made = folder / "made.db"
        with _storage(made) as storage:
            study = optuna.create_study(
                study_name=self.name, storage=storage, directions=["minimize"] * len(OBJECTIVES)
            )
            self._describe(study)
        if self._are_tables_known(made, folder / "tried.db"):
            shutil.copyfile(made, target)
            append(target, self._batches(self.table), moment=self._moment)
            return
        with _storage(made) as storage:
            study = optuna.load_study(study_name=self.name, storage=storage)
            for batch in self._batches(self.table):
                study.add_trials(map(self._frozen, batch))
        shutil.copyfile(made, target)

    def _describe(self, study: optuna.Study) -> None:
        """Say what the study is of: names of its objectives, what they mean, variables that are fixed."""
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", optuna.exceptions.ExperimentalWarning)
            study.set_metric_names(list(OBJECTIVES))
        schema = self.table.schema
        for key, text in metadata_of(schema).items():
            study.set_user_attr(key, text)
        if OBJECTIVES[0] in schema.names:
            for key in ("statistic", "samples", "sites"):
                study.set_user_attr(key, metadata_of(schema.field(OBJECTIVES[0])).get(key, ""))
        study.set_user_attr("currency", self.sweep.prices.currency)
        fixed = {
            name: each.choices[0]
            for name, each in self.sweep.variables.items()
            if isinstance(each, ChoiceList) and len(each.choices) == 1
        }
        study.set_user_attr("fixed", fixed)

    def _are_tables_known(self, made: Path, tried: Path) -> bool:
        """Return whether optuna reads a few trials that are written into its tables as they are meant."""
        if not knows(made):
            return False
        shutil.copyfile(made, tried)
        step = max(1, self.table.num_rows // TRIED)
        few = self.table.take(list(range(0, self.table.num_rows, step))[:TRIED])
        entries = [entry for batch in self._batches(few) for entry in batch]
        append(tried, [entries], moment=self._moment)
        with _storage(tried) as storage:
            read = optuna.load_study(study_name=self.name, storage=storage).trials
        return list(map(_content, read)) == [_content(self._frozen(entry)) for entry in entries]

    def _batches(self, table: pa.Table) -> Iterator[list[Entry]]:
        for start in range(0, table.num_rows, BATCH):
            rows = table.slice(start, BATCH).select(self._columns).to_pylist()
            yield [self._entry(row) for row in rows]

    def _entry(self, row: Mapping[str, Any]) -> Entry:
        values, constraints = outcome(row)
        params = {
            name: (float(each.to_internal_repr(value)), self._json[name])
            for name, each in self._distributions.items()
            if (value := row.get(name)) is not None
        }
        user = {name: row[name] for name in _TOLD if row.get(name) is not None}
        return Entry(values, params, constraints, user)

    def _frozen(self, entry: Entry) -> FrozenTrial:
        """Return a trial as optuna's own objects say it."""
        known = {name: self._distributions[name] for name in entry.params}
        return create_trial(
            state=TrialState.FAIL if entry.values is None else TrialState.COMPLETE,
            values=None if entry.values is None else list(entry.values),
            params={name: each.to_external_repr(entry.params[name][0]) for name, each in known.items()},
            distributions=known,
            constraints=dict(entry.constraints),
            user_attrs=dict(entry.user),
        )


def _content(trial: FrozenTrial) -> tuple[Any, ...]:
    """Return what matters of a trial: not its place, nor when it was made."""
    told = (trial.params, trial.distributions, trial.constraints, trial.user_attrs)
    return trial.state, trial.values, *told


@contextlib.contextmanager
def _storage(path: Path) -> Iterator[optuna.storages.RDBStorage]:
    storage = optuna.storages.RDBStorage(f"sqlite:///{path}")
    try:
        yield storage
    finally:
        storage.remove_session()
        storage.engine.dispose()
