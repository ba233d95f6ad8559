"""The Bokeh figures of a page: every pair of objectives, how the front grew, a design's traces.

Colours are not set here: axes and grids take theirs from the style sheet (Bokeh reads `--bk-...`), and what
carries a tag `colour` is painted by the page's script, which knows whether it is dark.
"""

from __future__ import annotations

import html
import itertools
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import pyarrow as pa
from bokeh.core.properties import value
from bokeh.models import (
    BasicTicker,
    BoxSelectTool,
    BoxZoomTool,
    CDSView,
    ColumnDataSource,
    HoverTool,
    IndexFilter,
    LassoSelectTool,
    PlainText,
    Range1d,
)
from bokeh.models.renderers import GlyphRenderer
from bokeh.plotting import figure

from boilerfront.results.page.labels import Label
from boilerfront.results.page.placing import places_px
from boilerfront.results.page.traced import SHOT
from boilerfront.results.trace_plot import POWERS, TEMPERATURES
from boilerfront.shared.shapes import Floats

FONT = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Noto Sans', sans-serif"
PAIR_HEIGHT, TRACE_HEIGHT, GROWTH_HEIGHT = 320, 240, 240
"""Heights of the figures [px]; the widths follow the page."""
INSIDE_PX = (215.0, 270.0)
"""About what is left inside the frame of a pair where three stand side by side at 1280 px; wider ones have more."""
LEFT_BORDER = 58
"""Room for the labels of the vertical axis [px], the same in all so that axes stand in line."""
DASHES = ("solid", "dashed", "dotted", "dotdash", "dashdot")
_MARGIN = 0.06
"""Empty share of an axis beyond the outermost designs."""


def pair_figures(
    source: ColumnDataSource, objectives: Sequence[Label], *, letters: ColumnDataSource
) -> list[figure]:
    """Return a figure for each pair of objectives over the shared `source`, with axes moved together.

    `source` has the objectives, `marker`, `colour`, `trial` and `family` of each design; `letters` the
    objectives and `letter` of picked ones. What is brushed in one figure is brushed in all.
    """
    # One design in the middle of the figures is marked; the script fills this in.
    chosen = ColumnDataSource({each.name: [] for each in objectives}, name="chosen")
    ranges = {each.name: _range(source.data[each.name]) for each in objectives}
    view = CDSView(filter=IndexFilter(indices=list(range(len(source.data["trial"]))), name="inside"))
    figures = []
    for place, (across, up) in enumerate(itertools.combinations(objectives, 2)):
        picture = _figure(f"pair-{place}", PAIR_HEIGHT, x_range=ranges[across.name], y_range=ranges[up.name])
        picture.xaxis.axis_label = PlainText(text=across.with_unit)
        picture.yaxis.axis_label = PlainText(text=up.with_unit)
        points = _points(picture, source, view, across.name, up.name)
        _mark_chosen(picture, chosen, across.name, up.name)
        _write_letters(picture, letters, (across.name, ranges[across.name]), (up.name, ranges[up.name]))
        _add_tools(picture, points, objectives)
        figures.append(picture)
    return figures


def growth_figures(convergence: pa.Table) -> list[figure]:
    """Return how the hypervolume and how the front grew with the designs evaluated."""
    rows = {name: convergence[name].to_numpy(zero_copy_only=False) for name in convergence.column_names}
    best = np.nanmax(rows["hypervolume"].astype(np.float64), initial=0.0) or 1.0
    share = 100.0 * rows["hypervolume"].astype(np.float64) / best
    source = ColumnDataSource({**rows, "share": share}, name="growth")
    volume = _figure("growth-volume", GROWTH_HEIGHT, y_range=Range1d(start=0.0, end=105.0))
    _axis_labels(volume, "designs evaluated", "hypervolume, % of the last")
    _line(volume, source, "trials", "share", colour=0)
    _hover(
        volume,
        [
            ("", "@trials{0,0}", "designs"),
            ("hypervolume", "@share{0.0}", "%"),
            ("after", "@seconds{0,0}", "s"),
        ],
    )
    size = _figure("growth-size", GROWTH_HEIGHT, x_range=volume.x_range)
    _axis_labels(size, "designs evaluated", "designs")
    _line(size, source, "trials", "feasible", colour=1, dash=DASHES[1])
    _line(size, source, "trials", "front_size", colour=0)
    _hover(
        size,
        [
            ("", "@trials{0,0}", "designs"),
            ("feasible", "@feasible{0,0}", ""),
            ("front", "@front_size{0,0}", ""),
        ],
    )
    return [volume, size]


