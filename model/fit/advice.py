"""Which test on the bench would tell what the logs do not: three tests, simulated on the fitted machine.

Each is marched with every coefficient moved; what its readings would add to the fit, their absolute errors and
drifts left free, says how narrow the intervals would become.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boilerfront.model.fit import replay as at
from boilerfront.model.fit.inputs import SHOT_FROM_S
from boilerfront.model.fit.problem import STEP
from boilerfront.model.fit.replay import SENSORS, Start, replay
from boilerfront.model.fit.solve import Fit
from boilerfront.model.props.water import density
from boilerfront.model.runs import Pool, default_user_C
from boilerfront.shared.shapes import Bools, Floats

COOL_DOWN, STEP_TEST, SHOTS = (
    "an idle cool-down of an hour",
    "a step of full power",
    "a fast shot and a slow one",
)
NOISE_K = 0.1
"""Noise of a probe that no log has."""


@dataclass(frozen=True)
class Advice:
    """What a test would do for a coefficient: its half width (of the logarithm) now and after it."""

    name: str
    test: str
    now: float
    after: float


def advice(fit: Fit) -> list[Advice]:
    """Return for each coefficient the test that narrows it most."""
    known = np.linalg.pinv(fit.covariance, hermitian=True)
    reach = fit.half_widths / np.sqrt(np.diag(fit.covariance))
    after = {}
    for test, (inputs, counts) in _tests(fit.problem.pool).items():
        covariance = np.linalg.pinv(known + _information(fit, inputs, counts), hermitian=True)
        after[test] = reach * np.sqrt(np.maximum(np.diag(covariance), 0.0))

    def best_for(k: int) -> str:
        return min(after, key=lambda test: float(after[test][k]))

    best = [best_for(k) for k in range(fit.count)]
    return [
        Advice(name, best[k], float(fit.half_widths[k]), float(after[best[k]][k]))
        for k, name in enumerate(fit.problem.names)
    ]


def _tests(pool: Pool) -> dict[str, tuple[Floats, Bools]]:
    """Return the inputs of each test from a settled machine, and in which seconds the probe in the shot counts."""
    duty = pool.brief.duty
    cool = _at_rest(pool, 3600)
    cool[:, [at.I_BREW_W, at.I_GROUP_W, at.I_STEAM_W]] = 0.0
    step = _at_rest(pool, 600)
    for place, name in ((at.I_BREW_W, "brew"), (at.I_GROUP_W, "group"), (at.I_STEAM_W, "steam")):
        power = pool.plants[0].circuits[name].power_W if name in pool.plants[0].circuits else 0.0
        step[:, place] = 0.0
        step[10:30, place] = 0.5 * power
    shots = _at_rest(pool, 600)
    rho = 1e-6 * density(pool.brief.site.inlet_C)
    for begin, name in ((10, "fast"), (300, "slow")):
        flow = duty.flows.get(name, duty.flows["nominal"])
        shots[begin : begin + flow.stop_s, at.I_FLOW_KG_S] = rho * flow.steady_mL_s
    found = {}
    for test, inputs in ((COOL_DOWN, cool), (STEP_TEST, step), (SHOTS, shots)):
        drawing = inputs[:, at.I_FLOW_KG_S] > 0.0
        inputs[drawing, at.I_SUBS] = 8.0
        counts = drawing & np.roll(drawing, SHOT_FROM_S)
        found[test] = (inputs, counts)
    return found


def _at_rest(pool: Pool, seconds: int) -> Floats:
    """Return inputs of a machine that its own control holds."""
    inputs = at.whole_seconds(seconds)
    inputs[:, [at.I_BREW_W, at.I_GROUP_W, at.I_STEAM_W]] = np.nan
    inputs[:, at.I_ROOM_C], inputs[:, at.I_INLET_C] = pool.brief.site.ambient_C, pool.brief.site.inlet_C
    inputs[:, at.I_JOINED], inputs[:, at.I_SUBS] = 1.0, 1.0
    return inputs


def _information(fit: Fit, inputs: Floats, shot: Bools) -> Floats:
    """Return what a test's readings say of the logarithms: slopes in units of noise, errors and drifts left free."""
    problem = fit.problem
    noises = {seen.channel: seen.noise_K for _, seen in problem.observed()}
    has_shot = bool(shot.any())
    channels = [name for name in {*SENSORS, *noises} if name != "shot_C" or has_shot]
    points = [fit.x] + [
        fit.x + sign * STEP * np.eye(problem.size)[k] for k in range(fit.count) for sign in (1.0, -1.0)
    ]
    machines = [problem.values(point) for point in points]
    user_C = default_user_C(problem.pool.brief)
    start = Start(True, problem.pool.brief.site.ambient_C, user_C)
    course = replay(problem.pool, inputs, machines, start=start, channels=sorted(channels))[1:]
    information = np.zeros((fit.count, fit.count))
    for c, channel in enumerate(sorted(channels)):
        rows = shot if channel == "shot_C" else np.ones(len(inputs), dtype=np.bool_)
        slopes = (course[rows, c, 1::2] - course[rows, c, 2::2]) / (2.0 * STEP * noises.get(channel, NOISE_K))
        along = np.linspace(-1.0, 1.0, slopes.shape[0])
        free = np.column_stack([np.ones_like(along), along])
        left = slopes - free @ np.linalg.lstsq(free, slopes, rcond=None)[0]
        information += left.T @ left
    return information
