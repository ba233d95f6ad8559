"""Random designs of a compact machine, the same every time, and what the tests of practice do with them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from boilerfront.model import PriceBook, evaluate_many
from boilerfront.model.brief import Brief
from boilerfront.model.duty import Duty, Event
from boilerfront.model.prices import ITEMS
from boilerfront.model.tolerances import Tolerances

Design = dict[str, float | int | str | None]
Row = Mapping[str, float | int | bool | str | None]

BOOK = PriceBook(prices=dict.fromkeys(ITEMS, 1.0))
NOMINAL = Brief(prices=BOOK, tolerances=Tolerances(samples=0))
ISOLATED = NOMINAL.model_copy(
    update={"duty": Duty(events=(Event(at_s=900, flow="fast"), Event(after_s=1500, flow="slow")))}
)
"""A duty of one fast and one slow shot, each long after anything else."""


def random_designs(count: int, seed: int, *, architecture: str, heated: bool = True) -> list[Design]:
    """Return `count` designs inside the ranges of a compact 230 V machine."""
    rng = np.random.default_rng(seed)
    draw = {
        "thermoblock": _thermoblock,
        "single_boiler": _single_boiler,
        "heat_exchanger": _heat_exchanger,
        "dual_boiler": _dual_boiler,
        "dual_boiler_coil": _dual_boiler_coil,
    }[architecture]
    return [{"architecture": architecture, **draw(rng, heated)} for _ in range(count)]


def _dual_boiler(rng: np.random.Generator, heated: bool) -> Design:
    return {
        "brew_volume_mL": float(rng.uniform(250, 900)),
        "steam_volume_mL": float(rng.uniform(700, 1600)),
        "brew_power_W": float(rng.uniform(500, 1200)),
        "steam_power_W": float(rng.uniform(900, 1600)),
        "group_power_W": float(rng.uniform(80, 250)) if heated else 0.0,
        "insulation_mm": float(rng.uniform(4, 20)),
        "steam_set_point_C": float(rng.uniform(118, 130)),
    }


def _dual_boiler_coil(rng: np.random.Generator, heated: bool) -> Design:
    return {
        **_dual_boiler(rng, heated),
        "coil_length_m": float(rng.uniform(0.3, 0.6)),
        "coil_bore_mm": float(rng.uniform(3.5, 5.0)),
    }


def _thermoblock(rng: np.random.Generator, heated: bool) -> Design:
    return {
        "brew_power_W": float(rng.uniform(900, 1800)),
        "block_mass_kg": float(rng.uniform(0.6, 1.6)),
        "channel_length_m": float(rng.uniform(0.8, 2.0)),
        "group_power_W": float(rng.uniform(80, 250)) if heated else 0.0,
        "insulation_mm": float(rng.uniform(4, 20)),
    }


def _single_boiler(rng: np.random.Generator, heated: bool) -> Design:
    return {
        "brew_volume_mL": float(rng.uniform(250, 900)),
        "brew_power_W": float(rng.uniform(900, 1600)),
        "group_power_W": float(rng.uniform(80, 250)) if heated else 0.0,
        "insulation_mm": float(rng.uniform(4, 20)),
        "steam_set_point_C": float(rng.uniform(118, 130)),
    }


def _heat_exchanger(rng: np.random.Generator, heated: bool) -> Design:
    return {
        "steam_volume_mL": float(rng.uniform(900, 1600)),
        "steam_power_W": float(rng.uniform(1100, 1600)),
        "group_power_W": float(rng.uniform(80, 150)) if heated else 0.0,
        "coil_length_m": float(rng.uniform(0.6, 1.0)),
        "coil_bore_mm": float(rng.uniform(5, 8)),
        "restrictor_mm": float(rng.uniform(1.5, 2.5)),
        "insulation_mm": float(rng.uniform(4, 20)),
    }


def without_coil(design: Design) -> Design:
    """Return the same machine with cold refill."""
    rest = {name: value for name, value in design.items() if not name.startswith("coil_")}
    return {**rest, "architecture": "dual_boiler"}


def number(row: Row, name: str) -> float:
    """Return a figure; a machine that never comes through its duty counts as infinitely bad."""
    value = row.get(name)
    return float("inf") if value is None else float(value)


def share_that_holds(
    title: str,
    designs: Sequence[Design],
    pairs: Sequence[tuple[Row, Row]],
    holds: Callable[[Row, Row], bool],
    shown: Sequence[str],
) -> float:
    """Return the share of pairs for which `holds`, and print every exception with what decides it."""
    bad = [i for i, (a, b) in enumerate(pairs) if not holds(a, b)]
    for i in bad:
        a, b = pairs[i]
        values = "; ".join(f"{name} {a.get(name)} / {b.get(name)}" for name in (*shown, "reason"))
        print(f"{title}: exception {i}: {values}; design {designs[i]}")
    print(f"{title}: holds for {len(pairs) - len(bad)} of {len(pairs)}")
    return 1.0 - len(bad) / len(pairs)


def compare(
    designs: Sequence[Design], change: Callable[[Design], Design], brief: Brief = NOMINAL
) -> list[tuple[Row, Row]]:
    """Return the rows of each design and of its changed form."""
    return list(
        zip(
            evaluate_many(designs, brief),
            evaluate_many([change(design) for design in designs], brief),
            strict=True,
        )
    )
