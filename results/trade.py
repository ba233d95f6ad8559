"""What a unit less of one objective costs in the others, by the designs that there are.

An exchange leaves a design for another that is better in the bought objective by at least what may be called
a difference. The best one loses least for what it gains, summed over the other objectives, each as a share of
its range (the ratio by which `knee` judges as well). Its price is what each other objective grows by, for
each unit gained: negative where it falls too. All of it is paid together.

Paid in one objective alone is an exchange that makes no other worse: the partial trade-off of V. Chankong and
Y. Y. Haimes ("Multiobjective Decision Making", North-Holland, 1983; from memory). It has the price that a
person names in one number, but most designs have none in most objectives; hence it is for sentences about
the whole front. Either way no slope is fitted: every price is one at which a design exists.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import pyarrow as pa

from boilerfront.results.front import objective_values
from boilerfront.results.resolution import RESOLUTION, one_per_cell
from boilerfront.results.schema import added_field, digits_of, group_of, unit_of
from boilerfront.shared.shapes import Floats, Ints

MOST_ASKED = 1_000
"""Designs whose prices make a sentence about all."""
GAINED = "gained"
PAID = "paid_in_"
NEXT = "next_trial"
_SMALLER = {"kWh": ("Wh", 1000.0)}
"""Units in which a price is easier to read than in the objective's own."""
_SIGNIFICANT = 2
"""Digits of a price in the middle of its column."""
_EDGE = 1e-9
"""What rounding may take from a step of exactly one difference, relative to it."""


def price_columns(schema: pa.Schema, bought: str) -> list[str]:
    """Return the names of the columns that `with_prices` adds."""
    return [GAINED, *(f"{PAID}{name}" for name in group_of(schema, "objective") if name != bought), NEXT]


def with_prices(shown: pa.Table, *, among: pa.Table, bought: str) -> pa.Table:
    """Return `shown` with each row's best exchange for less of the objective `bought` among the rows `among`.

    Added are what is gained, what a unit of it costs in each other objective, and the trial that is moved to;
    null where nothing is better.
    """
    market = _Market(among, bought)
    prices, places = market.best_exchanges(objective_values(shown))
    none = places < 0
    gained = -prices[:, market.bought]
    own = shown.schema.field(bought)
    added = [
        (
            added_field(
                GAINED,
                pa.float64(),
                unit=unit_of(own),
                text=f"less of {bought} in the trial that is moved to",
                digits=digits_of(own),
            ),
            pa.array(gained, mask=none),
        )
    ]
    for k, name in market.others():
        per_unit = prices[:, k] / np.where(none, 1.0, gained) * market.factor(k)
        text = f"what a unit less of {bought} costs in {name}, to be paid with the others"
        digits = _digits(per_unit[~none])
        paid = added_field(PAID + name, pa.float64(), unit=market.unit(k), text=text, digits=digits)
        added.append((paid, pa.array(per_unit, mask=none)))
    moved_to = added_field(NEXT, pa.int64(), unit="", text="the trial that is moved to")
    added.append((moved_to, pa.array(among["trial"].to_numpy()[places], pa.int64(), mask=none)))
    for field, values in added:
        shown = shown.append_column(field, values)
    return shown


def walk(table: pa.Table, bought: str) -> list[int]:
    """Return the places of the rows from the worst of the objective `bought` on, by best exchanges."""
    market = _Market(table, bought)
    place = int(np.argmax(market.values[:, market.bought]))
    places = []
    while place >= 0:
        places.append(place)
        place = int(market.best_exchanges(market.values[place : place + 1])[1][0])
    return places


