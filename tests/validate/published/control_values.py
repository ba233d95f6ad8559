"""Control loops by the SIMC rule, sensors, sharing of the mains, arithmetic of standards."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from importlib.resources import files
from math import cos, pi, sin

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from boilerfront.model import ARCHITECTURES
from boilerfront.model.design import read_design
from boilerfront.model.figures import day_energy_kWh
from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.accounts import note
from boilerfront.model.kernel.control import asked_power, flicker_rate, share_mains
from boilerfront.model.kernel.march import SINGLE, new_lanes
from boilerfront.model.kernel.pace import set_step
from boilerfront.model.machine import Control
from boilerfront.model.parts.element import power_band
from boilerfront.model.parts.tuning import Loop, tune
from boilerfront.model.runs import Pool, Request
from boilerfront.model.tolerances import robust
from tests.model.random_designs import NOMINAL
from tests.validate.checks import Allowed, Band, Group, Kind, Value
from tests.validate.published.balance_values import lump

DIGITS = Allowed(relative=1e-5, why="printed digits")
MARGIN = Allowed(relative=5e-3, why="printed digits")
C_J_K, UA_W_K = 1489.8, 1.2
"""The boiler of the rows on control."""
GAIN_W_K = 124.15
HELD_S = 0.02
"""Time for which a loop that the closed forms take as continuous holds its output."""


def control_groups() -> Iterator[Group]:
    """Make the groups of this file."""
    yield tuning()
    yield loops()
    yield mains()
    yield standards()
    yield batches()


def simc(capacity: float, loss: float, dead_s: float) -> Loop:
    """Return our tuning for a dead time that contains half a window and half a sample of 1 s each."""
    return tune(capacity, loss, dead_s - 1.0, 1.0)


def tuning() -> Group:
    """S. Skogestad (2003): gains of first-order plants and the margins they give."""
    group = Group("control tuning")
    source = "SIMC, Skogestad 2003"
    one = simc(110.0, 1.0, 10.0)  # times in hundredths: tau 1.1, dead time 0.1
    half = simc(25.0, 1.0, 14.7)  # in tenths: the half rule's tau 2.5, dead time 1.47
    boiler = simc(C_J_K, UA_W_K, 6.0)
    less = simc(C_J_K, 0.5 * UA_W_K, 6.0)
    rows = [
        Value("gain, tau 1.1, dead time 0.1", 5.5, one.gain_W_K, "", "K01"),
        Value("reset time, tau 1.1, dead time 0.1", 0.8, 0.01 * one.reset_s, "", "K01"),
        Value("gain, tau 2.5, dead time 1.47", 0.85034, half.gain_W_K, "", "K02"),
        Value("reset time, tau 2.5, dead time 1.47", 2.5, 0.1 * half.reset_s, "", "K02"),
        Value("gain of a boiler", 124.15, boiler.gain_W_K, "W/K", "K06"),
        Value("reset time of a boiler", 48.0, boiler.reset_s, "s", "K06"),
        Value("gain with half the loss", 124.15, less.gain_W_K, "W/K", "K07"),
        Value("reset time with half the loss", 48.0, less.reset_s, "s", "K07"),
    ]
    group.add(rows, source=source, allowed=DIGITS, kind=Kind.RECALLED)
    lag = margins(simc(40.0, 1.0, 10.0), 40.0, 1.0)
    integrator = margins(simc(40.0, 1e-9, 10.0), 40.0, 1e-9)
    for name, found, gain, phase, peak, row in (
        ("a lag", lag, pi, 61.352, 1.5905, "K04"),
        ("an integrator", integrator, 2.9634, 46.864, 1.7035, "K05"),
    ):
        values = [
            Value(f"gain margin on {name}", gain, found[0], "", row),
            Value(f"phase margin on {name}", phase, found[1], "°", row),
            Value(f"peak of the sensitivity on {name}", peak, found[2], "", row),
        ]
        group.add(values, source="loop's frequency response", allowed=MARGIN, kind=Kind.CLOSED)
    return group


def margins(loop: Loop, capacity: float, loss: float) -> tuple[float, float, float]:
    """Return gain margin, phase margin [°] and the sensitivity's peak of a PI loop on a lag with dead time."""

    def response(w: float) -> complex:
        s = 1j * w
        delay = complex(cos(w * loop.dead_time_s), -sin(w * loop.dead_time_s))
        return loop.gain_W_K * (1.0 + 1.0 / (loop.reset_s * s)) / (capacity * s + loss) * delay

    def phase(w: float) -> float:
        lag = np.arctan2(capacity * w, loss) + w * loop.dead_time_s
        return float(-pi / 2.0 + np.arctan(loop.reset_s * w) - lag)

    # both frequencies lie well below the one at which the dead time alone turns by pi
    top = pi / loop.dead_time_s
    w_180 = brentq(lambda w: phase(w) + pi, 0.1 * top, top)
    w_one = brentq(lambda w: abs(response(w)) - 1.0, 0.01 * top, top)
    peak = minimize_scalar(lambda w: abs(1.0 + response(w)), bounds=(0.05 * top, top), method="bounded")
    return 1.0 / abs(response(w_180)), float(np.degrees(phase(w_one) + pi)), 1.0 / float(peak.fun)


