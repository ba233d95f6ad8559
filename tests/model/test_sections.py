"""Sections of a sweep file that the model owns: every fault of a section at once, none let through."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from boilerfront.model import evaluate_many
from boilerfront.model.brief import Brief
from boilerfront.model.duty import Duty
from boilerfront.model.machine import Machine
from boilerfront.model.prices import ITEMS, PriceBook
from boilerfront.model.site import Site
from boilerfront.model.tolerances import Tolerances
from boilerfront.shared.errors import InputError
from boilerfront.shared.schema import Section, validated

PRICES = {"prices": dict.fromkeys(ITEMS, 1.0)}


def faults(section: type[Section], data: Mapping[str, Any]) -> list[str]:
    with pytest.raises(InputError) as caught:
        validated(section, data)
    return [str(fault) for fault in caught.value.faults]


def test_every_fault_of_a_site() -> None:
    bad = {
        "voltage_V": 400.0,
        "current_limit_A": 0.0,
        "frequency_Hz": 55,
        "mains_tolerance": 1.0,
        "ambient_C": -40.0,
        "inlet_C": 80.0,
        "altitude_m": 1e5,
        "pressure_category": "no",
        "colour": "red",
    }
    found = faults(Site, bad)
    assert len(found) == len(bad)
    for key in bad:
        assert sum(message.startswith(f"{key}:") for message in found) == 1, key


def test_every_fault_of_a_duty_s_values() -> None:
    bad = {
        "fill_mL_s": 0.0,
        "fill_s": 0,
        "portafilter": "lost",
        "milk_to_C": 99.0,
        "flows": {"nominal": {"steady_mL_s": 0.0, "stop_s": 1}},
        "events": [{"kind": "tea", "at_s": 60}, {"at_s": 60, "after_s": 600}, {}],
    }
    assert len(faults(Duty, bad)) == 9


def test_every_contradiction_of_a_duty() -> None:
    bad = {
        "flows": {"gentle": {"steady_mL_s": 1.0, "stop_s": 30}},
        "events": [
            {"after_s": 1200, "flow": "wild"},
            {"at_s": 300, "flow": "gentle"},
            {"at_s": 100, "flow": "rough"},
        ],
        "set_point_low_C": 96,
        "set_point_high_C": 90,
    }
    text = "\n".join(faults(Duty, bad))
    for part in ("wild", "rough", "'nominal'", "pump stop", "order of their times", "set_point_low_C"):
        assert part in text, part


def test_a_duty_needs_a_shot() -> None:
    assert "at least one shot" in "\n".join(faults(Duty, {"events": [{"kind": "steam", "at_s": 60}]}))
    assert faults(Duty, {"events": []})


def test_a_duty_may_have_many_shots() -> None:
    events = [*({"at_s": 60 * k} for k in range(1, 41)), {"after_s": 600}]
    duty = validated(Duty, {"events": events})
    design: dict[str, float | int | str | None] = {"architecture": "dual_boiler"}
    brief = Brief(prices=PriceBook(prices=PRICES["prices"]), duty=duty, tolerances=Tolerances(samples=0))
    assert evaluate_many([design], brief)[0]["fault"] is None


def test_holding_power_needs_an_event_after_idling() -> None:
    assert any("after_s" in fault for fault in faults(Duty, {"events": [{"at_s": 60}]}))


def test_a_steam_event_names_no_unknown_flow() -> None:
    assert faults(Duty, {"events": [{"at_s": 60}, {"kind": "steam", "at_s": 200, "flow": "wild"}]})


def test_every_fault_of_the_machine_s_data() -> None:
    bad = {
        "vessels": {"stainless": {"minimum_wall_mm": 0.0}, "copper": {"joint": 2.0}, "ends": "round"},
        "steam_vessel": {"level_low": 0.0, "dryness": 0.1},
        "coil": {"copper_wall_mm": 0.0},
        "group": {"emissivity": 1.5, "mass_kg": -1.0},
        "wand": {"holes": 0},
        "boiler": {},
    }
    assert len(faults(Machine, bad)) == 10


def test_faults_of_all_sections_at_once() -> None:
    bad = {
        "site": {"voltage_V": 1.0},
        "duty": {"fill_s": 0},
        "warm_up": {"counts": "steam"},
        "machine": {"wand": {"holes": 0}},
        "limits": {"steam_s": -1.0},
        "tolerances": {"samples": -1},
        "prices": {"prices": {"pump": -1.0}},
        "sight": {},
    }
    found = faults(Brief, bad)
    assert len(found) == len(bad)


def test_level_band_in_its_order() -> None:
    vessel = {"level_low": 0.7, "level_high": 0.6}
    assert "level_low" in "\n".join(faults(Brief, {"prices": PRICES, "machine": {"steam_vessel": vessel}}))


def test_prices_must_name_every_item() -> None:
    assert faults(Brief, {"prices": {"prices": {"pump": 1.0}}})


def test_heat_of_the_default_steam_event() -> None:
    # 206 g x 3.93 J/gK x 60 K + 4 kJ
    assert Duty().steam_heat_J == pytest.approx(52_574.8)


def test_default_duty() -> None:
    events = Duty().events
    shots = [event for event in events if event.kind == "shot"]
    assert len(shots) == 8
    assert [event.at_s for event in events] == [60, 210, 360, 510, 575, 630, 685, 740, None]
    assert events[-1].after_s == 1200
    assert [event.flow for event in shots[:3]] == ["nominal", "fast", "slow"]
