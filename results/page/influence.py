"""Which variables matter for which objective: a small additive fit to the ranks of all evaluated designs.

For each objective the designs are ranked, and the ranks are fitted by a sum of one curve for each variable:
broken lines through a few knots for numbers, a level for each choice. A variable's strength is the variance
of its own curve over the designs, relative to the variance of the ranks: half of what the fit would lose if
that variable's values were dealt out anew among the designs (the permutation importance of an additive fit).

Ranks make it robust against long tails; curves see an optimum inside a range, which a correlation does not.
It does not see interplay between variables, and the designs are those that the search wanted to look at, not
an even sample; how much of the ranks of designs left out of the fit it explains is told beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
from scipy.stats import rankdata

from boilerfront.shared.shapes import Bools, Floats

MOST_ROWS = 20_000
FEWEST_ROWS = 40
ROWS_A_COLUMN = 3
"""Rows for each column of the fit below which nothing is said."""
KNOTS = 5
FOLDS = 5
NOTHING = 0.01
"""Strength below which a variable is not told from none."""
_RIDGE = 1e-3
_TURN = 0.25
"""Share of a curve's height that both ends must stand off for it to count as a valley or a hill."""


@dataclass(frozen=True)
class Effect:
    """What one variable does to one objective.

    `strength` from 0 to 1; `curve` its share of the rank at `at` (values of the variable, or its choices), the
    lowest is best; `shape` in a word; `best` is the value where the curve is lowest.
    """

    variable: str
    objective: str
    strength: float
    at: tuple[float | str, ...]
    curve: tuple[float, ...]
    shape: str
    best: float | str


@dataclass(frozen=True)
class Influence:
    """The effects on all objectives for some designs, or none with a sentence why.

    `explained`: for each objective the share of the ranks' variance that is explained for designs left out.
    """

    title: str
    rows: int
    effects: tuple[Effect, ...] = ()
    explained: tuple[float, ...] = ()
    why_none: str = ""


@dataclass(frozen=True)
class _Block:
    """The columns of one variable in the fit, [rows, knots or choices], centred."""

    variable: str
    at: tuple[float | str, ...]
    columns: Floats
    active: Bools


def influence(
    table: pa.Table, variables: Sequence[str], objectives: Sequence[str], *, title: str
) -> Influence:
    """Return how much each of `variables` moves each of `objectives` over the rows of `table`.

    Rows without objectives are left out; of more than `MOST_ROWS` every k-th is used.
    """
    values = np.column_stack([_numbers(table, name) for name in objectives])
    (known,) = np.nonzero(np.isfinite(values).all(axis=1))
    known = known[:: max(1, -(-len(known) // MOST_ROWS))]
    if len(known) < FEWEST_ROWS:
        return Influence(title, len(known), why_none=f"{len(known)} designs are too few to tell")
    used, values = table.take(known), values[known]
    blocks = [block for name in variables if (block := _block(used, name)) is not None]
    count = sum(block.columns.shape[1] for block in blocks)
    if not blocks or len(known) < ROWS_A_COLUMN * count:
        why = f"{len(known)} designs are too few to tell {len(blocks)} variables apart"
        return Influence(title, len(known), why_none=why)
    design = np.hstack([block.columns for block in blocks])
    ranks = np.column_stack([_standard(rankdata(column)) for column in values.T])
    weights = _solve(design, ranks)
    effects = [
        effect
        for column, objective in enumerate(objectives)
        for effect in _effects(blocks, weights[:, column], objective)
    ]
    return Influence(title, len(known), tuple(effects), _explained(design, ranks))


def _numbers(table: pa.Table, name: str) -> Floats:
    return np.asarray(table[name].to_numpy(zero_copy_only=False), dtype=np.float64)


def _block(table: pa.Table, name: str) -> _Block | None:
    """Return the columns of a variable; None when all its values are one."""
    if pa.types.is_string(table[name].type):
        words = np.array([value or "" for value in table[name].to_pylist()])
        choices = sorted(set(words) - {""})
        if len(choices) < 2:
            return None
        columns = np.column_stack([words == choice for choice in choices]).astype(np.float64)
        return _Block(name, tuple(choices), _centred(columns, words != ""), words != "")
    values = _numbers(table, name)
    active = np.isfinite(values)
    different = np.unique(values[active])
    if len(different) < 2:
        return None
    if len(different) > KNOTS + 1:
        different = np.unique(np.quantile(values[active], np.linspace(0.0, 1.0, KNOTS)))
    hats = np.column_stack([np.interp(values, different, unit) for unit in np.eye(len(different))])
    return _Block(
        name, tuple(different.tolist()), _centred(np.where(active[:, None], hats, 0.0), active), active
    )


def _centred(columns: Floats, active: Bools) -> Floats:
    """Return columns whose mean over the active rows is 0; a masked row has no part in them."""
    return np.where(active[:, None], columns - columns[active].mean(axis=0), 0.0)


def _standard(values: Floats) -> Floats:
    spread = float(values.std())
    return np.asarray((values - values.mean()) / (spread if spread > 0.0 else 1.0))


def _solve(design: Floats, ranks: Floats) -> Floats:
    """Return the weights [columns, objectives]; the ridge decides where columns sum to the same."""
    normal = design.T @ design + _RIDGE * len(design) * np.eye(design.shape[1])
    return np.asarray(np.linalg.solve(normal, design.T @ ranks))


def _explained(design: Floats, ranks: Floats) -> tuple[float, ...]:
    """Return 1 - (squared error) / (variance) for each objective, each row fitted without its own fold."""
    left = np.empty_like(ranks)
    fold = np.arange(len(ranks)) % FOLDS
    for each in range(FOLDS):
        out = fold == each
        left[out] = ranks[out] - design[out] @ _solve(design[~out], ranks[~out])
    spread = np.maximum((ranks**2).sum(axis=0), 1e-12)
    return tuple(np.maximum(0.0, 1.0 - (left**2).sum(axis=0) / spread).tolist())


def _effects(blocks: Sequence[_Block], weights: Floats, objective: str) -> list[Effect]:
    effects = []
    start = 0
    for block in blocks:
        own = weights[start : start + block.columns.shape[1]]
        start += block.columns.shape[1]
        # The curve's zero is arbitrary; strength counts all rows, so what few designs have weighs little.
        strength = float((block.columns @ own).var())
        curve = own - own.mean()
        effects.append(
            Effect(
                variable=block.variable,
                objective=objective,
                strength=strength,
                at=block.at,
                curve=tuple(curve.tolist()),
                shape=_shape(block.at, curve),
                best=block.at[int(np.argmin(curve))],
            )
        )
    return effects


def _shape(at: Sequence[float | str], curve: Floats) -> str:
    """Return 'rises', 'falls', 'valley' or 'hill' for numbers, 'choice' for texts."""
    if isinstance(at[0], str):
        return "choice"
    height = float(np.ptp(curve)) or 1.0
    above = min(curve[0], curve[-1]) - curve.min()
    below = curve.max() - max(curve[0], curve[-1])
    if above > _TURN * height and above >= below:
        return "valley"
    if below > _TURN * height:
        return "hill"
    return "rises" if curve[-1] > curve[0] else "falls"
