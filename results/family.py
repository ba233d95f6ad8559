"""Why a family (an architecture) is on the front or not: what dominates it, what it breaks, why it fails.

A family's best designs are those that are feasible and that no other of its own dominates. Each that is not on the
front is dominated by some design there; named is the nearest of these, whose largest advantage, counted in
differences that deserve the word, is smallest: the least that stands between the two.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from boilerfront.model.variables import FAMILIES
from boilerfront.results.front import front_table, objective_values
from boilerfront.results.resolution import RESOLUTION
from boilerfront.results.schema import added_field, digits_of, group_of, unit_of
from boilerfront.results.show import cell_text, value_text
from boilerfront.shared.errors import Fault, InputError
from boilerfront.shared.shapes import Floats

CHANGE = "change_"
MOST_ROWS = 12
"""Best designs of a family that are shown, those nearest to the front first."""
FEW = 50
"""Fewer designs than this say little about a family: several for each of its variables (our judgement)."""
STEADINESS = "shot_deviation_K"
SHOTS = ("first_shot_K", "idle_shot_K", "fast_shot_K", "slow_shot_K", "climb_K", "within_shot_K")
"""What a deviation of the shots is made up of."""


@dataclass(frozen=True)
class Standing:
    """How a family stands: sentences, and the rows behind the last of them (None where there are none)."""

    notes: tuple[str, ...]
    table: pa.Table | None = None


def standing(trials: pa.Table, family: str, *, compared: Sequence[str]) -> Standing:
    """Return how the architecture `family` stands among all `trials`; `compared` are those of the sweep.

    Raises `InputError` for a family that nobody knows.
    """
    if family not in FAMILIES and family not in compared:
        raise InputError([Fault("--family", family, ", ".join(FAMILIES))])
    if family not in compared:
        there = ", ".join(compared)
        return Standing((f"{family}: not in this sweep, no design of it was tried; it compares {there}",))
    own = trials.filter(pc.equal(trials["architecture"], family)) if trials.num_rows else trials
    if not own.num_rows:
        return Standing((f"{family}: no design of it has been evaluated yet",))
    through = own.filter(pc.and_(pc.is_null(own["reason"]), pc.is_null(own["fault"])))
    best, front = front_table(own), front_table(trials)
    on_front = _among(best, front)
    feasible = int(pc.sum(own["feasible"]).as_py() or 0)
    counts = (
        f"{family}: {own.num_rows} designs evaluated, {through.num_rows} came through their duty, "
        f"{feasible} are feasible, {on_front.num_rows} are on the front of {front.num_rows}"
    )
    if own.num_rows < FEW:
        counts += f"; {own.num_rows} are few to judge a family by: "
        counts += f'a sweep with architecture = "{family}" alone tries more'
    if not through.num_rows:
        return _never_through(own, counts)
    if not feasible:
        return _infeasible(own, through, counts)
    notes = [counts, *_why_others_fail(own, through), *_best_values(best, front), *_unsteadiness(best)]
    beaten = best.filter(pc.invert(pc.is_in(best["trial"], on_front["trial"].combine_chunks())))
    if not beaten.num_rows:
        return Standing(tuple(notes))
    places, advantages = _dominators(beaten, front)
    if not on_front.num_rows:
        kinds = [front["architecture"][place].as_py() for place in places]
        notes.append(_who_dominates(kinds, family))
    notes.append(
        "the nearest design of the front that dominates each, and its figures less those of the other:"
    )
    return Standing(tuple(notes), _dominated(beaten, front, places, advantages))


def _among(rows: pa.Table, others: pa.Table) -> pa.Table:
    return rows.filter(pc.is_in(rows["trial"], others["trial"].combine_chunks())) if others.num_rows else rows


# A family that fails


def _counted_reasons(failed: pa.Table) -> str:
    """Return why designs did not come through their duty, the most frequent reason first."""
    reasons = failed["reason"].to_pylist()
    faults = failed["fault"].to_pylist()
    words = [reason or f"fault: {fault}" for reason, fault in zip(reasons, faults, strict=True)]
    return ", ".join(
        f"{word} {words.count(word)}" for word in sorted(set(words), key=words.count, reverse=True)
    )


def _did_not_come_through(own: pa.Table, through: pa.Table) -> Iterator[str]:
    """Yield the reasons of those that did not, if there are any."""
    failed = own.filter(pc.invert(pc.is_in(own["trial"], through["trial"].combine_chunks())))
    if failed.num_rows:
        yield f"  did not come through: {_counted_reasons(failed)}"


def _why_others_fail(own: pa.Table, through: pa.Table) -> Iterator[str]:
    """Yield why designs of a family that has feasible ones are not: their reasons, and the margins broken most."""
    yield from _did_not_come_through(own, through)
    broken = {name: int((_numbers(through, name) < 0.0).sum()) for name in group_of(through.schema, "margin")}
    most = [
        f"{name} {broken[name]}"
        for name in sorted(broken, key=broken.__getitem__, reverse=True)
        if broken[name]
    ]
    if most:
        yield f"  came through but broke: {', '.join(most)}"


def _unsteadiness(best: pa.Table) -> Iterator[str]:
    """Yield what the deviation of the family's steadiest design comes of, the largest part first."""
    place = int(np.argmin(_numbers(best, STEADINESS)))
    parts = {name: best[name][place].as_py() for name in SHOTS if name in best.column_names}
    known = {name: value for name, value in parts.items() if value is not None}
    said = ", ".join(
        f"{name} {cell_text(known[name], 2, signed=True)}"
        for name in sorted(known, key=lambda name: abs(known[name]), reverse=True)
    )
    if said:
        yield (
            f"  shots of its steadiest, trial {best['trial'][place].as_py()}, nominal machine "
            f"{value_text(best, f'{STEADINESS}_nominal', place)}: {said}"
        )