def price_notes(table: pa.Table, bought: str) -> list[str]:
    """Return what `bought` costs in each other objective alone, over the rows that can buy it so.

    Rows that differ by less than what may be called a difference count once; of many, every few are asked.
    """
    market = _Market(table, bought)
    buyers, _ = one_per_cell(table)
    buyers = buyers.take(list(range(0, buyers.num_rows, -(-buyers.num_rows // MOST_ASKED))))
    prices = market.prices_alone(objective_values(buyers))
    notes = []
    for k, name in market.others():
        known = prices[np.isfinite(prices[:, k]), k] * market.factor(k)
        if not len(known):
            notes.append(f"{bought} cannot be bought with {name} alone")
            continue
        digits = _digits(known)
        low, middle, high = (f"{value:.{digits}f}" for value in np.quantile(known, (0.25, 0.5, 0.75)))
        spread = f", half of them between {low} and {high}" if low != high else ""
        notes.append(
            f"{bought} bought with {name} alone: {middle} {market.unit(k)} in the middle{spread} "
            f"({len(known)} of {buyers.num_rows} designs can)"
        )
    return notes


class _Market:
    """The designs that one can move to, those with the least of the bought objective first."""

    def __init__(self, among: pa.Table, bought: str) -> None:
        self.names = tuple(group_of(among.schema, "objective"))
        self.bought = self.names.index(bought)
        self.values = objective_values(among)
        self._units = tuple(unit_of(among.schema.field(name)) or name for name in self.names)
        self._step = RESOLUTION.get(bought, 0.0) * (1.0 - _EDGE)
        self._order = np.argsort(self.values[:, self.bought], kind="stable")
        # A row for each objective: whoever looks at one objective of many designs reads on in memory.
        self._sellers = np.ascontiguousarray(self.values[self._order].T)
        spread = np.ptp(self.values, axis=0)
        self._span = np.where(spread > 0.0, spread, 1.0)

    def others(self) -> Iterator[tuple[int, str]]:
        """Yield place and name of every objective that can be paid in."""
        return ((k, name) for k, name in enumerate(self.names) if k != self.bought)

    def unit(self, paid: int) -> str:
        """Return the unit of a price, such as EUR per K."""
        in_which, for_which = (
            _SMALLER.get(self._units[k], (self._units[k], 1.0)) for k in (paid, self.bought)
        )
        return f"{in_which[0]} per {for_which[0]}"

    def factor(self, paid: int) -> float:
        """Return what a price in the objectives' own units is to be multiplied by for `unit`."""
        in_which, for_which = (_SMALLER.get(self._units[k], ("", 1.0)) for k in (paid, self.bought))
        return in_which[1] / for_which[1]

    def best_exchanges(self, buyers: Floats) -> tuple[Floats, Ints]:
        """Return the change of each objective [buyers, objectives] and the seller's place, -1 for none."""
        changes = np.zeros(buyers.shape)
        places = np.full(len(buyers), -1, dtype=np.int64)
        for row, change in self._offers(buyers):
            lost = sum(np.maximum(change[k], 0.0) / self._span[k] for k, _ in self.others())
            best = int(np.argmin(lost / -change[self.bought]))
            changes[row], places[row] = change[:, best], self._order[best]
        return changes, places

    def prices_alone(self, buyers: Floats) -> Floats:
        """Return the least price in each objective alone [buyers, objectives]; infinite where there is none."""
        prices = np.full(buyers.shape, np.inf)
        for row, change in self._offers(buyers):
            worse = change > 0.0
            count = worse.sum(axis=0)
            for k, _ in self.others():
                alone = count == worse[k]
                if alone.any():
                    prices[row, k] = (np.maximum(change[k, alone], 0.0) / -change[self.bought, alone]).min()
        return prices

    def _offers(self, buyers: Floats) -> Iterator[tuple[int, Floats]]:
        """Yield a buyer and the changes [objectives, sellers] of those that are better by a step, if any are.

        A buyer without objectives (NaN) has none.
        """
        least = self._sellers[self.bought]
        for row, values in enumerate(buyers):
            if not np.isfinite(values).all():
                continue
            own = values[self.bought]
            better = min(np.searchsorted(least, own - self._step, side="right"), np.searchsorted(least, own))
            if better:
                yield row, self._sellers[:, :better] - values[:, None]


def _digits(prices: Floats) -> int:
    """Return the decimals that give the middle price `_SIGNIFICANT` digits."""
    sizes = np.abs(prices[np.isfinite(prices) & (prices != 0.0)])
    if not len(sizes):
        return 0
    return max(0, _SIGNIFICANT - 1 - math.floor(math.log10(float(np.median(sizes)))))
