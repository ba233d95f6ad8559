"""Designs of a run that somebody named, by number or letter, with their rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from boilerfront.results.ledger import read_run
from boilerfront.results.picks import Pick, picks_by_trial, trial_numbers
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.schema import group_of
from boilerfront.shared.errors import Fault, InputError

Design = dict[str, float | str | None]


@dataclass(frozen=True)
class Candidate:
    """A trial's row with its letter and note, where it has them; `schema` names units and statistics."""

    trial: int
    letter: str | None
    note: str
    row: dict[str, Any]
    schema: pa.Schema

    @property
    def label(self) -> str:
        """Return what a person calls it."""
        return f"trial {self.trial}" if self.letter is None else f"{self.letter} (trial {self.trial})"

    @property
    def design(self) -> Design:
        """Return the values of its variables, None where its architecture lacks one."""
        return {name: self.row[name] for name in group_of(self.schema, "variable")}


def candidates(run: RunFolder, words: Sequence[str]) -> list[Candidate]:
    """Return the designs that `words` name, in their order.

    Raises `InputError` with every word that is no letter of the run's and every number that is no trial.
    """
    numbers = trial_numbers(run, words)
    table = read_run(run).table
    rows = {row["trial"]: row for row in _rows(table, numbers)}
    missing = [Fault("TRIAL", str(number), "a trial of the run") for number in numbers if number not in rows]
    if missing:
        raise InputError(missing)
    picks = _picks(run)
    return [_candidate(picks.get(number), rows[number], table.schema) for number in numbers]


def _candidate(pick: Pick | None, row: dict[str, Any], schema: pa.Schema) -> Candidate:
    letter, note = (pick.letter, pick.note) if pick else (None, "")
    return Candidate(row["trial"], letter, note, row, schema)


def _picks(run: RunFolder) -> dict[int, Pick]:
    """Return who has a letter; a file of picks that is broken matters only to who uses a letter."""
    try:
        return picks_by_trial(run)
    except InputError:
        return {}


def _rows(table: pa.Table, numbers: Sequence[int]) -> list[dict[str, Any]]:
    if not table.num_rows:
        return []
    # A number that no ledger can have is no trial either, and does not fit into its type.
    wanted = [number for number in numbers if number < 2**63]
    rows: list[dict[str, Any]] = table.filter(
        pc.is_in(table["trial"], pa.array(wanted, pa.int64()))
    ).to_pylist()
    return rows
