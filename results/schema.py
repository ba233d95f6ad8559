"""What the columns of a run's files are: name, type, unit, meaning, statistic.

Files explain themselves: whoever reads one needs neither our code nor our glossary to know a column's unit.
Field metadata: `unit`, `text`, `group`, `digits`, `source` of a limit or rule where there is one, and for computed
columns `statistic`, `samples`, `sites`.
Table metadata: `schema_version`, `run`, `sweep_hash`, `versions` (JSON).
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import pyarrow as pa

from boilerfront.model.glossary import COLUMNS, Column
from boilerfront.model.variables import base_name
from boilerfront.shared.errors import BoilerfrontError

SCHEMA_VERSION = "1"
KEYS = ("trial", "generation", "architecture")
_TYPES = {"float": pa.float64(), "int": pa.int64(), "bool": pa.bool_(), "str": pa.string()}
_KEY_TYPES = {"trial": pa.int64(), "generation": pa.int32(), "architecture": pa.string()}
_ROBUST_GROUPS = ("objective", "margin")

WORST_SITE = "worst site"

Row = Mapping[str, float | int | bool | str | None]


class RowError(BoilerfrontError):
    """A row that does not fit the schema was handed over; our own fault."""


@dataclass(frozen=True)
class Provenance:
    """Where a table comes from.

    `statistic` names what objectives and margins are (such as "nominal" or "q90 of the samples"), `samples`
    how many machines stand behind it, `sites` the names of the sites, `across` what several of them make of an
    objective (such as "worst site"; a margin is always the worst); other figures are those of the nominal machine.
    `currency` stands where the glossary's unit is "currency".
    """

    run: str
    sweep_hash: str
    statistic: str = "nominal"
    samples: int = 1
    sites: tuple[str, ...] = ()
    across: str = WORST_SITE
    currency: str = "currency"
    versions: Mapping[str, str] = field(default_factory=dict)


def ledger_schema(
    variables: Sequence[str], provenance: Provenance, *, columns: Mapping[str, Column] = COLUMNS
) -> pa.Schema:
    """Return the schema of a run whose designs have `variables`.

    Order: trial, generation, architecture, the variables in the glossary's order, then every objective,
    nominal, figure, margin and verdict. Raises `RowError` for a variable that the glossary does not have.
    """
    unknown = sorted(set(variables) - set(columns))
    if unknown:
        raise RowError(f"no column is known for the variables {', '.join(unknown)}")
    named = [columns[name] for name in KEYS]
    named += [column for column in columns.values() if column.name in variables and column.name not in KEYS]
    named += [column for column in columns.values() if column.group not in ("key", "variable")]
    metadata = {
        "schema_version": SCHEMA_VERSION,
        "run": provenance.run,
        "sweep_hash": provenance.sweep_hash,
        "versions": json.dumps(dict(sorted(provenance.versions.items()))),
    }
    return pa.schema([_field(column, provenance) for column in named], metadata=metadata)


def table_of(rows: Iterable[Row], schema: pa.Schema) -> pa.Table:
    """Return `rows` as a table, sorted by trial; a name that a row lacks is null.

    Raises `RowError` for a name that the schema lacks, a value of another type, or a number that is not
    finite: null is the only way to say that there is none.
    """
    ordered = sorted(rows, key=lambda row: _trial_of(row))
    known = frozenset(schema.names)
    for row in ordered:
        _check(row, known)
    try:
        # All columns in one call: one for each took half a millisecond a task of the driver's time.
        together = pa.array(ordered, type=pa.struct(list(schema)))
    except (pa.ArrowInvalid, pa.ArrowTypeError) as error:
        raise RowError(f"a row does not fit the table: {error}") from error
    return pa.Table.from_arrays(together.flatten(), schema=schema)


def added_field(
    name: str, kind: pa.DataType, *, unit: str = "", text: str = "", digits: int = 0, signed: bool = False
) -> pa.Field:
    """Return the field of a column that an answer computes beside those of the files.

    `signed`: its numbers are changes, shown with their sign also where they are positive.
    """
    metadata = {"unit": unit, "text": text, "group": "added", "digits": str(digits)}
    return pa.field(name, kind, metadata=metadata | ({"signed": "yes"} if signed else {}))


def kept_by(field: pa.Field) -> str | None:
    """Return which share of how many machines keeps an objective or a margin; None for the nominal one."""
    metadata = metadata_of(field)
    share = re.match(r"q([\d.]+) ", metadata.get("statistic", ""))
    return None if share is None else f"{share[1]} % of {metadata['samples']} machines"


def table_of_columns(columns: Sequence[tuple[pa.Field, Any]]) -> pa.Table:
    """Return a table of fields with their values."""
    arrays = [pa.array(v, field.type) if isinstance(v, list) else v for field, v in columns]
    return pa.Table.from_arrays(arrays, schema=pa.schema([field for field, _ in columns]))


def group_of(schema: pa.Schema, group: str) -> list[str]:
    """Return the names of the columns of one group, in order."""
    return [f.name for f in schema if metadata_of(f).get("group") == group]


def metadata_of(field_or_schema: pa.Field | pa.Schema) -> dict[str, str]:
    """Return the metadata of a field or a schema as texts."""
    return {key.decode(): value.decode() for key, value in (field_or_schema.metadata or {}).items()}


def digits_of(field: pa.Field) -> int:
    """Return the decimals that a column's numbers are printed with."""
    return int(metadata_of(field).get("digits", "0"))


def unit_of(field: pa.Field) -> str:
    """Return a column's unit, empty for none."""
    return metadata_of(field).get("unit", "")


def _field(column: Column, provenance: Provenance) -> pa.Field:
    metadata = {
        "unit": provenance.currency if column.unit == "currency" else column.unit,
        "text": column.text,
        "group": column.group,
        "digits": str(column.digits),
    }
    if column.source:
        metadata["source"] = column.source
    group = COLUMNS[base_name(column.name)].group if column.group == "site" else column.group
    if group in (*_ROBUST_GROUPS, "nominal", "figure"):
        robust = group in _ROBUST_GROUPS
        statistic = provenance.statistic if robust else "nominal"
        if len(provenance.sites) > 1 and not column.site:
            statistic += ", " + (provenance.across if group in ("objective", "nominal") else WORST_SITE)
        metadata["statistic"] = statistic
        metadata["samples"] = str(provenance.samples if robust else 1)
        metadata["sites"] = json.dumps([column.site] if column.site else list(provenance.sites))
    kind = _KEY_TYPES.get(column.name, _TYPES[column.type])
    return pa.field(column.name, kind, nullable=column.name not in KEYS, metadata=metadata)


def _trial_of(row: Row) -> int:
    trial = row.get("trial")
    if not isinstance(trial, int) or isinstance(trial, bool) or trial < 0:
        raise RowError(f"a row needs a trial number, a whole number from 0, but has {trial!r}")
    return trial


def _check(row: Row, known: frozenset[str]) -> None:
    if not known.issuperset(row):
        raise RowError(f"trial {row['trial']}: no such column: {', '.join(sorted(set(row) - known))}")
    for name, value in row.items():
        if isinstance(value, float) and not math.isfinite(value):
            raise RowError(f"trial {row['trial']}: {name} is {value}; a number that there is none of is null")
