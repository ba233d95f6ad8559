"""Fronts of several runs side by side: what one has that the others have not.

Objectives are compared where all runs have them in one unit. Shares are those of the hypervolume of all fronts
together, objectives scaled from the best (0) to the worst (1) of all, the reference a tenth beyond the worst.
A front's share that another dominates is the coverage of E. Zitzler and L. Thiele ("Multiobjective optimization
using evolutionary algorithms - a comparative case study", PPSN V, 1998; from memory). A design is unmatched
where no other run has one that is as good in every objective but for what may be called a difference.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import moocore
import numpy as np
import pyarrow as pa

from boilerfront.results.resolution import RESOLUTION
from boilerfront.results.schema import group_of, metadata_of, unit_of
from boilerfront.results.subset import scaled_to_range
from boilerfront.shared.errors import InputError
from boilerfront.shared.shapes import Bools, Floats

BEYOND_WORST = 0.1
SMALLEST_SHARE = 0.01
"""What counts as a difference in an objective of which we know none: this share of its range."""
LEADERS = 3
"""Designs of each run that are shown for what the others lack."""

_MEANINGS = {"statistic": "what the objectives are", "samples": "machines a design", "sites": "sites"}
"""Metadata that must agree for figures to mean the same, in words."""


@dataclass(frozen=True)
class Side:
    """One run's front, exact, and how many designs were evaluated for it."""

    name: str
    front: pa.Table
    designs: int


@dataclass(frozen=True)
class Standing:
    """How one front stands against the others.

    `values` [front, objectives]: the objectives in what may be called a difference. `dominated_by`
    [front, sides]: by which front. `lead` [front]: how many differences the nearest design of another run is
    worse by, in the objective in which it is worst. `hypervolume`: the front's share of that of all, from 0 to
    1; `alone`: the part of that of all that is lost without it.
    """

    side: Side
    values: Floats
    dominated_by: Bools
    lead: Floats
    hypervolume: float
    alone: float

    @property
    def dominated(self) -> Bools:
        """Return whether some other front dominates a design [front]; the rest is on the front of all."""
        return np.asarray(self.dominated_by.any(axis=1))

    @property
    def unmatched(self) -> Bools:
        """Return whether no other run comes within a difference of a design [front]."""
        return np.asarray(self.lead > 1.0)

    def leaders(self) -> list[int]:
        """Return the places of a few unmatched designs, those first that the others come least near to.

        Each next one is judged as if the others had those before it: so they are not all of one kind.
        """
        lead = self.lead.copy()
        places: list[int] = []
        while len(places) < LEADERS and len(lead) and lead.max() > 1.0:
            best = int(np.argmax(lead))
            places.append(best)
            lead = np.minimum(lead, (self.values[best] - self.values).max(axis=1))
        return places


@dataclass(frozen=True)
class Comparison:
    """All fronts, the objectives in which they were compared, and what to be careful about."""

    objectives: tuple[str, ...]
    standings: tuple[Standing, ...]
    cautions: tuple[str, ...]


def compare(sides: Sequence[Side]) -> Comparison:
    """Compare two or more fronts; an empty one has no share.

    Raises `InputError` where those that are not empty have no objective in common.
    """
    there = [side for side in sides if side.front.num_rows]
    names = _common_objectives(there)
    if there and not names:
        raise InputError("these runs have no objective in common that is in one unit")
    sides = [_reduced(side, names) for side in sides]
    raw = [_values(side.front, names) for side in sides]
    steps = _steps(np.concatenate(raw), names)
    values = [each / steps for each in raw]
    ends = np.cumsum([len(each) for each in values])[:-1]
    scaled = np.split(scaled_to_range(np.concatenate(raw)), ends)
    standings = []
    for k, side in enumerate(sides):
        rest = [j for j in range(len(sides)) if j != k]
        dominated_by = np.zeros((len(values[k]), len(sides)), dtype=bool)
        for j in rest:
            dominated_by[:, j] = _dominated(values[k], values[j])
        lead = _lead(values[k], np.concatenate([values[j] for j in rest]))
        alone = 1.0 - _share(scaled, rest) if there else 0.0
        standings.append(Standing(side, values[k], dominated_by, lead, _share(scaled, [k]), alone))
    return Comparison(tuple(names), tuple(standings), tuple(_cautions(there, names)))


