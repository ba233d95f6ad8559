"""Limits: where they come from, what altitude does to them, and the rules for switching off."""

from __future__ import annotations

import pytest

from boilerfront.model import COLUMNS, MARGINS, Site, evaluate_many
from boilerfront.model.brief import Brief
from boilerfront.model.hard_limits import hard_limits
from boilerfront.model.limits import Limits
from boilerfront.model.machine import Control, Elements, Machine
from boilerfront.model.props.water import saturation_pressure, saturation_temperature
from boilerfront.model.runs import default_user_C, set_point_range_C
from boilerfront.shared.errors import InputError
from boilerfront.shared.schema import validated
from tests.model.random_designs import BOOK, NOMINAL, Design, number, random_designs

HIGH = Site(altitude_m=1500.0)
MOUNTAIN = NOMINAL.model_copy(update={"site": HIGH})


def test_every_margin_says_where_its_limit_comes_from() -> None:
    for name in MARGINS:
        assert COLUMNS[name].source, name
    edition = ("2014/68/EU", "NEC 210.23(A)(1), 2020", "UG-27", "IEC 60335-1")
    text = " ".join(COLUMNS[name].source for name in MARGINS)
    for part in (*edition, "from memory", "our judgement"):
        assert part in text, part


def test_hard_limits_in_words() -> None:
    words = {each.what: each for each in hard_limits(NOMINAL)}
    assert words["mains"].limit == "10 A"
    assert "2 L" in words["pressure"].limit
    assert words["load in water"].limit == "10 W/cm²"
    assert words["load in steam"].limit == "2 W/cm²"
    assert "30 min" in words["auto-off"].limit
    assert words["boiling"].limit == "100.0 °C at 0 m; set-points 86 to 96 °C"
    free = Site(pressure_category=False, standby_rules=False)
    assert {"pressure", "auto-off"}.isdisjoint(e.what for e in hard_limits(Brief(prices=BOOK, site=free)))
    two = Brief(prices=BOOK, sites={"low": Site(), "high": HIGH})
    boiling = [each.limit for each in hard_limits(two) if each.what == "boiling"]
    assert boiling[1] == "95.0 °C at 1500 m; set-points 86 to 93 °C (96 asked for)"


def test_altitude_cuts_the_set_point_range() -> None:
    # about 0.845 bar at 1500 m, boiling at 94.9 °C: whole degrees a kelvin below
    assert set_point_range_C(MOUNTAIN) == (86.0, 93.0)
    assert default_user_C(MOUNTAIN) == 92.0
    row, here = evaluate_many([{}], MOUNTAIN)[0], evaluate_many([{}], NOMINAL)[0]
    assert (row["set_point_top_C"], row["set_point_cut_K"]) == (93.0, 3.0)
    assert (here["set_point_top_C"], here["set_point_cut_K"]) == (96.0, 0.0)


def test_gauge_and_absolute_pressure_of_steam() -> None:
    # 1.2 bar gauge is 2.213 bar abs, 123.44 °C; at 1500 m (0.845 bar) the same gauge is 2.5 K colder (trap 5)
    at_sea, high = (
        number(evaluate_many([{"steam_set_point_C": 123.44}], brief)[0], "steam_gauge_bar")
        for brief in (NOMINAL, MOUNTAIN)
    )
    assert at_sea == pytest.approx(1.200, abs=5e-4)
    assert high - at_sea == pytest.approx(1.01325 - 0.8456, abs=2e-4)
    colder = 123.44 - saturation_temperature(1.2e5 + 0.8456e5)
    assert colder == pytest.approx(2.5, abs=0.1)


def test_steam_near_its_safety_valve_is_infeasible() -> None:
    # 2.0 bar gauge is 133.7 °C at sea level; with 0.1 bar of distance 132.6 °C
    hottest = saturation_temperature(1e5 * (2.0 - 0.1) + 101325.0)
    rows = evaluate_many([{"steam_set_point_C": hottest + step} for step in (-0.1, 0.1)], NOMINAL)
    assert number(rows[0], "margin_steam_valve_bar") > 0.0 > number(rows[1], "margin_steam_valve_bar")
    expected = 2.0 - 0.1 - 1e-5 * (saturation_pressure(hottest - 0.1) - 101325.0)
    assert number(rows[0], "margin_steam_valve_bar") == pytest.approx(expected, abs=1e-9)


