"""A comparison of fronts as tables: how each stands, the best of each objective, what only one has."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence

import pyarrow as pa

from boilerfront.results.compare import Comparison, Standing
from boilerfront.results.resolution import RESOLUTION
from boilerfront.results.schema import added_field, digits_of, unit_of
from boilerfront.results.show import as_text
from boilerfront.shared.folding import folded
from boilerfront.shared.shapes import Bools

RUN = "run"
Cell = float | int | None

_MARKS = (
    added_field(RUN, pa.string(), unit="", text="the run whose front it is on"),
    added_field("dominated", pa.bool_(), unit="", text="whether the front of another run dominates it"),
    added_field(
        "unmatched", pa.bool_(), unit="", text="whether no other run comes within a difference of it"
    ),
)


def comparison_text(comparison: Comparison, *, width: int) -> Iterator[str]:
    """Yield the comparison in pieces of at most `width` columns; only what there is to say."""
    yield "How much of all that the runs found together each has:\n"
    yield as_text(standing_table(comparison), width=width, chooser="")
    yield folded(_legend(comparison), width=width) + "\n"
    if len(comparison.standings) > 2:
        yield "How much of a run's front each other one dominates:\n"
        yield as_text(coverage_table(comparison), width=width, chooser="")
    if comparison.objectives:
        yield "The best of each objective, and the families on the front:\n"
        yield as_text(best_table(comparison), width=width, chooser="")
        yield from _only_in(comparison, width)
    for caution in comparison.cautions:
        yield folded(f"caution: {caution}", width=width)


def _legend(comparison: Comparison) -> str:
    steps = [
        f"{RESOLUTION[name]:g} {_unit(name, comparison)}"
        for name in comparison.objectives
        if name in RESOLUTION
    ]
    return (
        "hypervolume: share of what all fronts together dominate; lost_without: the part of it that no other run "
        "has; dominated: share of the front that others dominate; unmatched: share of the front to which no other "
        f"run comes within a difference{' of ' if steps else ''}{', '.join(steps)}"
    )


def _unit(name: str, comparison: Comparison) -> str:
    """Return an objective's unit, which is the same in all fronts that are not empty."""
    fronts = (each.side.front for each in comparison.standings)
    return next(unit_of(front.schema.field(name)) for front in fronts if front.num_rows)


def standing_table(comparison: Comparison) -> pa.Table:
    """Return one row for each run: sizes, and shares in per cent."""
    columns: list[tuple[str, pa.DataType, str, str, Callable[[Standing], Cell]]] = [
        ("designs", pa.int64(), "", "designs evaluated", lambda s: s.side.designs),
        ("front", pa.int64(), "", "designs on its front", lambda s: s.side.front.num_rows),
        ("hypervolume", pa.float64(), "%", "of that of all fronts", lambda s: 100 * s.hypervolume),
        ("lost_without", pa.float64(), "%", "of that of all fronts", lambda s: 100 * s.alone),
        ("dominated", pa.float64(), "%", "of its front, by others", lambda s: _percent(s.dominated)),
        ("unmatched", pa.float64(), "%", "of its front", lambda s: _percent(s.unmatched)),
    ]
    table = _names(comparison)
    for name, kind, unit, text, cell in columns:
        field = added_field(name, kind, unit=unit, text=text, digits=1)
        table = table.append_column(field, pa.array([cell(each) for each in comparison.standings], kind))
    return table


def coverage_table(comparison: Comparison) -> pa.Table:
    """Return one row for each run with what share of its front each other dominates, in per cent."""
    table = _names(comparison)
    for k, by in enumerate(comparison.standings):
        cells = [
            None if j == k else _percent(each.dominated_by[:, k])
            for j, each in enumerate(comparison.standings)
        ]
        text = f"of the front, dominated by {by.side.name}"
        field = added_field(f"by {by.side.name}", pa.float64(), unit="%", text=text, digits=1)
        table = table.append_column(field, pa.array(cells, pa.float64()))
    return table