def _common_objectives(sides: Sequence[Side]) -> list[str]:
    """Return the objectives that all sides have in one unit, in the first one's order."""
    schemas = [side.front.schema for side in sides]
    return [
        name
        for name in (group_of(schemas[0], "objective") if schemas else ())
        if all(name in group_of(schema, "objective") for schema in schemas)
        and len({unit_of(schema.field(name)) for schema in schemas}) == 1
    ]


def _reduced(side: Side, names: Sequence[str]) -> Side:
    """Return a side with what is left of its front when the objectives `names` alone count."""
    if not side.front.num_rows or list(names) == group_of(side.front.schema, "objective"):
        return side
    kept = moocore.is_nondominated(_values(side.front, names), keep_weakly=True)
    return replace(side, front=side.front.filter(pa.array(np.asarray(kept, dtype=bool))))


def _values(front: pa.Table, names: Sequence[str]) -> Floats:
    """Return objectives [front, objectives]."""
    if not front.num_rows:
        return np.empty((0, len(names)))
    return np.column_stack([np.asarray(front[name].to_numpy(zero_copy_only=False), float) for name in names])


def _steps(values: Floats, names: Sequence[str]) -> Floats:
    """Return what counts as a difference in each objective."""
    spread = np.ptp(values, axis=0) if len(values) else np.zeros(len(names))
    known = [RESOLUTION.get(name, SMALLEST_SHARE * width) for name, width in zip(names, spread, strict=True)]
    return np.array([step or 1.0 for step in known])


def _dominated(values: Floats, by: Floats) -> Bools:
    """Return whether a row of `by` is no worse than a row of `values` in anything and better in something."""
    if not len(values) or not len(by):
        return np.zeros(len(values), dtype=bool)
    # Rows of one front do not dominate one another, so what dominates in both together is the other's.
    kept = moocore.is_nondominated(np.concatenate([values, by]), keep_weakly=True)
    return ~np.asarray(kept[: len(values)], dtype=bool)


def _lead(values: Floats, others: Floats) -> Floats:
    """Return how much every row of `others` is worse than a row of `values`, in its worst objective, at least."""
    if not len(others):
        return np.full(len(values), np.inf)
    # A row for each objective and room that is used again: what is looked at stays near the processor.
    columns = np.ascontiguousarray(others.T)
    worst, change = np.empty(len(others)), np.empty(len(others))
    lead = np.empty(len(values))
    for row, own in enumerate(values):
        np.subtract(columns[0], own[0], out=worst)
        for k in range(1, len(columns)):
            np.subtract(columns[k], own[k], out=change)
            np.maximum(worst, change, out=worst)
        lead[row] = worst.min()
    return lead


def _share(scaled: Sequence[Floats], which: Sequence[int]) -> float:
    """Return the hypervolume of some fronts together as a share of that of all."""
    whole = _volume(np.concatenate(scaled))
    return _volume(np.concatenate([scaled[k] for k in which])) / whole if whole else 0.0


def _volume(scaled: Floats) -> float:
    if not len(scaled):
        return 0.0
    return float(moocore.hypervolume(scaled, ref=np.full(scaled.shape[1], 1.0 + BEYOND_WORST)))


def _cautions(sides: Sequence[Side], names: Sequence[str]) -> Iterator[str]:
    """Yield in what the objectives of the runs do not mean the same."""
    schemas = {side.name: side.front.schema for side in sides}
    for name in dict.fromkeys(n for schema in schemas.values() for n in group_of(schema, "objective")):
        if name not in names:
            units = {
                run: unit_of(schema.field(name)) if name in schema.names else "none"
                for run, schema in schemas.items()
            }
            yield f"{name} is left out, it is not in one unit: {_by_run(units)}"
    for key, words in _MEANINGS.items():
        found = {run: _meaning(schema, names, key) for run, schema in schemas.items()}
        if len(set(found.values())) > 1:
            yield f"{words}: {_by_run(found)}"


def _meaning(schema: pa.Schema, names: Sequence[str], key: str) -> str:
    """Return what the objectives' metadata say, each thing once."""
    texts = dict.fromkeys(metadata_of(schema.field(name)).get(key, "not said") for name in names)
    if key == "sites":
        texts = dict.fromkeys(" and ".join(json.loads(text)) if text[:1] == "[" else text for text in texts)
    return ", ".join(texts)


def _by_run(texts: Mapping[str, str]) -> str:
    return "; ".join(f"{run}: {text}" for run, text in texts.items())
