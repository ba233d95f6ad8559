"""Fronts of several runs as a picture: every pair of objectives, told apart by colour and by mark."""

from __future__ import annotations

import io
import itertools

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from boilerfront.results.cautions import SHORT_CAUTION
from boilerfront.results.compare import Comparison
from boilerfront.results.schema import unit_of
from boilerfront.shared.folding import folded
from boilerfront.shared.shapes import Floats

FORMATS = ("png", "svg", "pdf")
# Colours of M. Okabe and K. Ito (2008), which few take for one another; with marks also in grey.
_LOOKS = (
    ("#0072B2", "o"),
    ("#D55E00", "^"),
    ("#009E73", "s"),
    ("#CC79A7", "D"),
    ("#56B4E9", "v"),
    ("#E69F00", "P"),
    ("#000000", "X"),
)
_FOOTNOTE = "Hollow: dominated by a design of another run. Lines: the best of two objectives alone."
_SIGNS_AN_INCH = 15
"""Signs of the footnote that an inch has room for."""
_PANEL_IN = 3.6
_MOST_COLUMNS = 3


def picture(comparison: Comparison, form: str) -> bytes:
    """Return the picture as one of `FORMATS`; there is at least one front that is not empty."""
    pairs = list(itertools.combinations(range(len(comparison.objectives)), 2)) or [(0, 0)]
    columns = min(_MOST_COLUMNS, len(pairs))
    rows = -(-len(pairs) // columns)
    figure = Figure(figsize=(_PANEL_IN * max(columns, 2), _PANEL_IN * rows + 1.0), layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.subplots(rows, columns, squeeze=False).ravel()
    for axis, (x, y) in zip(axes, pairs, strict=False):
        _panel(axis, comparison, x, y)
    for axis in axes[len(pairs) :]:
        axis.set_axis_off()
    handles, labels = axes[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside upper center", ncols=min(3, len(labels)), frameon=False)
    width = int(_SIGNS_AN_INCH * figure.get_figwidth())
    note = "\n".join(folded(text, width=width, indent="") for text in (_FOOTNOTE, SHORT_CAUTION))
    figure.supxlabel(note, fontsize=7, color="#555555")
    sink = io.BytesIO()
    # Without a date and with a salt of ours the same fronts give the same bytes.
    with rc_context({"svg.hashsalt": "fronts"}):
        figure.savefig(sink, format=form, dpi=150, metadata={"Date": None} if form == "svg" else None)
    return sink.getvalue()


def _panel(axis: Axes, comparison: Comparison, x: int, y: int) -> None:
    """Draw all fronts over two objectives, and of each the line beyond which it has nothing."""
    names = comparison.objectives
    for (colour, mark), standing in zip(itertools.cycle(_LOOKS), comparison.standings, strict=False):
        front = standing.side.front
        if not front.num_rows:
            continue
        across, up = (front[names[k]].to_numpy() for k in (x, y))
        label = f"{standing.side.name} ({front.num_rows:,})"
        for hidden, filled, shown in (
            (standing.dominated, "none", None),
            (~standing.dominated, colour, label),
        ):
            axis.scatter(
                across[hidden], up[hidden], s=14, marker=mark, facecolors=filled, edgecolors=colour,
                linewidths=0.6, alpha=0.75, label=shown, rasterized=True,
            )  # fmt: skip
        axis.step(*_edge(across, up), where="post", color=colour, linewidth=1.0)
        axis.set_xlabel(_label(names[x], unit_of(front.schema.field(names[x]))))
        axis.set_ylabel(_label(names[y], unit_of(front.schema.field(names[y]))))
    axis.grid(alpha=0.25)


def _edge(across: Floats, up: Floats) -> tuple[Floats, Floats]:
    """Return the steps of those points that no other is left of and below."""
    order = np.lexsort((up, across))
    least = np.minimum.accumulate(up[order])
    is_lower = np.append(True, least[1:] < least[:-1])
    return across[order][is_lower], least[is_lower]


def _label(name: str, unit: str) -> str:
    words = " ".join(word for word in name.split("_") if word != unit)
    return f"{words}, {unit}" if unit else words
