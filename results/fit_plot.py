"""Residuals of a calibration as a picture: over time what the model leaves of each channel, before and after."""

from __future__ import annotations

import io

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from boilerfront.model.fit.calibrate import Calibrated
from boilerfront.model.fit.problem import as_probed
from boilerfront.model.fit.replay import replay
from boilerfront.results.cautions import SHORT_CAUTION
from boilerfront.shared.shapes import Floats

BEFORE, AFTER, NOISE = "#b0b0b0", "#1f6fb2", "#f2d9a0"
SMOOTHED_S = 30.0


def residual_png(calibrated: Calibrated) -> bytes:
    """Return the picture as PNG: a row for each log, a column for each channel."""
    cases, fit = calibrated.cases, calibrated.fit
    widest = max(len(case.observed) for case in cases)
    figure = Figure(figsize=(4.0 * widest, 2.6 * len(cases) + 0.6), layout="constrained")
    FigureCanvasAgg(figure)
    grid = figure.subplots(len(cases), widest, squeeze=False)
    rows = fit.problem.rows
    left = fit.residuals[: fit.readings] * rows.noise_K
    place = 0
    for k, case in enumerate(cases):
        channels = [seen.channel for seen in case.observed]
        course = replay(fit.problem.pool, case.inputs, [{}], start=case.start, channels=channels)
        for c, seen in enumerate(case.observed):
            axes = grid[k][c]
            before = as_probed(case, seen, course[:, c, 0]) - seen.values
            axes.axhspan(-2.0 * seen.noise_K, 2.0 * seen.noise_K, color=NOISE, lw=0, label="noise, 2 sigma")
            axes.plot(seen.time_s, before, ".", ms=1.5, color=BEFORE, label="design's own")
            axes.plot(
                seen.time_s, left[rows.place == place], ".", ms=1.5, color=AFTER, alpha=0.5, label="fitted"
            )
            time_s, mean = _smoothed(seen.time_s, left[rows.place == place])
            axes.plot(time_s, mean, "-", lw=1.0, color="#111111", label=f"mean of {SMOOTHED_S:g} s")
            white = fit.whiteness[place].white
            axes.set_title(f"{case.log.name}: {seen.channel}{'' if white else ' (not white)'}", fontsize=8)
            axes.tick_params(labelsize=7)
            axes.set_xlabel("s", fontsize=7)
            reach = max(5.0 * seen.noise_K, 1.2 * float(np.max(np.abs(mean), initial=0.0)))
            axes.set_ylim(-reach, reach)
            place += 1
        for axes in grid[k][len(case.observed) :]:
            axes.set_axis_off()
    grid[0][0].legend(fontsize=6, loc="upper right")
    figure.supylabel("model less reading, K", fontsize=8)
    figure.suptitle(f"Residuals. {SHORT_CAUTION}", fontsize=7)
    sink = io.BytesIO()
    figure.savefig(sink, format="png", dpi=110)
    return sink.getvalue()


def _smoothed(time_s: Floats, values: Floats) -> tuple[Floats, Floats]:
    _, block = np.unique(time_s // SMOOTHED_S, return_inverse=True)
    counts = np.bincount(block)
    return np.bincount(block, time_s) / counts, np.bincount(block, values) / counts