def _never_through(own: pa.Table, counts: str) -> Standing:
    """Count the reasons; the nearest is the one with the smallest shortfall."""
    notes = [counts, f"none comes through: {_counted_reasons(own)}"]
    order = pc.sort_indices(own, sort_keys=[("shortfall", "ascending"), ("trial", "ascending")])
    nearest = own.take(order.slice(0, MOST_ROWS))
    if nearest["shortfall"][0].as_py() is not None:
        notes.append(
            f"nearest: trial {nearest['trial'][0].as_py()}, {nearest['reason'][0].as_py()}, "
            f"short by {value_text(nearest, 'shortfall', 0)} (0 is through, 1 not at all)"
        )
    names = [*_variables(nearest), "shortfall", "reason"]
    return Standing(tuple(notes), nearest.select(["trial", *names]))


def _infeasible(own: pa.Table, through: pa.Table, counts: str) -> Standing:
    """Count the broken margins; the nearest miss breaks them by least, each relative to the family's worst miss."""
    names = group_of(through.schema, "margin")
    slack = np.column_stack([_numbers(through, name) for name in names])
    missing = np.where(np.isfinite(slack), np.maximum(-slack, 0.0), 0.0)
    broken = missing > 0.0
    heading = f"of the {through.num_rows} (of {own.num_rows}) that come through, none keeps every margin:"
    notes = [counts, *_did_not_come_through(own, through), heading]
    for k in np.argsort(-broken.sum(axis=0), kind="stable"):
        if broken[:, k].any():
            least = _amount(through, names[k], float(missing[broken[:, k], k].min()))
            notes.append(f"  {names[k]} is broken by {int(broken[:, k].sum())}, by {least} at the least")
    worst = missing.max(axis=0)
    distance = np.sqrt(((missing / np.where(worst > 0.0, worst, 1.0)) ** 2).sum(axis=1))
    order = np.argsort(distance, kind="stable")[:MOST_ROWS]
    nearest = int(order[0])
    said = " and ".join(
        f"{names[k]} by {_amount(through, names[k], float(missing[nearest, k]))}"
        for k in np.flatnonzero(broken[nearest])
    )
    notes.append(f"nearest miss: trial {through['trial'][nearest].as_py()} breaks {said}")
    shown = [names[k] for k in np.flatnonzero(broken[order].any(axis=0))]
    columns = ["trial", *shown, *group_of(through.schema, "objective"), *_variables(through)]
    return Standing(tuple(notes), through.take(order.tolist()).select(columns))