def test_what_altitude_does_to_fifty_designs() -> None:
    """At one user's set-point: closer to boiling at the screen and to the valve, losing less to thin air."""
    duty = NOMINAL.duty.model_copy(update={"user_set_point_C": 92.0})
    low, high = (brief.model_copy(update={"duty": duty}) for brief in (NOMINAL, MOUNTAIN))
    designs = random_designs(50, 91, architecture="dual_boiler")
    pairs = list(zip(evaluate_many(designs, low), evaluate_many(designs, high), strict=True))
    for sea, mountain in pairs:
        if sea["reason"] is None and mountain["reason"] is None:
            boiling = number(sea, "margin_outlet_boiling_K") - number(mountain, "margin_outlet_boiling_K")
            assert boiling == pytest.approx(100.0 - 94.97, abs=0.1)
            valve = number(sea, "margin_steam_valve_bar") - number(mountain, "margin_steam_valve_bar")
            assert valve == pytest.approx(1.01325 - 0.8456, abs=2e-4)
            assert number(mountain, "holding_power_W") < number(sea, "holding_power_W")


def test_a_lightly_loaded_element_may_stand_in_steam() -> None:
    """Sized for 2 W/cm2, at its worst 2 x 1.05 x 1.21 = 2.54 W/cm2; its top stands above the water."""
    light = Machine(elements=Elements(load_W_cm2=2.0, steam_top_share=0.9))
    design: Design = {"steam_volume_mL": 2000.0}
    rows = []
    for bears in (2.5, 2.6):
        limits = Limits(watt_density_steam_W_cm2=bears)
        brief = NOMINAL.model_copy(update={"machine": light, "limits": limits})
        rows.append(evaluate_many([design], brief)[0])
    assert number(rows[0], "margin_level_mm") < 0.0
    assert rows[1]["margin_level_mm"] is None


def test_rules_for_switching_off() -> None:
    late = {"machine": {"control": {"hold_s": 3600.0, "off_W": 1.0}}, "prices": BOOK}
    with pytest.raises(InputError) as caught:
        validated(Brief, late)
    text = str(caught.value)
    for part in ("hold_s 3600", "1275/2008", "off_W 1", "2023/826", "from memory"):
        assert part in text, part
    assert validated(Brief, {**late, "site": {"standby_rules": False}}).machine.control.hold_s == 3600.0
    cups = {**late, "machine": {"control": {"hold_s": 3600.0}}, "limits": {"auto_off_s": 3600.0}}
    assert validated(Brief, cups).limits.auto_off_s == 3600.0


def test_standby_is_part_of_the_day_and_counted_once() -> None:
    row = evaluate_many([{}], NOMINAL)[0]
    control = Control()
    quiet = NOMINAL.model_copy(update={"machine": Machine(control=Control(off_W=0.0, hold_s=0.0))})
    bare = evaluate_many([{}], quiet)[0]
    standby, day = number(row, "standby_kWh_day"), number(row, "energy_kWh_day")
    assert number(bare, "standby_kWh_day") == 0.0
    assert day - standby == pytest.approx(number(bare, "energy_kWh_day"), abs=1e-12)
    # 0.5 W for nearly a day are 12 Wh (R07); holding for half an hour
    held = number(row, "holding_power_W") * control.hold_s / 3.6e6
    assert 0.011 < standby - held < 0.012
    assert number(row, "energy_kWh_year") == pytest.approx(365.0 * day)


def test_a_longer_hold_costs_energy_and_nothing_else() -> None:
    longer = NOMINAL.model_copy(update={"machine": Machine(control=Control(hold_s=1200.0))})
    designs = random_designs(10, 92, architecture="dual_boiler")
    for row, short in zip(evaluate_many(designs, NOMINAL), evaluate_many(designs, longer), strict=True):
        if row["reason"] is None:
            assert number(short, "energy_kWh_day") < number(row, "energy_kWh_day")
            assert short["shot_deviation_K"] == row["shot_deviation_K"]