def loops() -> Group:
    """Proportional control of a lump and the lag of a sensor, by the kernel's own functions."""
    group = Group("control loops")
    hold = Allowed(absolute=0.5 * HELD_S * 0.8, why="output held for 0.02 s, at up to 0.8 K/s")
    warm = controlled_C(90.0, 24.0)
    cold = controlled_C(25.0, 100.0)
    temperatures = [
        Value("proportional control after 24 s", 92.037204, warm[-1], "°C", "K09"),
        Value("from cold, full power first, after 100 s", 91.283526, cold[-1], "°C", "K10"),
    ]
    group.add(temperatures, source="closed form, scipy", allowed=hold, kind=Kind.CLOSED)
    leaves = float(np.interp(93.0 - 1200.0 / GAIN_W_K, cold, HELD_S * np.arange(len(cold))))
    when = Value("when it leaves full power", 74.62026, leaves, "s", "K10")
    between = Allowed(absolute=1e-3, why="interpolated between steps")
    group.add([when], source="closed form", allowed=between, kind=Kind.CLOSED)
    settles = Value("where it settles", 92.34902, controlled_C(92.3, 120.0)[-1], "°C", "K09")
    still = Allowed(absolute=1e-5, why="printed digits, 10 time constants")
    group.add([settles], source="closed form", allowed=still, kind=Kind.CLOSED)
    lag = Value("lag of a sensor of 5 s on 0.75 K/s", 3.75, sensor_lag_K(0.75, 5.0), "K", "K17")
    settled = Allowed(relative=1e-5, why="12 time constants")
    group.add([lag], source="rate x lag", allowed=settled, kind=Kind.CLOSED)
    return group


