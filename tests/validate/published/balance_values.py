"""Exchangers and lumped heat balances: our effectiveness and the kernel's own step against closed forms."""

from __future__ import annotations

from collections.abc import Iterator
from math import log, pi

import ht
import numpy as np
from scipy.linalg import expm

from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.power import feed_forward
from boilerfront.model.laws import internal
from boilerfront.model.laws.closed_forms import effectiveness_isothermal
from boilerfront.model.network.graph import INLET, ROOM, Carry, Network, Store
from boilerfront.model.props.water import conductivity, heat_capacity, prandtl
from boilerfront.shared.shapes import Floats
from tests.model.small_networks import Small
from tests.validate.checks import Allowed, Group, Kind, Value

DRAW_S, IDLE_S = 0.25, 1.0
"""The kernel's own steps in a draw and in idling."""
CP = 4186.0
"""Heat capacity of water that the closed forms take [J/kgK]."""


def balance_groups() -> Iterator[Group]:
    """Make the groups of this file."""
    yield exchangers()
    yield lumps()


def exchangers() -> Group:
    """Tubes in a bath of one temperature."""
    group = Group("heat exchangers")
    six = Allowed(absolute=1e-6, why="printed digits")
    digits = Allowed(absolute=1e-4, why="printed digits")
    cases = (
        ("E01", 12.0, 2.5, 125.0, 0.682310, 91.6426),
        ("E02", 25.0, 2.5, 125.0, 0.908271, 115.3684),
        ("E03", 12.0, 10.0, 125.0, 0.249240, 46.1702),
        ("E04", 6.0, 2.0, 93.0, 0.511626, 57.3487),
    )
    for row, UA, m_g_s, bath_C, effectiveness, outlet_C in cases:
        here = effectiveness_isothermal(UA / (1e-3 * m_g_s * CP))
        at_flow = f"UA {UA:g} W/K, {m_g_s:g} g/s"
        value = Value(f"effectiveness, {at_flow}", effectiveness, here, "", row)
        group.add([value], source="ht, effectiveness_from_NTU", allowed=six)
        outlet = Value(f"outlet, {at_flow}", outlet_C, 20.0 + here * (bath_C - 20.0), "°C", row)
        group.add([outlet], source="eps-NTU", allowed=digits, kind=Kind.CLOSED)
    now = [
        Value(
            f"effectiveness, NTU {NTU:g}",
            ht.hx.effectiveness_from_NTU(NTU=NTU, Cr=0.0),  # type: ignore[no-untyped-call]
            effectiveness_isothermal(NTU),
        )
        for NTU in (0.05, 0.8, 3.3)
    ]
    same = Allowed(relative=1e-9, why="the same formula")
    group.add(now, source="ht, effectiveness_from_NTU", allowed=same, kind=Kind.LIBRARY)
    chain = Allowed(absolute=2e-3, why="convergence of the implicit step")
    for row, UA, m_g_s, bath_C, _, _ in cases:
        units = UA / (1e-3 * m_g_s * CP)
        mixed = bath_C - (bath_C - 20.0) * (1.0 + units / 12.0) ** -12
        value = Value(
            f"12 mixed cells, UA {UA:g} W/K, {m_g_s:g} g/s", mixed, chain_C(UA, m_g_s, bath_C), "°C", row
        )
        group.add([value], source="(1 + NTU/N)^-N", allowed=chain, kind=Kind.CLOSED)
    _coils(group)
    return group


def chain_C(UA_W_K: float, flow_g_s: float, bath_C: float, cells: int = 12) -> float:
    """Return what leaves a chain of the kernel's mixed cells in steady flow [°C]."""
    net = Network()
    net.path = [INLET]
    for k in range(cells):
        net.path.append(net.node(f"c{k}", Store.SOLID, 10.0))
        net.link(Carry.FIXED, f"c{k}", ROOM, (UA_W_K / cells,))
    small = Small(net)
    small["T"][:] = bath_C
    small["T"][cells + 1] = 20.0
    small["F"][:] = 1e-3 * flow_g_s * CP
    return float(small.march(1e12, 1)[-1, -1])


