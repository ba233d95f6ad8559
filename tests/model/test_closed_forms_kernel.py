"""The kernel's step and its steam vessel against closed forms of lumped and one-dimensional heat balances."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.model.kernel.steam import capacity, energy_of_added_mass, internal_energy, liquid_volume
from boilerfront.model.network.graph import INLET, ROOM, Carry, Network, Store
from boilerfront.model.props.water import (
    density,
    liquid_energy,
    saturation_temperature,
    steam_density,
    steam_enthalpy,
)
from tests.model.small_networks import Small

DRAW_S, IDLE_S = 0.25, 1.0
"""The kernel's own steps in a draw and in idling."""


def lump(capacity_J_K: float, *, start_C: float, loss_W_K: float = 0.0, room_C: float = 25.0) -> Small:
    """One node that loses heat to the room."""
    net = Network()
    net.node("boiler", Store.SOLID, capacity_J_K)
    net.link(Carry.FIXED, "boiler", ROOM, (loss_W_K,))
    net.path = [INLET, "boiler"]
    small = Small(net)
    small["T"][0] = start_C
    small["T"][1] = room_C
    return small


def test_stirred_tank_draw_down() -> None:
    # closed form T = Tin + (T0 - Tin) exp(-m t / M): 0.3 kg, 1.6 g/s, 93 °C, refill 20 °C, 25 s; c_p cancels
    tank = lump(0.3 * 4186.0, start_C=93.0)
    tank["T"][2] = 20.0
    tank["F"][0] = 1.6e-3 * 4186.0
    course = tank.march(DRAW_S, 100)[:, 0]
    assert course[-1] == pytest.approx(83.88765, abs=2e-4)
    mean = float(np.mean(0.5 * (np.array([93.0, *course[:-1]]) + course)))
    assert mean == pytest.approx(88.34261, abs=2e-4)


def test_draw_down_with_heater_and_loss() -> None:
    # closed form, tau = C / (m cp + UA) = 188.6396 s, T_inf 172.7046 °C: 102.89305 °C after 25 s
    tank = lump(0.3 * 4186.0 + 0.6 * 390.0, start_C=93.0, loss_W_K=1.2)
    tank["T"][2] = 20.0
    tank["F"][0] = 1.6e-3 * 4186.0
    tank["Q"][0] = 1200.0
    assert tank.march(DRAW_S, 100)[-1, 0] == pytest.approx(102.89305, abs=2e-4)


def test_heat_up_with_loss() -> None:
    # closed form T = Ta + P/UA (1 - exp(-UA t / C)): 72.1794 °C after 60 s, 93 °C after 87.4295 s
    boiler = lump(1489.8, start_C=25.0, loss_W_K=1.2)
    boiler["Q"][0] = 1200.0
    course = boiler.march(IDLE_S, 90)[:, 0]
    assert course[59] == pytest.approx(72.1794, abs=1e-4)
    reached = float(np.interp(93.0, course, np.arange(1.0, 91.0)))
    assert reached == pytest.approx(87.4295, abs=2e-3)


def test_cool_down() -> None:
    # closed form T = Ta + (T0 - Ta) exp(-UA t / C): 40.9530 °C after 1800 s
    boiler = lump(1489.8, start_C=93.0, loss_W_K=1.2)
    assert boiler.march(IDLE_S, 1800)[-1, 0] == pytest.approx(40.9530, abs=1e-4)


def boiler_and_group() -> Small:
    net = Network()
    net.node("boiler", Store.SOLID, 1489.8)
    net.node("group", Store.SOLID, 900.0)
    net.link(Carry.FIXED, "boiler", "group", (8.0,))
    net.link(Carry.FIXED, "group", ROOM, (0.6,))
    small = Small(net)
    small["T"][:] = 25.0
    return small


def test_boiler_and_group_decay_with_their_two_time_constants() -> None:
    # linear algebra: 68.1126 s and 4101.112 s
    small = boiler_and_group()
    matrix, _ = small.dense()
    rates = np.linalg.eigvals(matrix / small["C"][:, 0][:, None])
    assert sorted(1.0 / rates) == pytest.approx([68.1126, 4101.112], rel=1e-5)
    small["T"][0] = 93.0
    course = small.march(IDLE_S, 3000) - 25.0
    late = np.log(course[1499, 1] / course[2999, 1]) / 1500.0  # 22 quick time constants have passed
    assert 1.0 / late == pytest.approx(4101.112, rel=1e-4)


def test_group_settles_below_its_boiler() -> None:
    # closed form T2 - Ta = (T1 - Ta) U12 / (U12 + U2): 88.2558 °C beside 93 °C, held with 37.9535 W
    small = boiler_and_group()
    small["Q"][0] = 37.9535
    end = small.march(1e9, 2)[-1]
    assert end == pytest.approx([93.0, 88.2558], abs=1e-3)