def controlled_C(start_C: float, seconds: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return a lump under proportional control to 93 °C, every `HELD_S`, the start included."""
    boiler = lump(C_J_K, start_C=start_C, loss_W_K=UA_W_K)
    course = [start_C]
    for _ in range(round(seconds / HELD_S)):
        asked = asked_power(GAIN_W_K * 93.0, GAIN_W_K, course[-1], 0.0, 1200.0)
        boiler["Q"][0] = asked
        course.append(float(boiler.march(HELD_S, 1)[0, 0]))
    return np.array(course)


def sensor_lag_K(rate_K_s: float, lag_s: float) -> float:
    """Return how far the kernel's brew sensor stays behind a ramp once it has settled."""
    pool = _pool()
    lanes = new_lanes(pool.net, 1, SINGLE)
    node = pool.net.roles[at.N_BREW_SENSOR]
    for lag in (at.P_BREW_LAG_S, at.P_GROUP_LAG_S, at.P_STEAM_LAG_S):
        lanes.P[lag] = lag_s
    for lane in range(at.LANES):
        set_step(lane, lanes.S, lanes.P, 1.0, 1.0)
    out = np.zeros(at.NO)
    for second in range(60):
        before = lanes.T.copy()
        lanes.T[node] = rate_K_s * (second + 1.0)
        for lane in range(at.LANES):
            note(lane, pool.net, lanes, before, out)
    return float(lanes.T[node, 0] - lanes.S[at.S_BREW_Y, 0])


def _pool() -> Pool:
    design = read_design({"architecture": "dual_boiler"}, NOMINAL.machine)
    return Pool([ARCHITECTURES["dual_boiler"].build(design, NOMINAL)], NOMINAL)


def mains() -> Group:
    """Who may draw when, and what a supply above or below its nominal voltage does."""
    group = Group("mains")
    brew, steam, pump = 1200.0 / 230.0, 1400.0 / 230.0, 50.0 / 230.0
    strong = share_mains(16.0 - pump, brew, 0.0, steam, 1.0, 0.0, 1.0)
    weak = share_mains(10.0 - pump, brew, 0.0, steam, 0.25, 0.0, 1.0)
    low = share_mains(12.0 - 50.0 / 120.0, 0.0, 0.0, 1400.0 / 120.0, 0.0, 0.0, 1.0)
    peaks = [
        Value("peak on 16 A, brew and steam together", 11.5217, strong[3] + pump, "A", "I09"),
        Value("peak on 10 A, in turn", 6.3043, weak[3] + pump, "A", "I09"),
        Value("steam's share on 10 A beside a quarter of brewing", 0.75, weak[2], "", "I09"),
        Value("1400 W and pump on 12 A at 120 V (12.083 A)", 0.0, low[2], "", "I09"),
    ]
    near = Allowed(absolute=1e-4, why="printed digits")
    group.add(peaks, source="products", allowed=near, kind=Kind.CLOSED)
    pool = _pool()
    for factor, power in ((0.90, 0.81), (1.10, 1.21), (0.95, 0.9025), (1.05, 1.1025)):
        value = Value(
            f"power at {factor:g} of the nominal voltage", power, power_factor(pool, factor), "", "R12"
        )
        group.add([value], source="(V / Vn)^2", allowed=DIGITS, kind=Kind.CLOSED)
    for volts, power in ((220.0, 0.91493), (240.0, 1.08885)):
        value = Value(f"230 V element at {volts:g} V", power, power_factor(pool, volts / 230.0), "", "R12")
        group.add([value], source="(V / Vn)^2", allowed=DIGITS, kind=Kind.CLOSED)
    starter = tomllib.loads((files("boilerfront.jobs") / "starters/family-120v/sweep.toml").read_text())
    limit, volts = starter["site"]["current_limit_A"], starter["site"]["voltage_V"]
    group.bands(
        Band("current of the 120 V starter (80 % of 15 A)", 11.0, 12.0, limit, "A", "R09"),
        Band("power of the 120 V starter", 1320.0, 1440.0, limit * volts, "W", "R09"),
        Band("supply tolerance, 230 V", 0.10, 0.10, NOMINAL.site.mains_tolerance, "", "R12"),
        Band("supply tolerance, 120 V", 0.05, 0.05, starter["site"]["mains_tolerance"], "", "R12"),
    )
    return group


def power_factor(pool: Pool, mains_factor: float) -> float:
    """Return the factor on every element's power of a machine on another voltage."""
    request = Request(0, 93.0, 0.0, {"mains": mains_factor})
    return float(pool.arrays([request]).parameters[0, at.P_POWER_FACTOR])


def standards() -> Group:
    """Arithmetic of rules, and what the defaults say beside facts of the trade; all facts from memory."""
    group = Group("standards' arithmetic")
    for rated, least, most in (
        (150.0, 135.0, 165.0),
        (300.0, 270.0, 320.0),
        (400.0, 360.0, 420.0),
        (1450.0, 1305.0, 1522.5),
    ):
        low, high = power_band(rated)
        band = [
            Value(f"least power of a {rated:g} W element", least, low * rated, "W", "R01"),
            Value(f"largest power of a {rated:g} W element", most, high * rated, "W", "R01"),
        ]
        group.add(band, source="IEC 60335-1, clause 10", allowed=DIGITS, kind=Kind.RECALLED)
    for rated, change in ((1200.0, 0.9074), (1450.0, 1.0964)):
        value = Value(f"voltage change by {rated:g} W", change, voltage_change_percent(rated), "%", "R13")
        near = Allowed(absolute=6e-5, why="printed digits")
        group.add([value], source="P / V x 0.4 ohm / V", allowed=near, kind=Kind.CLOSED)
    severity = flicker_rate(1200.0 / 230.0, 230.0, 120.0 / 39.0) ** (1.0 / 3.2)
    control = NOMINAL.machine.control
    brief = NOMINAL.model_copy(
        update={"machine": NOMINAL.machine.model_copy(update={"control": Control(hold_s=0.0)})}
    )
    off = Value("a day switched off at 0.5 W", 0.012, day_energy_kWh(np.zeros(at.NO), brief), "kWh", "R07")
    group.add([off], source="24 h x 0.5 W", allowed=DIGITS, kind=Kind.CLOSED)
    duty = NOMINAL.duty
    nominal = duty.flows["nominal"]
    group.bands(
        Band("Pst of 39 changes a minute by 1200 W", 0.95, 1.05, severity, "", "R13"),
        Band("power when off", 0.0, 0.5, control.off_W, "W", "R07"),
        Band("time to auto-off", 0.0, 1800.0, control.hold_s, "s", "R05"),
        Band("flow of a double", 1.0, 1.6, nominal.steady_mL_s, "mL/s", "R18"),
        Band("time of a double", 20.0, 30.0, float(nominal.stop_s), "s", "R18"),
        Band("set-point", 90.5, 96.0, duty.default_set_point_C, "°C", "R18"),
        Band("milk before", 3.0, 5.0, duty.milk_from_C, "°C", "R22"),
        Band("milk after", 55.0, 65.0, duty.milk_to_C, "°C", "R22"),
        Band("heat capacity of milk", 3.85, 3.95, duty.milk_heat_capacity_J_gK, "J/gK", "R23"),
        Band("surface load allowed in water", 5.0, 15.0, NOMINAL.limits.watt_density_W_cm2, "W/cm2", "R16"),
    )
    return group


def voltage_change_percent(power_W: float) -> float:
    """Return the change behind our flicker rate, 2.3 d^3.2 a step, two steps a second."""
    return float((flicker_rate(power_W / 230.0, 230.0, 1.0) / 4.6) ** (1.0 / 3.2))


def batches() -> Group:
    """What nine machines in ten of a batch keep."""
    group = Group("batch of machines")
    rng = np.random.default_rng(7)
    picks = [
        Value(
            f"what nine in ten of {n} machines keep",
            float(np.quantile(values, 0.9, method="inverted_cdf")),
            robust(values, 0.9),
        )
        for n, values in ((n, rng.normal(size=n)) for n in (8, 32, 33, 512))
    ]
    exact = Allowed(absolute=0.0, why="the same member")
    group.add(picks, source="numpy, quantile", allowed=exact, kind=Kind.LIBRARY)
    return group
