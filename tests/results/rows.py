"""Invented rows for the tests of the results: no physics, but the shape and the nulls of the real ones."""

from __future__ import annotations

import random
from collections.abc import Sequence

from boilerfront.model.glossary import COLUMNS
from boilerfront.results.schema import Provenance, Row, ledger_schema

PROVENANCE = Provenance(
    run="demo",
    sweep_hash="0123456789abcdef",
    statistic="second largest of 8",
    samples=8,
    sites=("230 V 10 A",),
)
VARIABLES = ("architecture", "brew_volume_mL", "coil_length_m", "control")
SCHEMA = ledger_schema(VARIABLES, PROVENANCE)
FEW = {
    name: c for name, c in COLUMNS.items() if c.group not in ("figure", "margin") or name == "margin_steam_s"
}
FEW["trim_runs"] = COLUMNS["trim_runs"]
SMALL_SCHEMA = ledger_schema(VARIABLES, PROVENANCE, columns=FEW)
"""The same with few columns, for tests that write hundreds of files."""


def row(trial: int, **values: float | int | bool | str | None) -> Row:
    """Return the row of a feasible design, a function of `trial` alone; `values` override."""
    chance = random.Random(trial)
    coil = chance.random() < 0.5
    volume = round(chance.uniform(150, 1200), 1)
    objectives = {
        "shot_deviation_K": chance.uniform(0.2, 2.0),
        "warm_up_s": 120 + volume / 2 + chance.uniform(0, 200),
        "energy_kWh_day": chance.uniform(0.4, 0.9),
        "part_cost": chance.uniform(90, 200),
    }
    return {
        "trial": trial,
        "architecture": "dual_boiler_coil" if coil else "dual_boiler",
        "brew_volume_mL": volume,
        "coil_length_m": chance.uniform(0.1, 3) if coil else None,
        "control": chance.choice(["pid", "pid_ff"]),
        **objectives,
        **{f"{name}_nominal": 0.9 * value for name, value in objectives.items()},
        "trim_runs": 2,
        "margin_steam_s": chance.uniform(0, 30),
        "feasible": True,
        **values,
    }


def not_ready(trial: int) -> Row:
    """Return the row of a design that never got ready: nulls, and a reason."""
    return {
        "trial": trial,
        "architecture": "dual_boiler",
        "brew_volume_mL": 1200.0,
        "feasible": False,
        "reason": "not ready",
        "shortfall": 0.4,
    }


def rows(trials: Sequence[int]) -> list[Row]:
    """Return one row for each trial; every seventh never got ready."""
    return [not_ready(trial) if trial % 7 == 3 else row(trial) for trial in trials]
