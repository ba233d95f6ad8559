"""Invented bench logs: machines with hidden coefficients in another integrator, with what instruments add.

The classical Runge-Kutta method at 1/20 s takes the place of the kernel's implicit steps; a slow heat store on the
brew boiler's wall, a frame that soaks up heat, is the one effect that the model does not have. No log is a
measurement of any machine.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.arrays import Lanes, Net, Runs
from boilerfront.model.kernel.compile_step import Advance
from boilerfront.model.kernel.films import prepare
from boilerfront.model.kernel.march import SINGLE, new_lanes
from boilerfront.model.kernel.second import begin_second, begin_step
from boilerfront.model.kernel.start import load
from boilerfront.model.kernel.steam import capacity, energy_of_added_mass
from boilerfront.model.props.compiled import compiled, compiled_making_arrays
from boilerfront.model.props.water import enthalpy, evaporation_enthalpy
from boilerfront.model.runs import Pool, Request
from boilerfront.shared.shapes import Floats, Ints
from tests.model.stiff_reference import conductances_of

STEPS = 20
"""Steps a second: the stiffest node, a piece of coil, has a time constant of about 0.1 s."""
MEANS = ("flow_g_s", "refill_g_s", "steam_flow_g_s", "brew_power_W", "group_power_W", "steam_power_W")
POINTS = ("brew_sensor_C", "group_sensor_C", "steam_sensor_C", "shot_C")


@compiled
def _rates(
    conductances: Advance,
    net: Net,
    lanes: Lanes,
    runs: Runs,
    y: Floats,
    dy: Floats,
    frame: Floats,
    walls: Ints,
) -> None:
    """Fill dy/dt of y [nodes + 4, LANES]: temperatures, three sensors, the frame [J/K, W/K in `frame`]."""
    size = net.stores.size
    T, S, P, Q, C, G = lanes.T, lanes.S, lanes.P, lanes.Q, lanes.C, lanes.G
    for lane in range(runs.design.size):
        for node in range(size):
            T[node, lane] = y[node, lane]
    prepare(net, lanes, runs)
    conductances(lanes.buffer)
    steam = net.roles[at.N_STEAM]
    for lane in range(runs.design.size):
        hot = T[steam, lane]
        added = energy_of_added_mass(hot)
        leaving = enthalpy(hot) + P[at.P_DRYNESS, lane] * evaporation_enthalpy(hot)
        C[steam, lane] = capacity(hot, S[at.S_STEAM_KG, lane], P[at.P_STEAM_M3, lane])
        for node in range(size):
            dy[node, lane] = Q[node, lane]
        dy[steam, lane] = S[at.S_REFILL, lane] * (enthalpy(P[at.P_INLET_C, lane]) - added)
        dy[steam, lane] -= S[at.S_WAND, lane] * (leaving - added)
        for i in range(net.links.shape[0]):
            a, b = net.links[i, 1], net.links[i, 2]
            heat = G[i, lane] * (T[a, lane] - T[b, lane]) - lanes.J[i, lane]
            dy[a, lane] -= heat
            if b < size:
                dy[b, lane] += heat
        for i in range(net.flows.shape[0]):
            up, down = net.flows[i, 0], net.flows[i, 1]
            dy[down, lane] += lanes.F[i, lane] * (T[up, lane] - T[down, lane])
        soaked = 0.0
        for k in range(walls.size):
            heat = frame[1, lane] / walls.size * (T[walls[k], lane] - y[size + 3, lane])
            dy[walls[k], lane] -= heat
            soaked += heat
        dy[size + 3, lane] = soaked / frame[0, lane]
        for node in range(size):
            dy[node, lane] /= C[node, lane]
        for k, (role, lag) in enumerate(
            (
                (at.N_BREW_SENSOR, at.P_BREW_LAG_S),
                (at.N_GROUP, at.P_GROUP_LAG_S),
                (at.N_STEAM, at.P_STEAM_LAG_S),
            )
        ):
            dy[size + k, lane] = (T[net.roles[role], lane] - y[size + k, lane]) / P[lag, lane]


@compiled
def _set_flow(lane: int, net: Net, lanes: Lanes, out: Floats, sub: int) -> None:
    S = lanes.S
    S[at.S_SUBS, lane], S[at.S_SUB, lane], S[at.S_DT, lane] = float(STEPS), float(sub), 1.0 / STEPS
    begin_step(lane, net, lanes, out)


@compiled_making_arrays
def _march(
    conductances: Advance, net: Net, runs: Runs, frame: Floats, walls: Ints, off_s: int, means: Floats, points: Floats
) -> int:  # fmt: skip
    """Run lanes through their duty and `off_s` seconds switched off; return how many seconds are filled."""
    lanes = new_lanes(net, runs.laws.shape[1], SINGLE)
    count = runs.design.size
    size = net.stores.size
    out = np.zeros((count, at.NO))
    shots = np.zeros((count, 40, at.NH))
    y = np.zeros((size + 4, at.LANES))
    k1, k2, k3, k4 = np.zeros_like(y), np.zeros_like(y), np.zeros_like(y), np.zeros_like(y)
    nowhere = np.zeros(at.NO)
    for lane in range(at.LANES):
        load(lane, min(lane, count - 1), net, runs, lanes, out[lane] if lane < count else nowhere)
        y[:, lane] = lanes.P[at.P_ROOM_C, lane]
    left = np.full(count, off_s)
    dt = 1.0 / STEPS
    for second in range(means.shape[1]):
        busy = 0
        for lane in range(count):
            lanes.S[at.S_TIME, lane] = float(second)
            lanes.S[at.S_SPAN, lane] = 1.0
            for k, reading in enumerate((at.S_BREW_Y, at.S_GROUP_Y, at.S_STEAM_Y)):
                lanes.S[reading, lane] = y[size + k, lane]
            if out[lane, at.O_CODE] == 0.0:
                begin_second(lane, net, runs, lanes, out[lane], shots[lane])
            if out[lane, at.O_CODE] != 0.0:
                left[lane] -= 1
                lanes.Q[:, lane] = 0.0
                off_for = off_s - left[lane]
                lanes.S[at.S_JOINED, lane] = 0.0 if off_for <= lanes.P[at.P_PORTAFILTER_OFF_S, lane] else 1.0
                for place in (at.S_FLOW0, at.S_FLOW1, at.S_REFILL, at.S_BREW_P, at.S_GROUP_P, at.S_STEAM_P):
                    lanes.S[place, lane] = 0.0
            busy += out[lane, at.O_CODE] == 0.0 or left[lane] > 0
        if busy == 0:
            return second
        for sub in range(STEPS):
            for lane in range(count):
                _set_flow(lane, net, lanes, out[lane], sub)
                means[lane, second, 0] += 1e3 * lanes.S[at.S_FLOW, lane] * dt
                means[lane, second, 2] += 1e3 * lanes.S[at.S_WAND, lane] * dt
            _rates(conductances, net, lanes, runs, y, k1, frame, walls)
            _rates(conductances, net, lanes, runs, y + 0.5 * dt * k1, k2, frame, walls)
            _rates(conductances, net, lanes, runs, y + 0.5 * dt * k2, k3, frame, walls)
            _rates(conductances, net, lanes, runs, y + dt * k3, k4, frame, walls)
            y += dt / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4)
            for lane in range(count):
                for node in range(size):
                    lanes.T[node, lane] = y[node, lane]
                moved = lanes.S[at.S_REFILL, lane] - lanes.S[at.S_WAND, lane]
                lanes.S[at.S_STEAM_KG, lane] += moved * dt
        for lane in range(count):
            S = lanes.S
            means[lane, second, 1] = 1e3 * S[at.S_REFILL, lane]
            means[lane, second, 3] = S[at.S_BREW_P, lane]
            means[lane, second, 4] = S[at.S_GROUP_P, lane]
            means[lane, second, 5] = S[at.S_STEAM_P, lane]
            for k in range(3):
                points[lane, second, k] = y[size + k, lane]
            points[lane, second, 3] = y[net.roles[at.N_SCREEN], lane]
    return int(means.shape[1])


@dataclass(frozen=True)
class Instruments:
    """What the bench adds: noise and step of temperatures [K], drift over the log [K], absolute error [K]."""

    noise_K: float = 0.1
    step_K: float = 0.1
    drift_K: float = 0.1
    error_K: float = 0.5


@dataclass(frozen=True)
class Frame:
    """The effect that the model does not have: a heat store [J/K] and its link to the brew boiler's wall [W/K]."""

    capacity_J_K: float = 900.0
    link_W_K: float = 0.0


