"""What the pump holds, and what is left of it behind coil and group."""

from __future__ import annotations

from math import pi

import fluids
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.model import evaluate_many
from boilerfront.model.brief import Brief
from boilerfront.model.machine import Group, Machine, Pump
from boilerfront.model.parts.group import passage_pressure_drop_Pa
from boilerfront.model.parts.pump import pump_pressure_bar
from boilerfront.model.props.water import density, viscosity
from boilerfront.shared.errors import InputError
from boilerfront.shared.schema import validated
from tests.model.random_designs import BOOK, NOMINAL, Design, number, random_designs, without_coil

PUMP = Pump()


def test_the_curve_holds_its_points_and_is_straight_between() -> None:
    for flow, bar in PUMP.curve:
        assert pump_pressure_bar(flow, PUMP) == pytest.approx(bar)
    assert pump_pressure_bar(2.85, PUMP) == pytest.approx(10.5)
    assert pump_pressure_bar(12.8, PUMP) == pytest.approx(-3.0 / 2.3 * 2.0)


@given(st.floats(0.0, 30.0))
def test_more_flow_is_less_pressure(flow: float) -> None:
    assert pump_pressure_bar(flow + 0.01, PUMP) < pump_pressure_bar(flow, PUMP)


@pytest.mark.parametrize(
    "curve",
    [
        ((0.0, 15.0),),
        ((1.0, 15.0), (2.0, 0.0)),
        ((0.0, 15.0), (0.0, 14.0)),
        ((0.0, 15.0), (2.0, 15.0)),
        ((0.0, 15.0), (2.0, -1.0)),
    ],
)
def test_a_curve_that_is_none(curve: tuple[tuple[float, float], ...]) -> None:
    with pytest.raises(InputError) as caught:
        validated(Pump, {"curve": curve})
    assert len(caught.value.faults) == 1
    assert "falling" in str(caught.value.faults[0])


def test_drop_of_the_passage_is_the_library_s() -> None:
    # fluids: laminar friction factor and dp of a straight tube; 1.55 mL/s at 15 degC in a bore of 8 mm: Re 790 at 93
    flow, data = 1.55e-6 * density(15.0), Group()
    speed = flow / density(93.0) / (pi / 4.0 * 8e-3**2)
    Re = fluids.Reynolds(V=speed, D=8e-3, rho=density(93.0), mu=viscosity(93.0))
    factor = fluids.friction_laminar(Re)
    there = fluids.dP_from_K(fluids.K_from_f(factor, L=0.25, D=8e-3), rho=density(93.0), V=speed)
    assert passage_pressure_drop_Pa(flow, 93.0, data) == pytest.approx(there, rel=1e-9)


def test_a_longer_or_narrower_coil_takes_more_pressure() -> None:
    designs = random_designs(50, 81, architecture="dual_boiler_coil")
    rows = evaluate_many(designs, NOMINAL)
    longer = evaluate_many([{**d, "coil_length_m": 1.3 * _of(d, "coil_length_m")} for d in designs], NOMINAL)
    narrow = evaluate_many([{**d, "coil_bore_mm": 0.86 * _of(d, "coil_bore_mm")} for d in designs], NOMINAL)
    for row, long, slim in zip(rows, longer, narrow, strict=True):
        if row["reason"] is None:
            for other in (long, slim):
                if other["reason"] is None:
                    assert number(other, "pressure_drop_bar") > number(row, "pressure_drop_bar")
                    assert number(other, "puck_pressure_bar") < number(row, "puck_pressure_bar")
            # 12 bar valve or the pump at 2.4 mL/s, 15 - 9 bar interpolated by hand: 11.087 bar
            assert number(row, "puck_pressure_bar") < 11.087
            assert number(row, "margin_pump_bar") <= number(row, "puck_pressure_bar") - 9.0 + 1e-12
    bare = evaluate_many([without_coil(d) for d in designs], NOMINAL)
    assert all(number(b, "pressure_drop_bar") < 0.01 for b in bare if b["reason"] is None)


def _of(design: Design, name: str) -> float:
    return float(design[name] or 0.0)


def test_a_weak_pump_is_told_by_its_margin() -> None:
    weak = Machine(pump=Pump(curve=((0.0, 10.0), (5.0, 0.0))))
    row = evaluate_many([{}], Brief(prices=BOOK, machine=weak, tolerances=NOMINAL.tolerances))[0]
    assert number(row, "margin_pump_bar") < 0.0  # 10 - 2.4 x 2 bar is far from 9 bar
    assert row["feasible"] is False
    assert row["reason"] is None


def test_copper_and_steel_tubes_of_one_bore_take_the_same_pressure() -> None:
    design: Design = {"architecture": "dual_boiler_coil", "coil_bore_mm": 4.0, "coil_outer_mm": 6.0}
    steel, copper = evaluate_many([design, {**design, "coil_material": "copper"}], NOMINAL)
    assert steel["pressure_drop_bar"] == copper["pressure_drop_bar"]


def test_drop_of_a_block_s_channel_is_the_library_s() -> None:
    """A helix of 4 mm bore bent to 45 mm, 5.2 mL/s of 15 °C water at the mean of inlet and 93 °C (fluids)."""
    row, longer = evaluate_many(
        [{"architecture": "thermoblock", "channel_length_m": length} for length in (1.0, 2.0)], NOMINAL
    )
    T, bore, bend = 54.0, 4e-3, 45e-3
    speed = 5.2e-6 * density(15.0) / density(T) / (pi / 4.0 * bore**2)
    Re = fluids.Reynolds(V=speed, D=bore, rho=density(T), mu=viscosity(T))
    factor = fluids.helical_laminar_fd_White(Re=Re, Di=bore, Dc=bend)
    there = fluids.dP_from_K(fluids.K_from_f(factor, L=1.0, D=bore), rho=density(T), V=speed)
    assert 1e5 * (number(longer, "pressure_drop_bar") - number(row, "pressure_drop_bar")) == pytest.approx(
        there, rel=1e-6
    )
