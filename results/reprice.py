"""New cost lines and a new front from trials that are computed already, when nothing but prices changed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from boilerfront.model.brief import Brief
from boilerfront.model.cost import assembly_line, part_lines, plant_of
from boilerfront.model.glossary import COLUMNS
from boilerfront.model.markets import design_at, told
from boilerfront.model.prices import ITEMS, LABOUR, PriceBook
from boilerfront.model.variables import Value, base_name, site_of
from boilerfront.results.front import front_table
from boilerfront.results.question import COST
from boilerfront.results.schema import added_field, group_of
from boilerfront.shared.errors import InputError

SAME = 1e-9
"""Costs that differ by less, relative to themselves, differ by rounding alone."""
_OF_ASSEMBLY = "assembly_cost"

Quantities = Sequence[tuple[str, float]]
"""The lines of a design's bill: item of the price book and quantity."""
Bills = Mapping[str, Quantities]
"""A design's quantities by site; of a single site under an empty name."""


@dataclass(frozen=True)
class Repriced:
    """Trials under new prices, and what that changes.

    `lines`: every price that changed, with what the item costs in the median design of both fronts.
    `before`, `after`: the two fronts. `old_costs`: part cost before, by trial. `foreign`: how many trials had
    a cost that is not what their parts cost by the old prices: the model has changed since; they keep the
    difference.
    """

    trials: pa.Table
    lines: pa.Table
    before: pa.Table
    after: pa.Table
    old_costs: Mapping[int, float | None]
    foreign: int

    @property
    def entered(self) -> pa.Table:
        """Return the designs that only the new prices put on the front."""
        return _without(self.after, self.before)

    @property
    def left(self) -> pa.Table:
        """Return the designs that only the old prices put on the front, at their new cost."""
        gone = _trials(_without(self.before, self.after))
        return self.trials.filter(pc.is_in(self.trials["trial"], pa.array(gone, pa.int64())))


def reprice(trials: pa.Table, brief: Brief, book: PriceBook) -> Repriced:
    """Return `trials`, which were rated by `brief`, with the costs and the currency of `book`.

    Raises `InputError` where nothing has a cost yet.
    """
    costs = [name for name in trials.column_names if _is_cost(name)]
    bills = _bills(trials, brief) if costs else {}
    if not bills:
        raise InputError("no design of this run has a cost yet: there is nothing to reprice")
    table, foreign = trials, set[int]()
    for name in costs:
        old, new = (
            {place: _cost(name, bill, prices, brief) for place, bill in bills.items()}
            for prices in (brief.prices, book)
        )
        values, strange = _new_values(trials[name].to_pylist(), old, new)
        foreign |= strange
        table = _with_costs(table, name, values, currency=book.currency)
    before, after = front_table(trials), front_table(table)
    numbers, shown = trials["trial"].to_pylist(), {*_trials(before), *_trials(after)}
    of_fronts = [
        bill for place, by_site in bills.items() if numbers[place] in shown for bill in by_site.values()
    ]
    lines = _changed_lines(of_fronts, brief.prices, book)
    old_costs = dict(zip(numbers, trials[COST].to_pylist(), strict=True))
    return Repriced(table, lines, before, after, old_costs, len(foreign))


def _is_cost(name: str) -> bool:
    column = COLUMNS.get(base_name(name))
    return column is not None and column.unit == "currency"


def _bills(trials: pa.Table, brief: Brief) -> dict[int, Bills]:
    """Return what each design that has a cost is made of, by its place; labour in minutes among it."""
    (places,) = np.nonzero(np.asarray(pc.is_valid(trials[COST])))
    designs = trials.select(group_of(trials.schema, "variable")).take(places).to_pylist()
    by_site = brief.by_site()
    return {
        int(place): {site: _bill(design_at(values, site), own) for site, own in by_site.items()}
        for place, values in zip(places, designs, strict=True)
    }


def _bill(design: Mapping[str, Value], brief: Brief) -> Quantities:
    plant = plant_of(design, brief)
    lines = (*part_lines(plant, brief.prices), assembly_line(plant, brief.prices))
    return [(line.item, line.quantity) for line in lines]


def _cost(name: str, bills: Bills, book: PriceBook, brief: Brief) -> float:
    """Return what stands in a column of costs: one site's own, or what is told of all."""
    base, site = base_name(name), site_of(name)
    of_assembly = base == _OF_ASSEMBLY
    own = {
        where: sum(q * book.prices[item] for item, q in bill if (item == LABOUR) == of_assembly)
        for where, bill in bills.items()
    }
    return own[site] if site else told(base, own, brief)


def _new_values(
    values: list[float | None], old: Mapping[int, float], new: Mapping[int, float]
) -> tuple[list[float | None], set[int]]:
    """Return a column of costs at the new prices, and the places that the old ones do not explain."""
    changed, strange = list(values), set[int]()
    for place, before in old.items():
        value = values[place]
        if value is None:
            continue
        if math.isclose(value, before, rel_tol=SAME):
            changed[place] = new[place]
        else:
            strange.add(place)
            changed[place] = value + new[place] - before
    return changed, strange


def _with_costs(table: pa.Table, name: str, values: Sequence[float | None], *, currency: str) -> pa.Table:
    place = table.column_names.index(name)
    own = table.schema.field(place)
    field = own.with_metadata({**(own.metadata or {}), b"unit": currency.encode()})
    return table.set_column(place, field, pa.array(values, pa.float64()))


def _changed_lines(bills: Sequence[Quantities], old: PriceBook, new: PriceBook) -> pa.Table:
    """Return the items whose price changed, with what each costs in the middle of the designs."""
    is_another = old.currency != new.currency
    items = [item for item in ITEMS if is_another or old.prices[item] != new.prices[item]]
    middle = {
        item: float(np.median([sum(q for each, q in bill if each == item) for bill in bills] or [0.0]))
        for item in items
    }
    columns = {
        "item": (pa.string(), "", 0, items),
        "per": (pa.string(), "", 0, [ITEMS[item] for item in items]),
        "old_price": (pa.float64(), old.currency, 4, [old.prices[item] for item in items]),
        "new_price": (pa.float64(), new.currency, 4, [new.prices[item] for item in items]),
        "old_cost": (pa.float64(), old.currency, 2, [middle[item] * old.prices[item] for item in items]),
        "new_cost": (pa.float64(), new.currency, 2, [middle[item] * new.prices[item] for item in items]),
    }
    fields = [
        added_field(name, kind, unit=unit, text="", digits=digits)
        for name, (kind, unit, digits, _) in columns.items()
    ]
    arrays = [pa.array(values, kind) for kind, _, _, values in columns.values()]
    return pa.Table.from_arrays(arrays, schema=pa.schema(fields))


def _trials(table: pa.Table) -> list[int]:
    return list(map(int, table["trial"].to_pylist())) if table.num_rows else []


def _without(table: pa.Table, other: pa.Table) -> pa.Table:
    return table.filter(pc.invert(pc.is_in(table["trial"], pa.array(_trials(other), pa.int64()))))