def true_courses(
    pool: Pool, machines: Sequence[Mapping[str, float]], frames: Sequence[Frame], *, user_C: float, offset_K: float,
    off_s: int = 0, longest_s: int = 6000,
) -> list[dict[str, Floats]]:  # fmt: skip
    """Return for each machine of the pool's first plant, at most 32, its true course by column, a row a second."""
    runs = pool.arrays([Request(0, user_C, offset_K, machine) for machine in machines])
    walls = np.array(
        [k for k, name in enumerate(pool.topology.names) if name.startswith("brew_wall")], dtype=np.int64
    )
    frame = np.ones((2, at.LANES))
    frame[:, : len(frames)] = np.array([(each.capacity_J_K, each.link_W_K) for each in frames]).T
    means = np.zeros((len(machines), longest_s, len(MEANS)))
    points = np.full((len(machines), longest_s, len(POINTS)), np.nan)
    seconds = _march(conductances_of(pool.topology), pool.net, runs, frame, walls, off_s, means, points)
    clock = np.arange(1.0, seconds + 1.0)
    return [
        {"time_s": clock}
        | {name: means[k, :seconds, i] for i, name in enumerate(MEANS)}
        | {name: points[k, :seconds, i] for i, name in enumerate(POINTS)}
        for k in range(len(machines))
    ]


def as_logged(
    course: Mapping[str, Floats], rng: np.random.Generator, instruments: Instruments = Instruments()
) -> dict[str, Floats]:
    """Return a course as instruments show it."""
    logged = dict(course)
    count = course["time_s"].size
    for name in POINTS:
        error = instruments.error_K * rng.standard_normal() if name == "shot_C" else 0.0
        drift = instruments.drift_K * rng.uniform(-1.0, 1.0) * np.linspace(0.0, 1.0, count)
        seen = course[name] + error + drift + instruments.noise_K * rng.standard_normal(count)
        step = instruments.step_K
        logged[name] = np.round(seen / step) * step if step else seen
    drawing = course["flow_g_s"] > 0.0
    logged["shot_C"] = np.where(drawing, logged["shot_C"], np.nan)
    return logged
