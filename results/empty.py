"""Why an answer is empty: which condition emptied it, and which designs come nearest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from boilerfront.results.condition import Condition, Term
from boilerfront.results.sandbox import Sandbox
from boilerfront.results.schema import metadata_of

NEAREST = 3
"""How many of the nearest designs are shown."""

_MISSED = 1.0
"""Distance of a row from a term that has no measure: as the farthest row's from one that has."""


@dataclass(frozen=True)
class Emptiness:
    """Sentences about an empty answer, and the places of the nearest rows, nearest first."""

    notes: tuple[str, ...]
    nearest: tuple[int, ...]


def explain_empty(condition: Condition, table: pa.Table, sandbox: Sandbox) -> Emptiness:
    """Say, for a condition that no row of `table` meets, how many rows meet each term alone and all others.

    A term that every row meets is not named.

    The nearest rows are those of the least distance: the root of the sum of squares of what is missing of
    each term, relative to the most that any row misses of it; a term without a measure counts as 1 when it is
    missed.
    """
    met = np.array([_true(mask) for mask in sandbox.evaluate([term.text for term in condition.terms])])
    gaps = np.array([_gap(term, ok, sandbox) for term, ok in zip(condition.terms, met, strict=True)])
    notes = []
    for k, term in enumerate(condition.terms):
        alone, others = int(met[k].sum()), int(np.delete(met, k, axis=0).all(axis=0).sum())
        if alone < table.num_rows:
            notes.append(_sentence(term, alone=alone, others=others, of=table.num_rows))
    unknown = [_unknown_text(term, table) for term in condition.terms]
    notes += [note for note in unknown if note]
    # Where a text is all that is out of reach, every row misses it by as much.
    if any(unknown) and all(note or ok.any() for note, ok in zip(unknown, met, strict=True)):
        return Emptiness(tuple(notes), ())
    # A row that lacks what a term measures, such as a coil, is no nearer by any change of its own.
    is_measured = np.isfinite(gaps).any(axis=1, keepdims=True)
    has_all = (np.isfinite(gaps) | ~is_measured).all(axis=0)
    order = np.argsort(_distance(gaps, met), kind="stable")
    nearest = order[has_all[order]][:NEAREST] if has_all.any() else order[:NEAREST]
    units = [_unit(term, table) for term in condition.terms]
    for place in nearest:
        missed = [
            f"{term.text}{_by(gaps[k, place], units[k])}"
            for k, term in enumerate(condition.terms)
            if not met[k, place]
        ]
        notes.append(f"near: trial {table['trial'][int(place)]} misses {' and '.join(missed)}")
    return Emptiness(tuple(notes), tuple(map(int, nearest)))


def _unknown_text(term: Term, table: pa.Table) -> str | None:
    """Return which texts a column has, where a term asks it for one that no row has."""
    if term.equals is None or term.column is None:
        return None
    values = sorted(value for value in table[term.column].unique().to_pylist() if isinstance(value, str))
    if not values or term.equals in values:
        return None
    return f"{term.column} has no '{term.equals}' here, only {', '.join(values)}"


def _by(gap: float, unit: str) -> str:
    """Return how much is missing; of a strict term nothing may be, where the value is the bound itself."""
    if not np.isfinite(gap):
        return ""
    return f" by {gap:.3g}{unit}" if gap > 0.0 else " by being equal"


def _sentence(term: Term, *, alone: int, others: int, of: int) -> str:
    if not alone:
        return f"no design of {of} meets {term.text}"
    return f"{alone} of {of} meet {term.text}; without it {others} would be left"


def _true(mask: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    return np.asarray(np.ma.filled(mask, False), dtype=bool)


def _gap(term: Term, met: npt.NDArray[np.bool_], sandbox: Sandbox) -> npt.NDArray[np.float64]:
    """Return what each row lacks of a term; NaN where that has no measure."""
    if term.gap is None:
        return np.where(met, 0.0, np.nan)
    (values,) = sandbox.evaluate([term.gap])
    return np.asarray(np.ma.filled(values.astype(np.float64), np.nan))


def _distance(gaps: npt.NDArray[np.float64], met: npt.NDArray[np.bool_]) -> npt.NDArray[np.float64]:
    measured = np.where(np.isfinite(gaps), gaps, 0.0)
    largest = measured.max(axis=1, keepdims=True)
    relative = measured / np.where(largest > 0, largest, 1.0)
    relative = np.where(np.isfinite(gaps) | met, relative, _MISSED)
    return np.asarray(np.sqrt((relative**2).sum(axis=0)))


def _unit(term: Term, table: pa.Table) -> str:
    if term.column is None:
        return ""
    unit = metadata_of(table.schema.field(term.column)).get("unit", "")
    return f" {unit}" if unit else ""
