"""A steam boiler that the user holds off: no power, no milk, no preheating, nobody waits for it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import pytest
from pydantic import ValidationError

from boilerfront.model import evaluate_many, simulate
from boilerfront.model.brief import Brief
from boilerfront.model.duty import Duty, Event
from boilerfront.model.glossary import OBJECTIVES
from boilerfront.results.schema import Row
from tests.model.random_designs import BOOK, NOMINAL, Design, random_designs

OFF = Brief(prices=BOOK, tolerances=NOMINAL.tolerances, duty=Duty(steam_boiler="off"))
NO_MILK = Brief(
    prices=BOOK,
    tolerances=NOMINAL.tolerances,
    duty=Duty(events=tuple(event for event in Duty().events if event.kind == "shot")),
)
DUAL = ("dual_boiler", "dual_boiler_coil")
DESIGNS = 50


@cache
def rated(architecture: str, *, off: bool) -> Sequence[Row]:
    designs = random_designs(DESIGNS if architecture in DUAL else 8, 77, architecture=architecture)
    return evaluate_many(designs, OFF if off else NO_MILK)


def number(row: Row, name: str) -> float:
    value = row[name]
    assert isinstance(value, int | float)
    return float(value)


def pairs(architecture: str) -> list[tuple[Row, Row]]:
    """Return both rows of each design that comes through with its steam boiler on and off."""
    both = zip(rated(architecture, off=False), rated(architecture, off=True), strict=True)
    return [(on, off) for on, off in both if on["reason"] is None and off["reason"] is None]


def test_no_milk_is_steamed_from_a_boiler_that_is_off() -> None:
    assert all(event.kind == "shot" for event in Duty(steam_boiler="off").events)
    assert any(event.kind == "steam" for event in Duty().events)
    with pytest.raises(ValidationError, match='events steam milk, which steam_boiler = "off" cannot'):
        Duty(steam_boiler="off", events=(Event(at_s=60), Event(kind="steam", at_s=90), Event(after_s=900)))


@pytest.mark.parametrize("architecture", DUAL)
def test_it_spares_what_the_steam_boiler_takes(architecture: str) -> None:
    found = pairs(architecture)
    assert len(found) >= DESIGNS // 2
    for on, off in found:
        assert number(off, "energy_kWh_day") < number(on, "energy_kWh_day")
        assert number(off, "holding_power_W") < number(on, "holding_power_W")
        assert number(off, "peak_current_A") <= number(on, "peak_current_A")
        # a hot steam boiler warms the casing: without it a group that is last to be ready takes a little longer
        assert number(off, "warm_up_s") <= 1.02 * number(on, "warm_up_s")
        assert number(off, "part_cost") == number(on, "part_cost")  # it is switched off, not left out
        assert off["steam_in_band_s"] is None
        assert off["steam_time_s"] is None
        assert off["margin_steam_s"] is None
        assert abs(number(off, "energy_residual")) < 1e-3  # as of machines with it on: test_rating


def test_a_coil_in_a_cold_boiler_preheats_nothing() -> None:
    """Its refill comes in as cold as without a coil: the shot swings about as that of the plain dual boiler."""
    found = pairs("dual_boiler_coil")
    unsteadier = [number(off, "shot_deviation_K") > number(on, "shot_deviation_K") for on, off in found]
    assert sum(unsteadier) >= 0.9 * len(unsteadier)
    design: Design = {"architecture": "dual_boiler_coil", "coil_length_m": 0.6}
    trace = simulate(design, OFF)
    drawn = trace.columns["flow_g_s"] > 0.0
    warmest = trace.columns["coil_header_out_C"][drawn].max()
    assert warmest < trace.columns["steam_C"].max() + 0.01
    assert OFF.site.ambient_C <= trace.columns["steam_C"].max() < 60.0


@pytest.mark.parametrize("architecture", ["heat_exchanger", "thermoblock", "single_boiler"])
def test_machines_without_one_that_can_be_off_are_as_they_are(architecture: str) -> None:
    found = pairs(architecture)
    assert found
    for on, off in found:
        assert {name: off[name] for name in OBJECTIVES} == {name: on[name] for name in OBJECTIVES}


def test_set_points_are_checked_with_it_off() -> None:
    for on, off in pairs("dual_boiler"):
        assert off["set_point_top_C"] == on["set_point_top_C"]
        assert number(off, "margin_setpoint_K") == pytest.approx(number(on, "margin_setpoint_K"), abs=1.0)
