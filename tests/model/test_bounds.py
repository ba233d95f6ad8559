"""The energy bound on warm-up: no design beats it."""

from __future__ import annotations

import pytest

from boilerfront.model import ARCHITECTURES, evaluate_many
from boilerfront.model.bounds import heat_to_ready_J, shortest_warm_up_s
from tests.model.random_designs import NOMINAL, number, random_designs


@pytest.mark.parametrize("architecture", list(ARCHITECTURES))
def test_no_design_is_ready_before_its_bound(architecture: str) -> None:
    designs = random_designs(30, 71, architecture=architecture)
    for design, row in zip(designs, evaluate_many(designs, NOMINAL), strict=True):
        assert number(row, "warm_up_s") > shortest_warm_up_s(design, NOMINAL)


def test_the_heat_of_the_water_alone_is_part_of_it() -> None:
    """0.3 kg from 20 to 93 °C take 91.7 kJ (IAPWS-95 through CoolProp); here 0.6 L from 22 to 92.5 °C, and metal."""
    design: dict[str, float | int | str | None] = {"architecture": "dual_boiler", "brew_volume_mL": 600.0}
    heat = heat_to_ready_J(design, NOMINAL)
    assert heat > 0.58 / 0.3 * 91.7e3 * 70.5 / 73.0
    larger = heat_to_ready_J({**design, "brew_volume_mL": 1200.0}, NOMINAL)
    assert larger > heat
