"""Which rows meet the conditions of a question, why none does, and what more money would buy."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from boilerfront.results.condition import Condition, parse_condition
from boilerfront.results.empty import Emptiness, explain_empty
from boilerfront.results.question import COST, Question
from boilerfront.results.resolution import RESOLUTION
from boilerfront.results.sandbox import sandboxed
from boilerfront.results.schema import group_of, unit_of
from boilerfront.results.show import value_text
from boilerfront.shared.shapes import Bools


def rows_within(table: pa.Table, question: Question) -> tuple[pa.Table, Emptiness | None]:
    """Return the rows within condition and budget; where there are none, why.

    Raises `InputError` for a condition that is not exactly one.
    """
    spend = None if question.spend is None else f"{COST} <= {question.spend!r}"
    texts = [text for text in (question.where, spend) if text is not None]
    if not texts:
        return table, None
    with sandboxed(table) as sandbox:
        # Each is parsed alone, so that none can close another's parentheses.
        parts = [parse_condition(text, table.column_names, sandbox) for text in texts]
        text = " AND ".join(f"({part.text})" for part in parts)
        condition = Condition(text, tuple(term for part in parts for term in part.terms))
        (mask,) = sandbox.evaluate([condition.text])
        met: Bools = np.asarray(np.ma.filled(mask, False), dtype=bool)
        why = None if met.any() else explain_empty(condition, table, sandbox)
    return table.filter(pa.array(met)), why


def budget_notes(table: pa.Table, found: pa.Table, question: Question) -> list[str]:
    """Return how much of `table` a budget leaves, and what the next better design costs.

    Better by what may be called a difference in the first objective than the best that is affordable.
    """
    if question.spend is None:
        return []
    unlimited = Question(where=question.where)
    all_rows, _ = rows_within(table, unlimited)
    amount = f"{question.spend:g} {unit_of(table.schema.field(COST))}".strip()
    notes = [f"{found.num_rows} of {all_rows.num_rows} designs cost at most {amount} in parts"]
    first, *_ = group_of(table.schema, "objective")
    values = all_rows[first].to_numpy(zero_copy_only=False)
    best = np.nanmin(found[first].to_numpy(zero_copy_only=False), initial=np.inf)
    (better,) = np.nonzero(values <= best - RESOLUTION.get(first, 0.0))
    if not len(better):
        return [*notes, f"no money buys a smaller {first} than the least of them"]
    costs = all_rows[COST].to_numpy(zero_copy_only=False)[better]
    place = int(better[np.argmin(costs)])
    return [
        *notes,
        f"a smaller {first} takes {value_text(all_rows, COST, place)} at least: "
        f"trial {all_rows['trial'][place]} has {value_text(all_rows, first, place)}",
    ]
