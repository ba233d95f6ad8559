"""Write the logs of the starter `bench-230v`: an invented machine with hidden coefficients, and what real logs have.

.venv/bin/python -m tests.model.make_bench_starter
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from boilerfront.jobs.design_file import read_design_file
from boilerfront.jobs.sweep import load_sweep
from boilerfront.model.duty import Duty, Event
from boilerfront.model.fit.calibrate import bench_pool
from boilerfront.shared.shapes import Floats
from tests.model.invented_bench import Frame, Instruments, as_logged, true_courses

FOLDER = Path(__file__).parents[2] / "jobs" / "starters" / "bench-230v"
HIDDEN = {
    "brew_loss": 1.35, "steam_loss": 1.20, "group_loss": 1.10, "group_link": 0.85, "coil_outside": 0.75,
    "coil_inside": 1.10, "mixing": 0.8, "brew_lag_s": 6.0, "group_lag_s": 11.0, "steam_lag_s": 4.0,
}  # fmt: skip
LOGS = {
    "log-1.csv": (Duty(events=(Event(at_s=60), Event(at_s=150, flow="fast"), Event(at_s=260, flow="slow"),
                               Event(kind="steam", at_s=380), Event(at_s=460), Event(after_s=600))), 1200),
    "log-2.csv": (Duty(events=(Event(at_s=90, flow="slow"), Event(at_s=220, flow="fast"), Event(after_s=700))), 0),
    "log-3.csv": (Duty(events=(Event(at_s=60), Event(at_s=120), Event(at_s=180, flow="fast"),
                               Event(after_s=650))), 0),
}  # fmt: skip
HEADER = "t,TP,TB,TG,TS,TI,TR,FM,FR,IB,IG,IS,event"
EVERY_S = 2
PROBE_K = 0.35
"""Absolute error of the probe under the screen; its ice check shows it."""


def main() -> None:
    """Write the logs."""
    sweep = load_sweep(FOLDER)
    design = read_design_file(FOLDER / "design.toml", sweep.variables)
    rng = np.random.default_rng(2026)
    for name, (duty, off_s) in LOGS.items():
        pool = bench_pool(design, sweep.brief().model_copy(update={"duty": duty}))
        surroundings = {"ambient": float(rng.uniform(-2, 2)), "inlet": float(rng.uniform(-2, 2))}
        course = true_courses(
            pool, [{**HIDDEN, **surroundings}], [Frame()], user_C=93.0, offset_K=1.0, off_s=off_s
        )[0]
        logged = as_logged(course, rng, Instruments(error_K=0.0, drift_K=0.05))
        logged["shot_C"] = logged["shot_C"] + PROBE_K
        room, inlet = 22.0 + surroundings["ambient"], 15.0 + surroundings["inlet"]
        lines = [
            "# Invented: a machine of the model with hidden coefficients, another integrator, noise and drift.",
            "# No machine was ever measured for it.",
            HEADER,
            *(f"{k},{PROBE_K + 0.05 * rng.standard_normal():.2f},,,,,,,,,,,ice TP" for k in range(0, 20, 2)),
            *_rows(logged, room, inlet, rng),
        ]
        (FOLDER / name).write_text("\n".join(lines) + "\n", encoding="utf-8")


def _rows(logged: dict[str, Floats], room_C: float, inlet_C: float, rng: np.random.Generator) -> list[str]:
    """Return the rows: one every two seconds with jitter, a gap, outliers, a slow probe in the room, events."""
    count = logged["time_s"].size
    means = {
        name: np.add.reduceat(logged[name], np.arange(0, count, EVERY_S)) / EVERY_S
        for name in ("flow_g_s", "refill_g_s", "brew_power_W", "group_power_W", "steam_power_W")
    }
    steaming = logged["steam_flow_g_s"] > 0.0
    rows = []
    for k in range(count // EVERY_S):
        last = EVERY_S * (k + 1) - 1
        if 300 <= k < 307:
            continue  # the logger slept
        seen = [
            logged[channel][last]
            for channel in ("shot_C", "brew_sensor_C", "group_sensor_C", "steam_sensor_C")
        ]
        if k in (200, 444):
            seen[1] += 40.0  # a loose contact
        slow = [f"{inlet_C + 0.1 * rng.standard_normal():.1f}", f"{room_C + 0.1 * rng.standard_normal():.1f}"]
        cells = ["" if value != value else f"{value:.1f}" for value in seen]
        cells += slow if k % 15 == 0 else ["", ""]
        cells += [f"{means['flow_g_s'][k]:.2f}", f"{means['refill_g_s'][k]:.2f}"]
        cells += [f"{means[f'{circuit}_power_W'][k]:.0f}" for circuit in ("brew", "group", "steam")]
        began = steaming[last] and not steaming[max(last - EVERY_S, 0)]
        ended = not steaming[last] and steaming[max(last - EVERY_S, 0)]
        event = "on" if k == 0 else "steam" if began else "steam end" if ended else ""
        jitter = 0.02 * rng.standard_normal() if k else 0.0
        rows.append(",".join([f"{100.0 + EVERY_S * (k + 1) + jitter:.2f}", *cells, event]))
    return rows


if __name__ == "__main__":
    main()
