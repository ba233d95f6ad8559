"""Picked designs on fresh machines: whether what the search rated on few holds on many."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import pyarrow as pa
import pyarrow.compute as pc

from boilerfront import model  # its kernel is loaded when a design is rated, not by whoever shows a table
from boilerfront.results.proof import why_not
from boilerfront.results.propose import proposed_rows
from boilerfront.results.schema import group_of

if TYPE_CHECKING:
    from boilerfront.model import Brief

FRESH_MACHINES = 512
MOST_ROUNDS = 5
"""How often designs that do not hold are left out and others proposed in their place."""

Tell = Callable[[str], None]


@dataclass(frozen=True)
class Confirmation:
    """A design's row on fresh machines."""

    row: Mapping[str, Any]

    @property
    def holds(self) -> bool:
        """Return whether it came through its duty with every margin met."""
        return bool(self.row["feasible"])

    @property
    def why_not(self) -> str:
        """Return what is not met, empty where it holds."""
        if self.holds:
            return ""
        return why_not(self.row)


def with_fresh_machines(brief: Brief, machines: int = FRESH_MACHINES) -> Brief:
    """Return the brief with so many machines in the batch, drawn anew by another seed."""
    drawn = {"samples": machines, "seed": brief.tolerances.seed + 1}
    return brief.model_copy(update={"tolerances": brief.tolerances.model_copy(update=drawn)})


def confirmed(design: Mapping[str, Any], brief: Brief) -> Confirmation:
    """Rate a design on fresh machines of its batch."""
    return Confirmation(dict(model.evaluate_many([design], with_fresh_machines(brief))[0]))


def confirmed_rows(
    rows: pa.Table, brief: Brief, *, tell: Tell, known: Mapping[int, Confirmation] = MappingProxyType({})
) -> dict[int, Confirmation]:
    """Return the confirmation of each row by its trial, of those not yet `known`; `tell` hears a line before each."""
    names = group_of(rows.schema, "variable")
    fresh = [row for row in rows.to_pylist() if row["trial"] not in known]
    found = {}
    for number, row in enumerate(fresh, start=1):
        tell(f"trial {row['trial']} on {FRESH_MACHINES} fresh machines, {number} of {len(fresh)}")
        found[row["trial"]] = confirmed({name: row[name] for name in names}, brief)
    return found


def confirmed_proposals(
    front: pa.Table, count: int, brief: Brief, *, tell: Tell
) -> tuple[pa.Table, dict[int, Confirmation]]:
    """Return proposed rows and the confirmation of every design that was looked at, by trial.

    Designs that do not hold are left out and the choice is made again, `MOST_ROUNDS` times at most: then they
    stay, and their confirmation says so. `tell` is given a line before each design.
    """
    looked_at: dict[int, Confirmation] = {}
    rows = proposed_rows(front, count)
    for rounds_left in reversed(range(MOST_ROUNDS)):
        looked_at |= confirmed_rows(rows, brief, known=looked_at, tell=tell)
        if all(looked_at[trial].holds for trial in rows["trial"].to_pylist()):
            break
        failed = [trial for trial, found in looked_at.items() if not found.holds]
        left = front.filter(pc.invert(pc.is_in(front["trial"], pa.array(failed, pa.int64()))))
        if not left.num_rows or not rounds_left:  # what is returned has been looked at
            break
        rows = proposed_rows(left, count)
    return rows, looked_at
