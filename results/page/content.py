"""What a page shows of a run: which designs, their marks, traces, the growth of the front, influence, settings."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from boilerfront.model.brief import Brief
from boilerfront.model.variables import Value
from boilerfront.results.front import (
    feasible_count,
    front_of,
    hypervolume,
    objective_values,
    read_convergence,
    reference_of,
)
from boilerfront.results.knee import heights
from boilerfront.results.ledger import read_run
from boilerfront.results.page.influence import Influence, influence
from boilerfront.results.page.labels import Family, Label, families_of, label_of
from boilerfront.results.page.settings import Rows, sections_of
from boilerfront.results.page.traced import MOST_TRACED, ThinTrace, traces_of
from boilerfront.results.picks import kept_picks, proposed_picks
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.schema import group_of
from boilerfront.results.subset import hypervolume_subset
from boilerfront.shared.errors import Fault, InputError
from boilerfront.shared.shapes import Bools, Ints

MOST_DESIGNS = 2_000
"""More than these make a page slow; of a larger front a subset is shown, and the page says so."""
FEWEST_OF_A_FAMILY = 50
"""Trials that a family needs for an influence of its own."""

NOT_ON_FRONT = "not on the front"


@dataclass(frozen=True)
class Mark:
    """Why a design is worth a look: the letter and note of a pick, or what it is best in."""

    letter: str = ""
    kept: bool = False
    note: str = ""
    tags: tuple[str, ...] = ()


@dataclass(frozen=True)
class Content:
    """All that a page is made of; `table` has the designs shown, [rows], every column of the ledger.

    Traces are those of the first of `sites`.
    """

    run: str
    sites: tuple[str, ...]
    table: pa.Table
    labels: tuple[Label, ...]
    trials: int
    feasible: int
    front_size: int
    kept_share: float
    """Share of the front's hypervolume that the designs shown have."""
    families: tuple[Family, ...]
    marks: Mapping[int, Mark]
    traces: Mapping[int, ThinTrace]
    convergence: pa.Table
    influences: tuple[Influence, ...]
    settings: Sequence[tuple[str, Rows]]
    notes: tuple[str, ...]

    def of_group(self, group: str) -> list[Label]:
        """Return the columns of a group; what single sites have of their own is the group "site"."""
        return [each for each in self.labels if each.group == group]


def content_of(run: RunFolder, brief: Brief | None, *, why_no_traces: str = "") -> Content:
    """Read a run for its page; without a `brief` no design has traces, and the page says why.

    Raises `InputError` when the file of kept picks or the sweep file cannot be read.
    """
    ledger = read_run(run)
    trials = ledger.table
    front, notes = front_of(run, trials)
    sweep = _read_sweep(run)
    marks = _marks(run, front)
    shown = front.take(
        hypervolume_subset(objective_values(front), MOST_DESIGNS, always=_places(front, marks).tolist())
    )
    table = _with_picks(shown, trials, marks)
    designs = _traced(table, marks) if brief else {}
    return Content(
        run=run.name,
        sites=_sites(sweep),
        table=table,
        labels=tuple(label_of(field) for field in table.schema),
        trials=trials.num_rows,
        feasible=feasible_count(trials),
        front_size=front.num_rows,
        kept_share=_kept_share(front, shown),
        families=tuple(families_of(_compared(sweep), _words(table, "architecture"))),
        marks={trial: mark for trial, mark in marks.items() if trial in set(_words(table, "trial"))},
        traces=traces_of(designs, brief) if brief else {},
        convergence=read_convergence(run.convergence),
        influences=tuple(_influences(trials)),
        settings=sections_of(sweep),
        notes=(*ledger.messages, *notes, *([why_no_traces] if why_no_traces else [])),
    )


