"""Charts of a pack: how the batch warms up and pours, and the nominal machine through its duty."""

from __future__ import annotations

import io

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from boilerfront.results.pack.acceptance import ShotCheck
from boilerfront.results.pack.bands import HIGH, LOW, Band
from boilerfront.results.pack.subject import Subject
from boilerfront.results.trace_picture import READY_COLOUR, SHOT_COLOUR, SHOTS_A_ROW, draw_course
from boilerfront.results.trace_plot import Traced, temperatures_of

DPI = 170
WIDTH_IN = 10.0


def warm_up_chart(subject: Subject) -> bytes:
    """Return the warm-up of the batch as PNG: sensors over time, nominal and bands, when they are ready."""
    figure, panel = _figure(3.6)
    for name, word, colour in temperatures_of(subject.trace):
        if name in subject.bands.warm_up:
            band = subject.bands.warm_up[name]
            _draw(panel, band, band.clock_s / 60.0, colour=colour, label=word)
    low, high = subject.bands.ready_s
    panel.axvspan(
        low / 60.0, high / 60.0, color=READY_COLOUR, alpha=0.12, linewidth=0.0, label="ready, whole batch"
    )
    if subject.trace.ready_s is not None:
        panel.axvline(
            subject.trace.ready_s / 60.0, color=READY_COLOUR, linestyle="--", label="ready, nominal"
        )
    panel.set_xlim(0.0, (high + 60.0) / 60.0)
    panel.set_xlabel("time since switch-on, min")
    panel.set_ylabel("sensor, °C")
    panel.legend(loc="lower right", fontsize="small")
    panel.grid(alpha=0.25)
    return _png(figure)


def shots_chart(subject: Subject, checks: list[ShotCheck]) -> bytes:
    """Return every shot of the batch as PNG: water at the screen, nominal and band, and the pass band of its mean."""
    bands = subject.bands.shots
    columns = min(max(len(bands), 1), SHOTS_A_ROW // 2)
    rows = -(-len(bands) // columns)
    figure = Figure(figsize=(WIDTH_IN, 2.5 * rows), layout="constrained")
    FigureCanvasAgg(figure)
    panels: list[Axes] = list(figure.subplots(rows, columns, squeeze=False, sharey=True).flat)
    for panel in panels[len(bands) :]:
        panel.set_visible(False)
    middle = subject.machine.user_set_point_C
    for panel, band, check in zip(panels, bands, checks, strict=False):
        panel.axvspan(0.0, subject.trace.scored_from_s, color="#000000", alpha=0.06, linewidth=0.0)
        panel.axhline(middle, color=READY_COLOUR, linewidth=0.9)
        scored = [subject.trace.scored_from_s, float(band.clock_s[-1])]
        for edge_K in (check.low_K, check.high_K):
            panel.plot(scored, [middle + edge_K] * 2, color="#777777", linestyle=":", linewidth=1.2)
        _draw(panel, band, band.clock_s, colour=SHOT_COLOUR, label="water at the screen")
        panel.set_xlim(0.0, float(band.clock_s[-1]))
        panel.set_title(f"shot {check.number}, {check.flow}: {check.planned}", fontsize="small")
        panel.grid(alpha=0.25)
    reach = _reach(subject, checks)
    panels[0].set_ylim(middle - reach, middle + reach)
    for row in range(rows):
        panels[row * columns].set_ylabel("°C")
    for panel in panels[max(len(bands) - columns, 0) : len(bands)]:
        panel.set_xlabel("s after pump start", fontsize="small")
    return _png(figure)


def course_chart(subject: Subject) -> bytes:
    """Return the nominal machine's course through its duty as PNG."""
    figure = Figure(figsize=(WIDTH_IN, 8.0), layout="constrained")
    FigureCanvasAgg(figure)
    draw_course(figure, Traced("nominal machine", subject.trace))
    return _png(figure)


def _figure(height_in: float) -> tuple[Figure, Axes]:
    figure = Figure(figsize=(WIDTH_IN, height_in), layout="constrained")
    FigureCanvasAgg(figure)
    return figure, figure.subplots()


def _draw(panel: Axes, band: Band, clock: np.ndarray, *, colour: str, label: str) -> None:
    panel.fill_between(clock, band.low, band.high, color=colour, alpha=0.25, linewidth=0.0)
    panel.plot(
        clock, band.nominal, color=colour, linewidth=1.6, label=f"{label}: nominal, {LOW:g} to {HIGH:g} %"
    )


def _reach(subject: Subject, checks: list[ShotCheck]) -> float:
    """Return how far from the set-point the panels reach: bands where shots are scored, and pass bands."""
    reach = [abs(edge) for check in checks for edge in (check.low_K, check.high_K)]
    middle = subject.machine.user_set_point_C
    for band in subject.bands.shots:
        scored = band.clock_s >= subject.trace.scored_from_s
        edges = np.concatenate([band.low[scored], band.high[scored]])
        reach += [float(np.nanmax(np.abs(edges - middle)))] if np.isfinite(edges).any() else []
    return 1.1 * max(reach, default=1.0)


def _png(figure: Figure) -> bytes:
    sink = io.BytesIO()
    figure.savefig(sink, format="png", dpi=DPI, metadata={"Software": None})
    return sink.getvalue()