def trace_figures() -> list[figure]:
    """Return the empty figures of a design's traces; the page's script fills their sources."""
    return [
        _course("trace-temperature", "temperature, °C", [SHOT[0], *(line[0] for line in TEMPERATURES)]),
        _shots(),
        _course("trace-power", "power, W", [line[0] for line in POWERS]),
    ]


def _course(name: str, label: str, columns: Sequence[str]) -> figure:
    """Return a figure of lines over the whole duty, with what happens when behind them."""
    picture = _figure(
        name, TRACE_HEIGHT, x_range=_named_range(f"{name}-time"), y_range=_named_range(f"{name}-range")
    )
    _axis_labels(picture, "time since switch-on, min", label)
    for place, kind in enumerate(("shot", "other")):
        strips = ColumnDataSource({"from_min": [], "to_min": []}, name=f"{name}-{kind}-strips")
        _painted(picture.vstrip(x0="from_min", x1="to_min", source=strips), f"strip-{place}")
    ready = ColumnDataSource({"at_min": []}, name=f"{name}-ready")
    _painted(picture.vspan(x="at_min", source=ready, line_dash="dashed"), "ink-soft")
    source = ColumnDataSource({"time_min": [], **{column: [] for column in columns}}, name=f"{name}-lines")
    for place, column in enumerate(columns):
        _line(picture, source, "time_min", column, colour=place, dash=DASHES[place % len(DASHES)])
    return picture


def _shots() -> figure:
    """Return a figure of every shot over the time since its pump start, numbered at its end."""
    picture = _figure(
        "trace-shot",
        TRACE_HEIGHT,
        x_range=_named_range("trace-shot-time"),
        y_range=_named_range("trace-shot-range"),
    )
    _axis_labels(picture, "time since pump start, s", "at the screen, °C")
    band = ColumnDataSource({"low": [], "high": []}, name="deviation-band")
    _painted(picture.hstrip(y0="low", y1="high", source=band), "band")
    scored = ColumnDataSource({"at_s": []}, name="scored-line")
    _painted(picture.vspan(x="at_s", source=scored, line_dash="dashed"), "ink-soft")
    names = ("since_s", "shot_C", "end_s", "end_C", "aside_px", "number", "from_min", "colour")
    source = ColumnDataSource({name: [] for name in names}, name="shots")
    lines = picture.multi_line(xs="since_s", ys="shot_C", line_color="colour", line_width=2, source=source)
    written = picture.text(
        x="end_s", y="end_C", text="number", x_offset="aside_px", y_offset=4, source=source,
        text_font=value(FONT), text_font_size="11px",
    )  # fmt: skip
    _painted(written, "ink-soft")
    _hover(
        picture, [("shot", "@number", ""), ("begins at", "@from_min{0.0}", "min")], renderers=[lines], limit=1
    )
    return picture


def _named_range(name: str) -> Range1d:
    """Return an axis that the script sets; one without values to begin with is no fault."""
    return Range1d(start=0.0, end=1.0, name=name)


def _figure(name: str, height: int, **more: Any) -> figure:
    picture = figure(
        name=name,
        height=height,
        sizing_mode="stretch_width",
        toolbar_location=None,
        tools="",
        background_fill_color=None,
        border_fill_color=None,
        outline_line_color=None,
        min_border_left=LEFT_BORDER,
        min_border_right=12,
        **more,
    )
    for axis in picture.axis:
        axis.axis_label_text_font = axis.major_label_text_font = FONT
        axis.axis_label_text_font_style = "normal"
        axis.axis_label_text_font_size = "12px"
        axis.major_label_text_font_size = "11px"
        axis.axis_line_color = axis.minor_tick_line_color = None
        axis.ticker = BasicTicker(desired_num_ticks=5)
    return picture


def _axis_labels(picture: figure, across: str, up: str) -> None:
    picture.xaxis.axis_label, picture.yaxis.axis_label = across, up


