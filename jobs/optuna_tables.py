"""Trials written straight into the tables of an optuna storage in SQLite: many in one transaction.

Which columns these tables have is optuna's own business: `knows` says whether they are those written here, and
the caller lets optuna read a few trials back before it trusts the rest.
"""

from __future__ import annotations

import contextlib
import json
import math
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

CONSTRAINT = "constraints:"
"""What optuna puts before a constraint's name among the attributes of its own."""

_COLUMNS = {
    "trials": ("trial_id", "number", "study_id", "state", "datetime_start", "datetime_complete"),
    "trial_values": ("trial_value_id", "trial_id", "objective", "value", "value_type"),
    "trial_params": ("param_id", "trial_id", "param_name", "param_value", "distribution_json"),
    "trial_user_attributes": ("trial_user_attribute_id", "trial_id", "key", "value_json"),
    "trial_system_attributes": ("trial_system_attribute_id", "trial_id", "key", "value_json"),
}


@dataclass(frozen=True)
class Entry:
    """One finished trial; `values` is None for one that failed.

    `params` are (optuna's number for the value, the distribution as JSON) by name; `constraints` are met when
    they are not positive.
    """

    values: Sequence[float] | None
    params: Mapping[str, tuple[float, str]]
    constraints: Mapping[str, float]
    user: Mapping[str, Any]


def knows(path: Path) -> bool:
    """Return whether the storage has the tables that are written here, with the same columns."""
    with contextlib.closing(sqlite3.connect(path)) as connection:
        found = {
            table: tuple(row[1] for row in connection.execute(f"PRAGMA table_info({table})"))
            for table in _COLUMNS
        }
    return found == _COLUMNS


def append(path: Path, batches: Iterable[Sequence[Entry]], *, moment: datetime) -> int:
    """Add trials to the one study of a storage, numbered on from none, and return how many.

    `moment` is when they began and ended, which is not known of each. One transaction: all or none. Raises
    `sqlite3.OperationalError` where the disk refuses.
    """
    with contextlib.closing(sqlite3.connect(path)) as connection, connection:
        (study,) = connection.execute("SELECT study_id FROM studies").fetchone()
        head = (study, moment.strftime("%Y-%m-%d %H:%M:%S.%f"))
        count = 0
        for batch in batches:
            _write(connection, count, batch, head)
            count += len(batch)
    return count


def _write(connection: sqlite3.Connection, first: int, batch: Sequence[Entry], head: tuple[int, str]) -> None:
    study, moment = head
    numbered = [(first + k + 1, entry) for k, entry in enumerate(batch)]
    connection.executemany(
        "INSERT INTO trials VALUES (?, ?, ?, ?, ?, ?)",
        (
            (key, key - 1, study, "FAIL" if entry.values is None else "COMPLETE", moment, moment)
            for key, entry in numbered
        ),
    )
    connection.executemany(
        "INSERT INTO trial_values (trial_id, objective, value, value_type) VALUES (?, ?, ?, ?)",
        ((key, k, *_stored(value)) for key, entry in numbered for k, value in enumerate(entry.values or ())),
    )
    connection.executemany(
        "INSERT INTO trial_params (trial_id, param_name, param_value, distribution_json) VALUES (?, ?, ?, ?)",
        ((key, name, *param) for key, entry in numbered for name, param in entry.params.items()),
    )
    for table, attributes in (("user", _user), ("system", _system)):
        connection.executemany(
            f"INSERT INTO trial_{table}_attributes (trial_id, key, value_json) VALUES (?, ?, ?)",
            (
                (key, name, json.dumps(value))
                for key, entry in numbered
                for name, value in attributes(entry).items()
            ),
        )


def _user(entry: Entry) -> Mapping[str, Any]:
    return entry.user


def _system(entry: Entry) -> Mapping[str, Any]:
    return {CONSTRAINT + name: value for name, value in entry.constraints.items()}


def _stored(value: float) -> tuple[float | None, str]:
    """Return a value as optuna keeps it, with the word for its kind."""
    return (value, "FINITE") if math.isfinite(value) else (None, "INF_POS" if value > 0 else "INF_NEG")