def _coils(group: Group) -> None:
    """Chained cases: our laws at 60 °C, a copper wall, a given outer film; and a straight bore by Hausen."""
    fits = Allowed(absolute=0.15, why="k, mu, c_p at 10 bar 0.2 %, NTU 2 to 5")
    for row, outside, m_g_s, bath_C, Nu, UA, outlet_C in (
        ("I01", 12000.0, 2.5, 123.25, 23.0299, 58.0663, 122.850),
        ("I02", 1000.0, 2.5, 123.25, 23.0299, 20.1442, 108.208),
        ("I03", 1000.0, 1.6, 123.25, 17.9735, 18.6493, 116.886),
        ("I04", 1000.0, 1.6, 93.0, 17.9735, 18.6493, 88.501),
    ):
        m = 1e-3 * m_g_s
        nusselt = internal.nusselt_helical(internal.reynolds(m, 0.004, 60.0), prandtl(60.0), 0.08)
        film = nusselt * conductivity(60.0) / 0.004
        wall = log(6.0 / 4.0) / (2.0 * pi * 330.0)
        here = 1.5 / (1.0 / (film * pi * 0.004) + wall + 1.0 / (outside * pi * 0.006))
        end_C = 20.0 + (bath_C - 20.0) * effectiveness_isothermal(here / (m * heat_capacity(60.0)))
        case = f"coil, {m_g_s:g} g/s, outside {outside:g} W/m2K"
        near = Allowed(relative=3e-3, why="k, mu, c_p at 10 bar")
        values = [Value(f"Nu, {case}", Nu, nusselt, "", row), Value(f"UA, {case}", UA, here, "W/K", row)]
        group.add(values, source="Schmidt 1967, series", allowed=near, kind=Kind.RECALLED)
        outlet = Value(f"outlet, {case}, bath {bath_C:g} °C", outlet_C, end_C, "°C", row)
        group.add([outlet], source="Schmidt 1967, eps-NTU", allowed=fits, kind=Kind.RECALLED)
    m = 2e-3
    Nu = internal.nusselt_straight(internal.reynolds(m, 0.005, 60.0), prandtl(60.0), 0.005 / 1.2)
    UA = Nu * conductivity(60.0) / 0.005 * pi * 0.005 * 1.2
    end_C = 20.0 + 95.0 * effectiveness_isothermal(UA / (m * heat_capacity(60.0)))
    bore = [
        Value("Nu, bore 5 mm, 2 g/s", 4.40107, Nu, "", "I05"),
        Value("UA, bore 5 mm of 1.2 m", 10.80896, UA, "W/K", "I05"),
    ]
    near = Allowed(relative=3e-3, why="k, mu, c_p at 10 bar")
    group.add(bore, source="Hausen by ht", allowed=near)
    outlet = Value("outlet, bore at 115 °C", 88.9021, end_C, "°C", "I05")
    group.add([outlet], source="Hausen by ht, eps-NTU", allowed=fits)


def lump(capacity_J_K: float, *, start_C: float, loss_W_K: float = 0.0, room_C: float = 25.0) -> Small:
    """Return one node that loses heat to the room, marched by the kernel's own step."""
    net = Network()
    net.node("boiler", Store.SOLID, capacity_J_K)
    net.link(Carry.FIXED, "boiler", ROOM, (loss_W_K,))
    net.path = [INLET, "boiler"]
    small = Small(net)
    small["T"][0] = start_C
    small["T"][1] = room_C
    small["T"][2] = 20.0
    return small


def boiler_and_group() -> Small:
    """Return two nodes in a row."""
    net = Network()
    net.node("boiler", Store.SOLID, 1489.8)
    net.node("group", Store.SOLID, 900.0)
    net.link(Carry.FIXED, "boiler", "group", (8.0,))
    net.link(Carry.FIXED, "group", ROOM, (0.6,))
    small = Small(net)
    small["T"][:] = 25.0
    return small


