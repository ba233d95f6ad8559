"""A small invented model in place of the real one; workers import it, so it imports little."""

from __future__ import annotations

import math
import os
import signal
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from boilerfront.jobs.work import Design, Row
from boilerfront.model.brief import Brief

STARTER = Path(__file__).parents[2] / "jobs" / "starters" / "compact-230v"
PRICES = STARTER / "prices.csv"

SWEEP = f"""
prices = "{PRICES}"

[variables]
architecture = {{ choices = ["dual_boiler", "dual_boiler_coil"] }}
brew_volume_mL = {{ low = 200, high = 800, log = true }}
brew_power_W = {{ choices = [700, 900, 1200] }}
coil_length_m = {{ low = 0.2, high = 1.6 }}
insulation_mm = {{ low = 0, high = 20, step = 2.5 }}

[search]
budget = 60
generation = 10
seed = 5
"""


def toy(designs: Sequence[Design], brief: Brief) -> list[Row]:
    """Return rows with trade-offs, an infeasible corner and designs that never get ready."""
    return [_toy(design) for design in designs]


def _toy(design: Design) -> Row:
    volume, power = float(design["brew_volume_mL"] or 0), float(design["brew_power_W"] or 0)
    insulation, coil = float(design["insulation_mm"] or 0), design.get("coil_length_m")
    if volume > 700 and power < 800:
        return {"feasible": False, "reason": "not ready", "shortfall": volume / 700 - 1}
    shock = 1.0 if coil is None else abs(float(coil) - 0.7)
    row: Row = {
        "shot_deviation_K": 0.1 + shock * math.exp(-volume / 400),
        "warm_up_s": 100 + 4 * volume / power * 100,
        "energy_kWh_day": 0.3 + volume / 2000 - insulation / 200,
        "part_cost": 80 + volume / 20 + power / 100 + insulation / 2 + (0 if coil is None else 12),
        "margin_mains_A": 9.0 - power / 230,
        "margin_coil_fit_mm": None if coil is None else 1.3 - float(coil),
        "shortfall": 0.0,
    }
    margins = [row["margin_mains_A"], row["margin_coil_fit_mm"]]
    return {**row, "feasible": all(margin is None or margin >= 0 for margin in margins)}


def prepare_nothing(brief: Brief, designs: Sequence[Design]) -> None:
    """The toy needs no compiler."""


SECONDS_A_DESIGN = 0.02
SECONDS = "BOILERFRONT_TEST_SECONDS"
"""Names how long a design takes [s] where it takes longer."""
CRASHING = "BOILERFRONT_TEST_CRASH"
EATING = "BOILERFRONT_TEST_EAT"
MOST_BYTES = 1 << 40
"""What a design that eats memory asks for: more than any machine has, in pieces of a gigabyte."""
COUNT_FILE = "BOILERFRONT_TEST_COUNT"
"""Names a file that grows by one byte for each design that is evaluated."""


def slow_toy(designs: Sequence[Design], brief: Brief) -> list[Row]:
    """Return the toy's rows after a while; where asked for, big boilers crash the worker or eat its memory."""
    if count_file := os.environ.get(COUNT_FILE):
        with open(count_file, "ab") as stream:
            stream.write(b"." * len(designs))
    time.sleep(float(os.environ.get(SECONDS, SECONDS_A_DESIGN)) * len(designs))
    if any(float(each["brew_volume_mL"] or 0) > 700 for each in designs):
        if os.environ.get(CRASHING):
            os.kill(os.getpid(), signal.SIGSEGV)
        if os.environ.get(EATING):
            _eat()
    return toy(designs, brief)


def _eat() -> None:
    """Ask for memory until it is refused; none of it is touched, so that no machine suffers."""
    held = [np.empty(1 << 30, np.uint8) for _ in range(MOST_BYTES >> 30)]
    del held
