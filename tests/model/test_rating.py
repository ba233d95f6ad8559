"""Rows of designs: complete, balanced, reachable verdicts, and the same whatever stands beside them."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from boilerfront.model import COLUMNS, MARGINS, OBJECTIVES, evaluate, evaluate_many
from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.brief import Brief
from boilerfront.model.design import read_design
from boilerfront.model.duty import Duty, Event
from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.codes import DONE
from boilerfront.model.props.water import density, enthalpy
from boilerfront.model.runs import Pool, Request
from boilerfront.model.site import Site
from boilerfront.model.tolerances import NOMINAL as NOMINAL_MACHINE
from boilerfront.model.tolerances import Tolerances
from boilerfront.model.trim import JUMP_K
from boilerfront.model.variables import VARIABLES
from tests.model.random_designs import BOOK, NOMINAL, Design, Row, number

RANGES = {  # the default ranges of a sweep
    "brew_volume_mL": (150.0, 1200.0),
    "steam_volume_mL": (300.0, 2000.0),
    "brew_power_W": (300.0, 1500.0),
    "steam_power_W": (600.0, 2000.0),
    "group_power_W": (0.0, 300.0),
    "insulation_mm": (0.0, 25.0),
    "steam_set_point_C": (112.0, 135.0),
    "coil_length_m": (0.1, 3.0),
    "coil_bore_mm": (3.0, 8.0),
    "restrictor_mm": (1.0, 4.0),
    "block_mass_kg": (0.5, 2.5),
    "channel_length_m": (0.8, 3.0),
}
COIL = {"slug_mL", "margin_coil_fit_mm", "margin_coil_boiling_K"}
SWING = {"swing_up_s", "swing_down_s"}
VESSEL = {
    "margin_level_mm",
    "margin_steam_valve_bar",
    "margin_volume_category_L",
    "margin_wall_mm",
    "margin_watt_density_W_cm2",
    "steam_gauge_bar",
}
BREW_WATER = {"margin_brew_boiling_K", "margin_overshoot_K", "overshoot_K", "slug_mL"}
LACKS = {
    "thermoblock": COIL - {"margin_coil_fit_mm"} | VESSEL | {"steam_in_band_s"},
    "single_boiler": COIL | {"steam_in_band_s"},
    "heat_exchanger": BREW_WATER | SWING,
    "dual_boiler": COIL | SWING,
    "dual_boiler_coil": SWING,
}
"""The figures and margins that each architecture has not."""


def any_design(rng: np.random.Generator, architecture: str) -> Design:
    """Return a design anywhere in the default ranges, choices included."""
    has = ARCHITECTURES[architecture].variables
    values = {name: float(rng.uniform(low, high)) for name, (low, high) in RANGES.items() if name in has}
    named = [name for name in ("control", "group_link", "material") if name in has]
    choices: Design = {name: str(rng.choice(VARIABLES[name].choices)) for name in named}
    if rng.random() < 0.2:
        values["group_power_W"] = 0.0
    return {"architecture": architecture, **values, **choices}


@cache
def hundred() -> tuple[list[Design], list[Row]]:
    """Return 20 designs of each architecture, in turns, and their rows."""
    rng = np.random.default_rng(7)
    designs = [any_design(rng, name) for _ in range(20) for name in ARCHITECTURES]
    return designs, list(evaluate_many(designs, NOMINAL))


def through() -> list[tuple[Design, Row]]:
    """Return the designs that came through their duty."""
    return [(d, row) for d, row in zip(*hundred(), strict=True) if row["reason"] is None]


def test_a_row_never_depends_on_its_neighbours() -> None:
    designs, rows = hundred()
    for i in range(0, len(designs), 9):
        assert evaluate_many([designs[i]], NOMINAL)[0] == rows[i], i
    assert evaluate_many(designs[::-1], NOMINAL)[::-1] == rows
    chunks = [
        row for low in range(0, len(designs), 37) for row in evaluate_many(designs[low : low + 37], NOMINAL)
    ]
    assert chunks == rows


def test_a_batch_of_machines_never_depends_on_its_neighbours() -> None:
    brief = Brief(prices=BOOK, tolerances=Tolerances(samples=8))
    designs = hundred()[0][:10]
    rows = evaluate_many(designs, brief)
    for design, row in zip(designs, rows, strict=True):
        assert evaluate_many([design], brief)[0] == row


def test_the_same_call_gives_the_same_row() -> None:
    designs, rows = hundred()
    assert evaluate_many(designs[:3], NOMINAL) == rows[:3]


def test_every_key_of_a_row_is_a_column_and_none_is_missing() -> None:
    groups = ("objective", "nominal", "figure", "margin", "verdict")
    wanted = {name for name, column in COLUMNS.items() if column.group in groups}
    for design, row in through():
        assert set(row) == wanted
        nulls = {name for name, value in row.items() if value is None} - {"reason", "fault"}
        assert nulls == LACKS[str(design["architecture"])]


def test_no_number_is_infinite_or_undefined() -> None:
    for row in hundred()[1]:
        for name, value in row.items():
            if isinstance(value, float):
                assert np.isfinite(value), name


def test_no_run_fails_and_every_failure_has_its_reason() -> None:
    for row in hundred()[1]:
        assert row["fault"] is None
        if row["reason"] is not None:
            assert row["reason"] in ("not ready", "wait", "steam", "trim")
            assert all(row.get(name) is None for name in OBJECTIVES)
            assert number(row, "shortfall") > 0.0
            assert row["feasible"] is False
        else:
            margins = [row[name] for name in MARGINS if row[name] is not None]
            assert row["feasible"] == all(float(margin or 0.0) >= 0.0 for margin in margins)
            assert number(row, "shortfall") == 0.0


def test_energy_balance_closes() -> None:
    left = [abs(number(row, "energy_residual")) for _, row in through()]
    print(f"energy left open, largest and median of {len(left)}: {max(left):.2e}, {np.median(left):.2e}")
    assert max(left) < 1e-3


def test_deviation_agrees_with_the_shots_figures() -> None:
    rounding = 0.05**2 / 12.0  # a sensor's step, uniform: variance of rounding
    for design, row in through():
        closes = 0.02 if str(design["architecture"]).startswith("dual") else JUMP_K
        between = number(row, "shot_to_shot_K") ** 2 + number(row, "trim_residual_K") ** 2
        whole = between + number(row, "within_shot_K") ** 2 + rounding
        assert number(row, "shot_deviation_K_nominal") ** 2 == pytest.approx(whole, rel=1e-9)
        assert abs(number(row, "trim_residual_K")) <= closes
        assert number(row, "worst_shot_K") >= abs(number(row, "first_shot_K"))


def test_ready_is_no_earlier_than_its_parts() -> None:
    for _, row in through():
        assert number(row, "brew_ready_s") <= number(row, "warm_up_s_nominal")
        assert number(row, "brew_in_band_s") + 30.0 <= number(row, "brew_ready_s") + 1e-9
        if row["steam_in_band_s"] is not None:
            assert number(row, "steam_in_band_s") + 30.0 <= number(row, "warm_up_s_nominal") + 1e-9
        assert number(row, "peak_current_A") <= NOMINAL.site.current_limit_A + 1e-9


TUBE: dict[str, Design] = {
    "heat_exchanger": {"coil_length_m": 0.8, "coil_bore_mm": 5.0, "group_power_W": 0.0}
}


@pytest.mark.parametrize("architecture", list(ARCHITECTURES))
def test_water_that_enters_leaves_or_stays(architecture: str) -> None:
    design = {"architecture": architecture, **TUBE.get(architecture, {})}
    plant = ARCHITECTURES[architecture].build(read_design(design, NOMINAL.machine), NOMINAL)
    pool = Pool([plant], NOMINAL)
    offset = 31.0 if architecture == "heat_exchanger" else 0.0
    ran = pool.run([Request(0, 93.0, offset, NOMINAL_MACHINE)], record=True)
    out, record = ran.out[0], ran.record
    assert out[at.O_CODE] == DONE
    dt = record[:, at.R_DT_S]
    refilled, steamed, drawn = (
        float(dt @ record[:, column]) for column in (at.R_REFILL_KG_S, at.R_WAND_KG_S, at.R_FLOW_KG_S)
    )
    if architecture != "single_boiler":  # its vessel was full before and is full again
        assert out[at.O_STEAM_END_KG] - out[at.O_STEAM_START_KG] == pytest.approx(
            refilled - steamed, abs=1e-9
        )
    # fill 5.2 mL/s for 4 s, linear over 3 s, steady to the pump stop: by hand
    steady_stop = [(1.55, 28)] * 6 + [(2.40, 20), (0.95, 40)]
    volume_mL = sum(5.2 * 4 + 0.5 * (5.2 + steady) * 3 + steady * (stop - 7) for steady, stop in steady_stop)
    flushed = out[at.O_FLUSH_M3] * density(15.0)
    assert drawn - flushed == pytest.approx(1e-6 * volume_mL * density(15.0), rel=1e-9)
    assert out[at.O_WATER_IN_J] == pytest.approx((drawn + refilled) * enthalpy(15.0), rel=1e-9)
    # milk: 206 g by 60 K and the jug take 52.57 kJ of about 2.58 MJ/kg of wet steam less the milk's own heat
    vented = 1e-3 * 0.15 * 600 * density(122.0) * 1e-3 if architecture == "single_boiler" else 0.0
    assert steamed - vented == pytest.approx(52_575.0 / 2.50e6, rel=0.05 if vented else 0.03)


WEAK: Design = {"architecture": "dual_boiler", "brew_volume_mL": 2000.0, "brew_power_W": 200.0}


def test_a_weak_element_is_never_ready() -> None:
    row = evaluate_many(
        [{**WEAK, "insulation_mm": 0.0, "group_power_W": 0.0, "group_link": "saturated"}], NOMINAL
    )[0]
    assert row["reason"] == "not ready"
    assert number(row, "shortfall") > 0.0
    assert all(row.get(name) is None for name in OBJECTIVES)


def test_an_element_that_the_socket_cannot_feed_is_never_ready() -> None:
    # 100 V, 15 A: 1500 W; a steam element of 1600 W never comes on
    site = Site(name="100 V 15 A", voltage_V=100.0, current_limit_A=15.0, frequency_Hz=60)
    row = evaluate({"steam_power_W": 1600.0}, site, Duty(), prices=BOOK, brief=NOMINAL)
    assert row["reason"] == "not ready"
    assert evaluate({"steam_power_W": 1300.0}, site, Duty(), prices=BOOK, brief=NOMINAL)["reason"] is None


def test_a_jug_too_large_fails_by_steam() -> None:
    duty = Duty(milk_g=900.0)
    weak: Design = {"architecture": "dual_boiler", "steam_power_W": 600.0, "steam_volume_mL": 300.0}
    row = evaluate(weak, Site(), duty, prices=BOOK, brief=NOMINAL)
    assert row["reason"] == "steam"
    assert number(row, "shortfall") > 0.0
    assert all(row.get(name) is None for name in OBJECTIVES)


def test_a_duty_that_never_rests_fails_by_waiting() -> None:
    busy = tuple(Event(at_s=60 + 45 * k, flow="fast") for k in range(20))
    duty = Duty(events=(*busy, Event(after_s=600)))
    weak: Design = {"architecture": "dual_boiler", "brew_volume_mL": 200.0, "brew_power_W": 250.0}
    row = evaluate(weak, Site(), duty, prices=BOOK, brief=NOMINAL)
    assert row["reason"] == "wait"
    assert number(row, "shortfall") > 0.0


def test_a_coil_far_too_long_fails_by_the_trim() -> None:
    hot: Design = {"architecture": "dual_boiler_coil", "coil_length_m": 3.0, "coil_bore_mm": 3.0}
    row = evaluate_many([{**hot, "brew_volume_mL": 150.0, "steam_set_point_C": 135.0}], NOMINAL)[0]
    assert row["reason"] == "trim"
    assert number(row, "shortfall") > 0.0


def test_masked_variables_leave_the_row_alone() -> None:
    bare, masked = evaluate_many(
        [
            {"architecture": "dual_boiler"},
            {"architecture": "dual_boiler", "coil_length_m": 2.0, "coil_bore_mm": None, "coil_outer_mm": 8.0},
        ],
        NOMINAL,
    )
    assert bare == masked


def test_expansion_of_a_litre() -> None:
    # IAPWS-95: 1 L of water grows by 36.250 mL between 20 and 93 °C
    row = evaluate({"brew_volume_mL": 1000.0}, Site(ambient_C=20.0), Duty(), prices=BOOK, brief=NOMINAL)
    assert number(row, "expansion_mL") == pytest.approx(36.25, rel=5e-3)


def test_no_steam_event_leaves_nothing_to_say_of_steaming() -> None:
    duty = Duty(events=(Event(at_s=60), Event(after_s=1200)))
    row = evaluate({}, Site(), duty, prices=BOOK, brief=NOMINAL)
    assert row["steam_time_s"] is None
    assert row["margin_steam_s"] is None


def test_robust_values_are_no_better_than_the_worst_machine_and_cost_is_nominal() -> None:
    rows = evaluate_many(hundred()[0][:20], Brief(prices=BOOK, tolerances=Tolerances(samples=8)))
    for row in rows:
        if row["reason"] is None:
            assert row["part_cost"] == row["part_cost_nominal"]
            assert number(row, "shot_deviation_K") > 0.0
            assert set(OBJECTIVES) <= set(row)


def test_no_designs_give_no_rows() -> None:
    assert evaluate_many([], NOMINAL) == []
