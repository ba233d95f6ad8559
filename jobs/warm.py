"""A warm start: an earlier run's trials that mean the same here, as the first rows of a new run's ledger.

Taken trials are numbered from 0 in their old order, in generation -1, before the first trial of the run's own.
They count neither for the budget nor as evaluated; the sampler is told them before it plans anything.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from boilerfront.jobs.frozen import cpu_type, differences, versions
from boilerfront.jobs.ranges import ChoiceList, NumberRange, Range, columns
from boilerfront.jobs.sweep import Sweep
from boilerfront.model.variables import VARIABLES, base_name
from boilerfront.results.front import front_table
from boilerfront.results.ledger import read_run
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.schema import group_of
from boilerfront.shared.errors import Fault, InputError

TAKEN_GENERATION = -1
MOST_TOLD = 20_000
"""Rows."""
_WITHOUT_FIGURES = ("variables.", "search.")
_STEPS_OFF = 1e-6  # of a step: rounding of a value that stands on its grid

Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Taken:
    """The rows that a new run begins with, and what was taken and what not, in words."""

    table: pa.Table
    messages: tuple[str, ...]


def taken_trials(source: RunFolder, theirs: Sweep, ours: Sweep, schema: pa.Schema) -> Taken:
    """Return the trials of the run `source`, of the sweep `theirs`, that are designs of `ours` as well.

    Trials with a fault are left: another machine may rate them. Raises `InputError` where figures of the two
    sweeps do not mean the same, where another version wrote other columns, and where nothing is left.
    """
    _refuse_other_figures(source, theirs, ours)
    loaded = read_run(source)
    table = loaded.table
    if not table.num_rows:
        raise InputError(
            [Fault("--from", f"{source.path}, which has no trials", "a run that evaluated some")]
        )
    _refuse_other_columns(source, table.schema, schema)
    left: list[tuple[int, str]] = []
    keep: Flags = np.ones(table.num_rows, dtype=np.bool_)
    for why, fits in _tests(table, ours):
        lost = int((keep & ~fits).sum())
        if lost:
            left.append((lost, why))
        keep &= fits
    if not keep.any():
        reasons = "; ".join(f"{count:,} with {why}" for count, why in left)
        raise InputError([Fault("--from", f"{source.path}: {reasons}", "a run with designs of this sweep")])
    kept = _renumbered(table.filter(pa.array(keep)), schema)
    said = f"took {kept.num_rows:,} of {table.num_rows:,} trials of {source.path}"
    if left:
        said += "; left there: " + ", ".join(f"{count:,} with {why}" for count, why in left)
    return Taken(kept, (said, *_cautions(theirs), *loaded.messages))


def guiding(table: pa.Table) -> pa.Table:
    """Return the taken rows that the sampler is told: all, or of very many the front and some from all along.

    It keeps far fewer itself, and this bounds what a start costs.
    """
    if table.num_rows <= MOST_TOLD:
        return table
    spread = np.linspace(0, table.num_rows - 1, MOST_TOLD // 2).astype(np.int64)
    front = front_table(table)["trial"].to_numpy()
    best = front[np.linspace(0, len(front) - 1, min(len(front), MOST_TOLD // 2)).astype(np.int64)]
    return table.take(np.union1d(spread, best - table["trial"][0].as_py()))


def _refuse_other_figures(source: RunFolder, theirs: Sweep, ours: Sweep) -> None:
    changed = [
        each for each in differences(ours, theirs) if not (each.where + ".").startswith(_WITHOUT_FIGURES)
    ]
    if not changed:
        return
    lines = "\n".join(f"  {each.where}: {each.allowed} there, {each.found} here" for each in changed)
    hint = ""
    if all(each.where.startswith("prices.") for each in changed):
        hint = f"\nFirst take it to these prices: boilerfront reprice {source.path} PRICES.csv"
    raise InputError(f"--from {source.path}: its figures mean something else; what differs:\n{lines}{hint}")


def _refuse_other_columns(source: RunFolder, theirs: pa.Schema, ours: pa.Schema) -> None:
    """Raise `InputError` where a computed column is missing there or unknown here."""
    variables = set(group_of(theirs, "variable")) | set(group_of(ours, "variable"))
    differing = sorted((set(theirs.names) ^ set(ours.names)) - variables)
    if differing:
        found = f"{source.path}, which another version of boilerfront wrote"
        raise InputError([Fault("--from", found, f"a run with the same columns; differing: {differing[0]}")])


def _tests(table: pa.Table, sweep: Sweep) -> list[tuple[str, Flags]]:
    """Return for each thing that may keep a trial away its name, and which rows pass it."""
    named = columns(sweep.variables)
    kinds = table["architecture"].to_pylist()
    tests = [("a fault", ~_flags(pc.is_valid(table["fault"])))]
    for name in dict.fromkeys((*named, *group_of(table.schema, "variable"))):
        having = VARIABLES[base_name(name)].architectures
        counts = np.array([kind in having for kind in kinds], dtype=np.bool_)
        values = table[name] if name in table.column_names else pa.nulls(table.num_rows)
        fits = _inside(values, sweep.variables[name] if name in named else None)
        given = _flags(pc.is_valid(values))
        tests.append((f"another {name}", np.where(counts, fits, ~given)))
    return tests


def _inside(values: pa.ChunkedArray | pa.Array, wanted: Range | None) -> Flags:
    """Return which values the sweep may choose; where it has no such variable, none at all stands there."""
    if wanted is None:
        return ~_flags(pc.is_valid(values))
    if pa.types.is_null(values.type):
        return np.zeros(len(values), dtype=np.bool_)
    if isinstance(wanted, ChoiceList):
        return _flags(pc.is_in(values, pa.array(list(wanted.choices), values.type)))
    numbers = np.asarray(values.to_numpy(zero_copy_only=False), dtype=np.float64)
    return _in_range(numbers, wanted)


def _in_range(numbers: NDArray[np.float64], wanted: NumberRange) -> Flags:
    inside = (numbers >= wanted.low) & (numbers <= wanted.high)  # NaN, which stands for null, is not
    if wanted.step is not None:
        steps = (numbers - wanted.low) / wanted.step
        inside &= np.abs(steps - np.rint(steps)) <= _STEPS_OFF
    return np.asarray(inside)


def _flags(column: pa.ChunkedArray | pa.Array) -> Flags:
    return np.asarray(column.to_numpy(zero_copy_only=False), dtype=np.bool_)


def _renumbered(table: pa.Table, schema: pa.Schema) -> pa.Table:
    own = {
        "trial": pa.array(np.arange(table.num_rows), pa.int64()),
        "generation": pa.array(np.full(table.num_rows, TAKEN_GENERATION), pa.int32()),
    }
    arrays = [
        own[each.name]
        if each.name in own
        else table[each.name].cast(each.type)
        if each.name in table.column_names
        else pa.nulls(table.num_rows, each.type)
        for each in schema
    ]
    return pa.Table.from_arrays(arrays, schema=schema)


def _cautions(theirs: Sweep) -> tuple[str, ...]:
    """Return a sentence where the taken figures were computed by something else than what runs here."""
    if theirs.run is None:
        return ()
    here = {**versions(), "CPU": cpu_type()}
    there = {**theirs.run.versions, "CPU": theirs.run.cpu}
    changed = [
        f"{name} {there.get(name)}, here {now}" for name, now in here.items() if there.get(name) != now
    ]
    return (f"the trials taken were computed with {'; '.join(changed)}",) if changed else ()