def lumps() -> Group:
    """Draw-down, heat-up, cool-down, two nodes: closed forms."""
    group = Group("lumped heat balances")
    draw = Allowed(absolute=2e-4, why="second order step of 0.25 s")
    idle = Allowed(absolute=1e-4, why="second order step of 1 s")
    tank = lump(0.3 * CP, start_C=93.0)
    tank["F"][0] = 1.6e-3 * CP
    course = tank.march(DRAW_S, 100)[:, 0]
    mean = float(np.mean(0.5 * (np.array([93.0, *course[:-1]]) + course)))
    heated = lump(0.3 * CP + 0.6 * 390.0, start_C=93.0, loss_W_K=1.2)
    heated["F"][0] = 1.6e-3 * CP
    heated["Q"][0] = 1200.0
    draws = [
        Value("stirred tank after 25 s", 83.88765, course[-1], "°C", "E09"),
        Value("its mean outlet", 88.34261, mean, "°C", "E09"),
        Value("with heater, loss and metal", 102.89305, heated.march(DRAW_S, 100)[-1, 0], "°C", "E10"),
    ]
    group.add(draws, source="closed form, scipy", allowed=draw, kind=Kind.CLOSED)
    boiler = lump(1489.8, start_C=25.0, loss_W_K=1.2)
    boiler["Q"][0] = 1200.0
    rise = boiler.march(IDLE_S, 90)[:, 0]
    cooling = lump(1489.8, start_C=93.0, loss_W_K=1.2).march(IDLE_S, 1800)[-1, 0]
    idles = [
        Value("heat-up with loss after 60 s", 72.1794, rise[59], "°C", "E12"),
        Value("cool-down after 1800 s", 40.9530, cooling, "°C", "E13"),
    ]
    group.add(idles, source="closed form", allowed=idle, kind=Kind.CLOSED)
    reached = float(np.interp(93.0, rise, np.arange(1.0, 91.0)))
    block = lump(1200.78, start_C=25.0)
    block["Q"][0] = 1300.0
    ramp = float(np.interp(110.0, block.march(IDLE_S, 90)[:, 0], np.arange(1.0, 91.0)))
    times = [
        Value("heat-up to 93 °C", 87.4295, reached, "s", "E12"),
        Value("thermoblock, 25 to 110 °C", 78.513, ramp, "s", "I06"),
    ]
    between = Allowed(absolute=2e-3, why="interpolated between samples")
    group.add(times, source="closed form", allowed=between, kind=Kind.CLOSED)
    _bead(group)
    _two_nodes(group)
    power = Value(
        "power that the feed-forward asks, 1.6 g/s, 20 to 93 °C", 488.832, feed_forward_W(), "W", "E11"
    )
    near = Allowed(relative=1e-3, why="saturated liquid for 10 bar")
    group.add([power], source="IAPWS-95 by CoolProp, 10 bar", allowed=near)
    return group


def _bead(group: Group) -> None:
    """A thermocouple's bead in hot gas, 400 W/m2K, 8500 kg/m3, 400 J/kgK, from 25 to 199 °C in gas at 200 °C."""
    D = 7.06e-4
    bead = lump(8500.0 * 400.0 * pi / 6.0 * D**3, start_C=25.0, loss_W_K=400.0 * pi * D**2, room_C=200.0)
    left = np.log(200.0 - bead.march(0.02, 300)[:, 0])
    reached = float(np.interp(0.0, -left, 0.02 * np.arange(1.0, 301.0)))
    value = Value("lumped bead to 199 °C", 5.166, reached, "s", "X04")
    book = Allowed(relative=0.01, why="the example's rounded diameter")
    group.add([value], source="Incropera, DeWitt, example, recomputed", allowed=book)


def _two_nodes(group: Group) -> None:
    small = boiler_and_group()
    small["T"][0] = 93.0
    course: Floats = small.march(IDLE_S, 3000) - 25.0
    slow = 1500.0 / float(np.log(course[1499, 1] / course[2999, 1]))
    value = Value("slow time constant of boiler and group", 4101.112, slow, "s", "E15")
    step = Allowed(relative=1e-4, why="second order step of 1 s")
    group.add([value], source="eigenvalues by numpy", allowed=step, kind=Kind.CLOSED)
    held = boiler_and_group()
    held["Q"][0] = 37.9535
    boiler_C, group_C = held.march(1e9, 2)[-1]
    steady = [
        Value("boiler held with 37.9535 W", 93.0, boiler_C, "°C", "E15"),
        Value("group beside it", 88.2558, group_C, "°C", "E15"),
    ]
    digits = Allowed(absolute=1e-3, why="printed power")
    group.add(steady, source="linear algebra", allowed=digits, kind=Kind.CLOSED)
    for seconds in (10, 60, 600):
        small = boiler_and_group()
        small["T"][0] = 93.0
        matrix, _ = small.dense()
        there = expm(-matrix / small["C"][:, :1] * seconds) @ np.array([68.0, 0.0])
        here = small.march(IDLE_S, seconds)[-1] - 25.0
        now = Value(f"group warmed by its boiler for {seconds} s", there[1], here[1], "K")
        one = Allowed(absolute=2e-3, why="second order step of 1 s")
        group.add([now], source="scipy, expm", allowed=one, kind=Kind.LIBRARY)


def feed_forward_W() -> float:
    """Return what the kernel's feed-forward asks for 1.6 g/s of refill at 20 °C and a set-point of 93 °C."""
    S, P = np.zeros((at.NS, 1)), np.zeros((at.NP, 1))
    S[at.S_FLOW0] = S[at.S_FLOW1] = 1.6e-3
    S[at.S_MODE] = at.MODE_SHOT
    P[at.P_FEED_FORWARD], P[at.P_BREW_SET_C], P[at.P_BREW_W] = 1.0, 93.0, 1200.0
    return feed_forward(0, S, P, np.full(at.NX, 20.0))