def _read_sweep(run: RunFolder) -> dict[str, Any]:
    try:
        return tomllib.loads(run.sweep_file.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise InputError([Fault(str(run.sweep_file), str(error), "the run's frozen sweep")]) from None


def _compared(sweep: Mapping[str, Any]) -> list[str]:
    """Return the architectures that a sweep compares."""
    named = sweep.get("variables", {}).get("architecture", ())
    return [named] if isinstance(named, str) else list(dict(named or {}).get("choices", ()))


def _sites(sweep: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the names of the sites that a sweep is for; of several the first is the one of the traces."""
    several = sweep.get("sites", {})
    return tuple(several) if several else (str(sweep.get("site", {}).get("name", "")),)


def _words(table: pa.Table, name: str) -> list[Any]:
    return table[name].to_pylist() if name in table.column_names else []


def _marks(run: RunFolder, front: pa.Table) -> dict[int, Mark]:
    """Return the designs worth a look by trial: those with a letter, then the knee and the best of each."""
    kept, proposed = kept_picks(run), proposed_picks(run)
    on_front = set(_words(front, "trial"))
    marks = {
        pick.trial: Mark(letter, letter in kept, pick.note, () if pick.trial in on_front else (NOT_ON_FRONT,))
        for letter, pick in {**proposed, **kept}.items()
    }
    for place, tag in _outstanding(front):
        trial = front["trial"][place].as_py()
        mark = marks.get(trial, Mark())
        marks[trial] = replace(mark, tags=(*mark.tags, tag))
    return marks


def _outstanding(front: pa.Table) -> Iterator[tuple[int, str]]:
    """Yield the place of the knee, of the best in each objective, and of each family's knee."""
    if not front.num_rows:
        return
    values = objective_values(front)
    yield int(np.argmin(heights(values))), "knee"
    for column, name in enumerate(group_of(front.schema, "objective")):
        label = label_of(front.schema.field(name))
        yield int(np.argmin(values[:, column])), f"lowest {label.label}"
    families = np.array(_words(front, "architecture"))
    for family in sorted(set(families)) if len(set(families)) > 1 else ():
        (own,) = np.nonzero(families == family)
        yield int(own[np.argmin(heights(values)[own])]), f"knee of {family.replace('_', ' ')}"


def _places(table: pa.Table, trials: Iterable[int]) -> Ints:
    """Return where the rows of those trials stand, ascending; a trial that is not there has no place."""
    return np.flatnonzero(np.isin(np.array(_words(table, "trial"), dtype=np.int64), list(trials)))


def _with_picks(shown: pa.Table, trials: pa.Table, marks: Mapping[int, Mark]) -> pa.Table:
    """Return the designs shown and those with a letter that are not on the front, sorted by trial."""
    there = set(_words(shown, "trial"))
    missing = [trial for trial, mark in marks.items() if mark.letter and trial not in there]
    more = trials.take(_places(trials, missing))
    if not more.num_rows:
        return shown
    table = pa.concat_tables([shown, more.select(shown.column_names).cast(shown.schema)]) if there else more
    return table.sort_by("trial").combine_chunks()


def _kept_share(front: pa.Table, shown: pa.Table) -> float:
    if shown.num_rows == front.num_rows:
        return 1.0
    values = objective_values(front)
    reference = reference_of(values)
    return hypervolume(objective_values(shown), reference) / hypervolume(values, reference)


def _traced(table: pa.Table, marks: Mapping[int, Mark]) -> dict[int, dict[str, Value]]:
    """Return the designs that get traces: marked ones, then those that stand for the most of the others."""
    known: Bools = np.asarray(np.isfinite(objective_values(table)).all(axis=1))
    (usable,) = np.nonzero(known)
    marked = _places(table, marks)
    first = np.flatnonzero(np.isin(usable, marked))
    chosen = usable[hypervolume_subset(objective_values(table)[usable], MOST_TRACED, always=first.tolist())]
    places = np.union1d(chosen, marked)
    rows = table.select(["trial", *group_of(table.schema, "variable")]).take(places).to_pylist()
    return {row.pop("trial"): row for row in rows}


def _influences(trials: pa.Table) -> Iterator[Influence]:
    """Yield the influence over all trials, and of each family that has enough of them."""
    if not trials.num_rows:
        return
    variables, objectives = group_of(trials.schema, "variable"), group_of(trials.schema, "objective")
    yield influence(trials, variables, objectives, title="all families")
    families = sorted(set(_words(trials, "architecture")))
    for family in families if len(families) > 1 else ():
        own = trials.filter(pc.equal(trials["architecture"], family))
        if own.num_rows >= FEWEST_OF_A_FAMILY:
            yield influence(own, variables, objectives, title=family.replace("_", " "))