def best_table(comparison: Comparison) -> pa.Table:
    """Return one row for each run: the least of each objective, and how many designs of each family."""
    table = _names(comparison)
    fronts = [each.side.front for each in comparison.standings]
    for name in comparison.objectives:
        own = next(front.schema.field(name) for front in fronts if front.num_rows)
        field = added_field(
            name, pa.float64(), unit=unit_of(own), text=f"least {name}", digits=digits_of(own)
        )
        cells = [min(front[name].to_pylist()) if front.num_rows else None for front in fronts]
        table = table.append_column(field, pa.array(cells, pa.float64()))
    field = added_field("families", pa.string(), unit="", text="designs on the front by architecture")
    return table.append_column(field, pa.array([_families(front) for front in fronts]))


def union_table(comparison: Comparison) -> pa.Table:
    """Return all fronts one below the other, with their run, and whether others dominate or match a design.

    Columns that the runs share come first. A unit in which they differ is named for all.
    """
    parts = []
    for standing in comparison.standings:
        front = standing.side.front
        if front.num_rows:
            columns = {
                RUN: pa.array([standing.side.name] * front.num_rows),
                "dominated": pa.array(standing.dominated),
                "unmatched": pa.array(standing.unmatched),
            }
            own = dict(zip(front.column_names, front.columns, strict=True))
            parts.append(pa.table({**columns, **own}, schema=pa.schema([*_MARKS, *front.schema])))
    if not parts:
        return pa.schema(_MARKS).empty_table()
    table = pa.concat_tables(parts, promote_options="default")
    fields = [_of_all(field, [part.schema for part in parts]) for field in table.schema]
    return table.cast(pa.schema(fields))


def _of_all(field: pa.Field, schemas: Sequence[pa.Schema]) -> pa.Field:
    """Return a field that names every unit in which the runs have it."""
    units = dict.fromkeys(unit_of(s.field(field.name)) for s in schemas if field.name in s.names)
    if len(units) < 2:
        return field
    return field.with_metadata({**(field.metadata or {}), b"unit": " or ".join(units).encode()})


def _only_in(comparison: Comparison, width: int) -> Iterator[str]:
    """Yield what each run has that the others have not: families, and the designs that are farthest ahead."""
    kinds = {each.side.name: set(_kinds(each.side.front)) for each in comparison.standings}
    for run, own in kinds.items():
        elsewhere = set[str]().union(*(theirs for other, theirs in kinds.items() if other != run))
        for kind in sorted(own - elsewhere):
            yield folded(f"{kind} is on the front of {run} alone", width=width) + "\n"
    for standing in comparison.standings:
        places = standing.leaders()
        if not places or not any(len(each.values) for each in comparison.standings if each is not standing):
            continue
        count, front = int(standing.unmatched.sum()), standing.side.front
        lead = (
            f"{standing.side.name} has {count:,} of {front.num_rows:,} designs to which the others have no equal; "
            "farthest ahead, in differences:"
        )
        yield folded(lead, width=width) + "\n"
        few = front.select(["trial"]).take(places)
        ahead = added_field(
            "ahead", pa.float64(), unit="", text="differences to the next of others", digits=1
        )
        few = few.append_column(ahead, pa.array(standing.lead[places]))
        for name in (*comparison.objectives, "architecture"):
            few = few.append_column(front.schema.field(name), front[name].take(places))
        yield as_text(few, width=width, chooser="")


def _kinds(front: pa.Table) -> list[str]:
    return list(front["architecture"].to_pylist()) if front.num_rows else []


def _families(front: pa.Table) -> str | None:
    counts = Counter(_kinds(front)).most_common()
    return ", ".join(f"{kind} {count:,}" for kind, count in counts) or None


def _names(comparison: Comparison) -> pa.Table:
    names = pa.array([each.side.name for each in comparison.standings])
    return pa.table([names], schema=pa.schema([_MARKS[0]]))


def _percent(mask: Bools) -> float | None:
    return 100.0 * float(mask.mean()) if len(mask) else None