@pytest.mark.parametrize(
    ("UA_W_K", "flow_g_s", "bath_C", "outlet_C"),
    [  # W. M. Kays and A. L. London: Tb - (Tb - 20) exp(-UA / (m c_p)), c_p 4186 J/kgK
        (12.0, 2.5, 125.0, 91.6426),
        (25.0, 2.5, 125.0, 115.3684),
        (12.0, 10.0, 125.0, 46.1702),
        (6.0, 2.0, 93.0, 57.3487),
    ],
)
def test_a_chain_of_cells_tends_to_the_exchanger(
    UA_W_K: float, flow_g_s: float, bath_C: float, outlet_C: float
) -> None:
    F = flow_g_s * 1e-3 * 4186.0

    def outlet(cells: int) -> float:
        net = Network()
        net.path = [INLET]
        for k in range(cells):
            net.path.append(net.node(f"c{k}", Store.SOLID, 10.0))
            net.link(Carry.FIXED, f"c{k}", ROOM, (UA_W_K / cells,))
        small = Small(net)
        small["T"][:] = bath_C
        small["T"][cells + 1] = 20.0
        small["F"][:] = F
        return float(small.march(1e12, 1)[-1, -1])

    errors = {cells: abs(outlet(cells) - outlet_C) for cells in (12, 24, 96)}
    for cells, error in errors.items():  # each mixed cell passes 1 / (1 + NTU/N): their chain exactly
        chain = bath_C - (bath_C - 20.0) * (1.0 + UA_W_K / F / cells) ** -cells
        assert error == pytest.approx(abs(chain - outlet_C), abs=2e-3)
    assert errors[24] < 0.55 * errors[12]
    assert errors[96] < 0.14 * errors[12]


def test_heat_of_a_closed_two_phase_vessel() -> None:
    # IAPWS-95: 1.5 L, 60 % full at 20 °C (0.89839 kg), air vented, to 125 °C: 397.532 kJ, level 63.73 %
    mass = 0.9e-3 * density(20.0) + 0.6e-3 * steam_density(20.0)
    assert mass == pytest.approx(0.89839, rel=1e-4)
    heat = internal_energy(125.0, mass, 1.5e-3) - internal_energy(20.0, mass, 1.5e-3)
    assert heat == pytest.approx(397_532.0, rel=2e-3)
    assert liquid_volume(125.0, mass, 1.5e-3) / 1.5e-3 == pytest.approx(0.6373, abs=1e-3)
    by_steps = sum(capacity(20.5 + k, mass, 1.5e-3) for k in range(105))
    assert by_steps == pytest.approx(heat, rel=1e-9)


@pytest.mark.parametrize(
    ("from_bar", "to_bar", "leaves_g"),
    [
        (2.5, 2.0, 14.099),
        (2.2, 1.6, 19.224),
    ],  # exact stepping of U and m with IAPWS-95, 1 kg liquid, half full
)
def test_flash_steam_of_an_unheated_vessel(from_bar: float, to_bar: float, leaves_g: float) -> None:
    t = saturation_temperature(from_bar * 1e5)
    volume = 2.0 / density(t)
    mass = 1.0 + 0.5 * volume * steam_density(t)
    start = mass
    end_C = saturation_temperature(to_bar * 1e5)
    drop = 1e-5
    while t > end_C:
        # open vessel: m du/dT dT = -(h_g - dU/dm) dm, dry steam leaves; midpoint rule
        half = t - 0.5 * drop * _fall(t, mass, volume)
        t -= drop * _fall(half, mass - 0.5 * drop, volume)
        mass -= drop
    assert 1e3 * (start - mass) == pytest.approx(leaves_g, rel=0.01)


def _fall(t: float, mass: float, volume: float) -> float:
    return (steam_enthalpy(t) - energy_of_added_mass(t)) / capacity(t, mass, volume)


@given(st.floats(20.0, 140.0), st.floats(0.2, 0.8), st.floats(0.3e-3, 2e-3))
def test_added_mass_and_capacity_are_the_slopes_of_the_energy(t: float, level: float, volume: float) -> None:
    mass = volume * (level * density(t) + (1.0 - level) * steam_density(t))
    dm = 1e-4 * mass
    by_mass = (internal_energy(t, mass + dm, volume) - internal_energy(t, mass - dm, volume)) / (2.0 * dm)
    assert energy_of_added_mass(t) == pytest.approx(by_mass, rel=1e-6, abs=1.0)
    by_T = (internal_energy(t + 0.1, mass, volume) - internal_energy(t - 0.1, mass, volume)) / 0.2
    assert capacity(t, mass, volume) == pytest.approx(by_T, rel=1e-4)
    # the liquid alone is the lower bound: heating it, without evaporation into the vapour space
    liquid = liquid_volume(t, mass, volume) * density(t)
    warmed = liquid_energy(t + 0.5) - liquid_energy(t - 0.5)
    assert capacity(t, mass, volume) > liquid * warmed


def test_steady_feed_and_steam_balance() -> None:
    # derivation: a vessel at constant pressure that loses dry steam and is fed nothing needs
    # w h_fg v_g / (v_g - v_f); at 2.2 bar the factor is 1.0013
    t = saturation_temperature(2.2e5)
    needed = steam_enthalpy(t) - energy_of_added_mass(t)
    h_fg = 2.19298e6  # J/kg at 2.2 bar: IAPWS-95
    ratio = 1.0 / steam_density(t) / (1.0 / steam_density(t) - 1.0 / density(t))
    assert ratio == pytest.approx(1.0013, abs=1e-4)
    assert needed == pytest.approx(h_fg * ratio, rel=2e-3)