def _amount(table: pa.Table, name: str, value: float) -> str:
    field = table.schema.field(name)
    return f"{cell_text(value, max(digits_of(field), 2))} {unit_of(field)}".rstrip()


def _numbers(table: pa.Table, name: str) -> Floats:
    return np.asarray(table[name].to_numpy(zero_copy_only=False), dtype=np.float64)


def _variables(table: pa.Table) -> list[str]:
    """Return the variables that these rows have, architecture apart."""
    names = [name for name in group_of(table.schema, "variable") if name != "architecture"]
    return [name for name in names if table[name].null_count < table.num_rows]


# A family that is beaten


def _best_values(best: pa.Table, front: pa.Table) -> Iterator[str]:
    """Yield for each objective the best of the family beside the best of the front."""
    for name in group_of(front.schema, "objective"):
        own, all_of_them = int(np.argmin(_numbers(best, name))), int(np.argmin(_numbers(front, name)))
        gap = _numbers(best, name)[own] - _numbers(front, name)[all_of_them]
        said = f"  {name}: {value_text(best, name, own)} at best (trial {best['trial'][own].as_py()})"
        if gap < RESOLUTION.get(name, 0.0):
            yield f"{said}, no design is better by a difference that counts"
        else:
            there = f"{value_text(front, name, all_of_them)} (trial {front['trial'][all_of_them].as_py()}"
            yield f"{said}, the front {there}, {front['architecture'][all_of_them].as_py()})"


def _dominators(beaten: pa.Table, front: pa.Table) -> tuple[list[int], Floats]:
    """Return the nearest front design that dominates each row, and its advantage [rows, objectives]."""
    names = group_of(front.schema, "objective")
    steps = np.array([RESOLUTION.get(name, 1.0) for name in names])
    own, others = objective_values(beaten), objective_values(front)
    # By columns: reducing over the few objectives of many rows takes numpy ten times as long.
    columns = [np.ascontiguousarray(column) for column in (others / steps).T]
    places = []
    for values in own / steps:
        ahead = [value - column for value, column in zip(values, columns, strict=True)]
        size = np.where(reduce(np.minimum, ahead) >= 0.0, reduce(np.maximum, ahead), np.inf)
        places.append(int(np.argmin(size)))
    return places, own - others[places]


def _who_dominates(kinds: Sequence[str], family: str) -> str:
    """Say of which families the designs are that dominate this one's best, each by its nearest."""
    counted = ", ".join(
        f"{kind} {kinds.count(kind)}" for kind in sorted(set(kinds), key=kinds.count, reverse=True)
    )
    count = len(kinds)
    return (
        f"each of the {count} best {family} designs is dominated; the nearest that do: {counted}"
        if count > 1
        else f"the one best {family} design is dominated, by a {kinds[0]}"
    )


def _dominated(beaten: pa.Table, front: pa.Table, places: Sequence[int], advantages: Floats) -> pa.Table:
    """Return the best designs off the front with the nearest front design that dominates each, nearest first.

    The changes are the dominating design's objectives less their own: none is above zero.
    """
    names = group_of(front.schema, "objective")
    size = (advantages / [RESOLUTION.get(name, 1.0) for name in names]).max(axis=1)
    order = np.argsort(size, kind="stable")[:MOST_ROWS]
    shown = beaten.take(order.tolist()).select(["trial", *names, *_variables(beaten)])
    by = front.take([places[k] for k in order])
    changes = [
        (
            added_field(
                CHANGE + name,
                pa.float64(),
                unit=unit_of(front.schema.field(name)),
                text=f"{name} of the dominating design less that of this one",
                digits=digits_of(front.schema.field(name)),
                signed=True,
            ),
            pa.array(-advantages[order, k] + 0.0),
        )
        for k, name in enumerate(names)
    ]
    kinds = added_field("dominating_family", pa.string(), text="architecture of the dominating design")
    trials = added_field("dominated_by", pa.int64(), text="trial of the front that dominates this one")
    added = [(trials, by["trial"]), (kinds, by["architecture"]), *changes]
    for place, (field, values) in enumerate(added, start=1):
        shown = shown.add_column(place, field, values)
    return shown
