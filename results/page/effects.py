"""The influence of variables as cells that people read: a share, a small curve, a word."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from boilerfront.results.page.influence import FOLDS, KNOTS, NOTHING, Effect, Influence
from boilerfront.results.page.labels import Label

_SPARK_WIDTH, _SPARK_HEIGHT, _SPARK_EDGE = 60.0, 20.0, 2.0


@dataclass(frozen=True)
class Cell:
    """One variable and one objective; no `words` where the variable moves nothing."""

    percent: int = 0
    points: str = ""
    words: str = ""


@dataclass(frozen=True)
class Row:
    """One variable over all objectives."""

    label: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Shown:
    """An influence as a table: `explained` in percent, one for each head."""

    title: str
    rows: int
    why_none: str
    heads: tuple[str, ...]
    rows_of_cells: tuple[Row, ...]
    explained: tuple[int, ...]


def influence_text() -> str:
    """Return what the table says and what it does not."""
    return (
        "For each figure the evaluated designs are ranked, and the ranks are fitted by a sum of one curve for "
        f"each variable ({KNOTS} knots for a number, a level for each choice). A percentage is the variance of "
        "that variable's curve over the designs, relative to the variance of the ranks: half of what the fit "
        "would lose if the variable's values were dealt out anew among the designs; below "
        f"{100 * NOTHING:.0f} % nothing is shown. It does not see interplay of two variables, nor what lies "
        "outside of where the search looked: the designs are those that it wanted, no even sample, and a variable "
        "that it soon settled on shows little. The last row says how much of the ranks of designs left out of "
        f"the fit it explains ({FOLDS} portions in turn); where that is low, lean on nothing here. For one "
        "design boilerfront explain asks the model itself."
    )


def shown_influence(found: Influence, labels: Sequence[Label]) -> Shown:
    """Return an influence as a table, the variable that matters most first."""
    by_name = {label.name: label for label in labels}
    objectives = list(dict.fromkeys(effect.objective for effect in found.effects))
    by_variable: dict[str, list[Effect]] = {}
    for effect in found.effects:
        by_variable.setdefault(effect.variable, []).append(effect)
    ordered = sorted(by_variable.items(), key=lambda item: -max(effect.strength for effect in item[1]))
    return Shown(
        title=found.title,
        rows=found.rows,
        why_none=found.why_none,
        heads=tuple(by_name[name].label for name in objectives),
        rows_of_cells=tuple(
            Row(_label(by_name[name]), tuple(_cell(effect, by_name[name]) for effect in effects))
            for name, effects in ordered
        ),
        explained=tuple(round(100 * share) for share in found.explained),
    )


def _label(label: Label) -> str:
    return "family" if label.name == "architecture" else label.with_unit


def _cell(effect: Effect, label: Label) -> Cell:
    if effect.strength < NOTHING:
        return Cell()
    best = effect.best if isinstance(effect.best, str) else f"{effect.best:.{label.digits}f}"
    best = best.replace("_", " ") if label.name == "architecture" else best
    words = {
        "choice": f"{best} lowest",
        "valley": f"lowest near {best}",
        "hill": f"hill, lowest at {best}",
    }.get(effect.shape, effect.shape)
    return Cell(round(100 * effect.strength), _points(effect), words)


def _points(effect: Effect) -> str:
    """Return the curve as an SVG polyline, lowest where the figure is; choices have no order, so no curve."""
    if effect.shape == "choice":
        return ""
    at = [float(each) for each in effect.at]
    across = (at[-1] - at[0]) or 1.0
    low, high = min(effect.curve), max(effect.curve)
    room = _SPARK_HEIGHT - 2.0 * _SPARK_EDGE
    return " ".join(
        f"{_SPARK_WIDTH * (x - at[0]) / across:.1f},"
        f"{_SPARK_EDGE + room * (high - y) / ((high - low) or 1.0):.1f}"
        for x, y in zip(at, effect.curve, strict=True)
    )