def _points(
    picture: figure, source: ColumnDataSource, view: CDSView, across: str, up: str
) -> GlyphRenderer[Any]:
    points: GlyphRenderer[Any] = picture.scatter(
        x=across,
        y=up,
        marker="marker",
        fill_color="colour",
        size=8,
        fill_alpha=0.8,
        line_width=0.5,
        selection_fill_alpha=0.9,
        nonselection_fill_color="#8c8c8c",
        nonselection_fill_alpha=0.18,
        nonselection_line_alpha=0.0,
        source=source,
        view=view,
    )
    _painted(points, "card", line=True)
    return points


def _mark_chosen(picture: figure, chosen: ColumnDataSource, across: str, up: str) -> None:
    """Draw a ring around the design whose details are shown."""
    ring = picture.scatter(x=across, y=up, size=17, fill_color=None, line_width=2.5, source=chosen)
    _painted(ring, "ink", line=True)


def _write_letters(
    picture: figure, letters: ColumnDataSource, across: tuple[str, Range1d], up: tuple[str, Range1d]
) -> None:
    """Write the letters of picked designs beside their points, apart from each other as long as nobody zooms."""
    width_px, height_px = INSIDE_PX
    x_px = width_px * _along(letters.data[across[0]], across[1])
    y_px = height_px * (1.0 - _along(letters.data[up[0]], up[1]))
    offsets = places_px(list(zip(x_px.tolist(), y_px.tolist(), strict=True)), INSIDE_PX)
    right, down = f"{picture.name} right", f"{picture.name} down"
    letters.data[right] = [offset[0] for offset in offsets]
    letters.data[down] = [offset[1] for offset in offsets]
    written = picture.text(
        x=across[0], y=up[0], text="letter", x_offset=right, y_offset=down, source=letters,
        text_font=value(FONT), text_font_size="13px", text_font_style="bold",
    )  # fmt: skip
    written.glyph.update(background_fill_alpha=0.75, padding=1)
    _painted(written, "ink", ground="card")


def _along(values: Any, shown: Range1d) -> Floats:
    """Return how far along an axis values are drawn, 0 to 1."""
    start, end = np.asarray([shown.start, shown.end], dtype=np.float64)
    return np.asarray((np.asarray(values, dtype=np.float64) - start) / (end - start))


def _add_tools(picture: figure, points: GlyphRenderer[Any], objectives: Sequence[Label]) -> None:
    """Add the ways to drag, of which the script switches one on, and what is shown under the pointer."""
    picture.add_tools(
        BoxSelectTool(renderers=[points], tags=["brush"]),
        LassoSelectTool(renderers=[points], tags=["lasso"]),
        BoxZoomTool(tags=["zoom"]),
    )
    rows = [("", "trial @trial, @family", "")]
    rows += [(each.label, f"@{{{each.name}}}{{0.{'0' * each.digits}}}", each.unit) for each in objectives]
    _hover(picture, rows, renderers=[points], limit=1)


def _hover(picture: figure, rows: Sequence[tuple[str, str, str]], **more: Any) -> None:
    """Show rows of label, value and unit under the pointer, in the page's own colours.

    Bokeh writes values as texts; what stands around them is escaped here: a currency is anybody's text.
    """
    lines = [
        f'<div><span style="color: var(--ink-soft)">{html.escape(label)}</span> {shown} {html.escape(unit)}</div>'
        for label, shown, unit in rows
    ]
    picture.add_tools(HoverTool(tooltips=f'<div style="font-family: {FONT}">{"".join(lines)}</div>', **more))


def _line(
    picture: figure, source: ColumnDataSource, across: str, up: str, *, colour: int, dash: str = "solid"
) -> None:
    _painted(picture.line(x=across, y=up, source=source, line_width=1.8, line_dash=dash), f"series-{colour}")


def _painted(renderer: GlyphRenderer[Any], colour: str, *, line: bool = False, ground: str = "") -> None:
    """Leave a renderer's colour to the script, all of it or its `line` alone, and the `ground` under a text.

    Colours are names of the style sheet.
    """
    renderer.tags = [{"colour": colour, "line": line, "ground": ground}]


def _range(values: Iterable[Any]) -> Range1d:
    """Return an axis that holds all values there are; one that is all alone gets room around it."""
    array = np.asarray(list(values), dtype=np.float64)
    array = array[np.isfinite(array)]
    low, high = (float(array.min()), float(array.max())) if len(array) else (0.0, 1.0)
    room = _MARGIN * (high - low) or max(abs(high), 1.0) * _MARGIN
    return Range1d(start=low - room, end=high + room)
