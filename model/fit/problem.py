"""Logs and coefficients as a problem of least squares: residuals in units of their noise, and their slopes.

Unknown are the logarithms of coefficients over what the design says, and beside them, for each log, the errors of
what measured it: meters of flow and power, probes of room and inlet, the absolute error and the drift of every
temperature. Those are nuisances with a known spread: each is a row of the problem by itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import exp

import numpy as np
from scipy.signal import lfilter

from boilerfront.model.coefficients import COEFFICIENTS, LAGS
from boilerfront.model.fit.inputs import Case, Observed
from boilerfront.model.fit.replay import ERRORS, GAPS, I_GAP, I_STEAMS, replay
from boilerfront.model.runs import Pool, boiling_C
from boilerfront.shared.shapes import Floats, Ints

KNOWN_BEFORE = 1.0
"""Spread of a coefficient's logarithm before any log: a factor of e. It holds what no log tells."""
METER_ERRORS = {
    "flow_meter": 0.02,
    "power_meter": 0.01,
    "wand_meter": 0.1,
    "room_probe": 0.3,
    "inlet_probe": 0.3,
    "start_probe": 0.3,
    **dict.fromkeys(GAPS, 200.0),
}
"""Spread (one sigma) of the errors of what is imposed: factors, kelvin, watts (our judgement)."""
CHECKED_K = 0.1
"""What an ice or boil check leaves of a probe's absolute error (one sigma, our judgement) [K]."""
STEP = 2e-3
"""Step of the slopes, of a logarithm; of nuisances in parts of their spread it is a tenth."""
NUISANCE_STEP = 0.1


@dataclass(frozen=True)
class Rows:
    """Which case, channel (its place among the observed) and time [s] each residual of the readings belongs to;
    `noise_K` by residual."""

    case: Ints
    place: Ints
    time_s: Floats
    noise_K: Floats


class Problem:
    """Residuals and slopes of cases of one machine for the coefficients `names`."""

    def __init__(
        self,
        pool: Pool,
        cases: Sequence[Case],
        names: Sequence[str],
        *,
        fixed: Mapping[str, float] | None = None,
    ) -> None:
        self.pool, self.cases, self.names = pool, list(cases), tuple(names)
        self.fixed = dict(fixed or {})
        """Coefficients that stay as given."""
        self.nominal = np.array([nominal_value(pool, name) for name in self.names])
        self._observed = [(k, seen) for k, case in enumerate(self.cases) for seen in case.observed]
        self.meters = [(k, name) for k in range(len(self.cases)) for name in _meters(self.cases[k])]
        self.size = len(self.names) + len(self.meters) + 2 * len(self._observed)
        self._known = np.concatenate(
            [np.full(len(self.names), 1.0 / KNOWN_BEFORE), np.ones(self.size - len(self.names))]
        )
        self._kept: tuple[bytes, Floats, Floats] | None = None

    @property
    def lower(self) -> Floats:
        """Return the lower bounds of the unknowns."""
        return self._bounds(0)

    @property
    def upper(self) -> Floats:
        """Return the upper bounds of the unknowns."""
        return self._bounds(1)

    def _bounds(self, end: int) -> Floats:
        limits = [(COEFFICIENTS[name].low, COEFFICIENTS[name].high)[end] for name in self.names]
        free = np.full(self.size - len(self.names), (-8.0, 8.0)[end])
        return np.concatenate([np.log(np.array(limits) / self.nominal), free])

    def values(self, x: Floats) -> dict[str, float]:
        """Return the coefficients by name at the unknowns x."""
        return {name: float(self.nominal[k] * exp(x[k])) for k, name in enumerate(self.names)}

    @cached_property
    def rows(self) -> Rows:
        """Return what the residuals of readings are of; the rows of what is known before come after them."""
        counts = [seen.values.size for _, seen in self._observed]
        places = np.repeat(np.arange(len(counts)), counts)
        return Rows(
            case=np.repeat([k for k, _ in self._observed], counts),
            place=places,
            time_s=np.concatenate([seen.time_s for _, seen in self._observed]),
            noise_K=np.repeat([seen.noise_K for _, seen in self._observed], counts),
        )

    def residuals(self, x: Floats) -> Floats:
        """Return the residuals [readings + unknowns], model less reading, in units of their spread."""
        return self._both(x)[0]

    def slopes(self, x: Floats) -> Floats:
        """Return the slopes of the residuals [readings + unknowns, unknowns]."""
        return self._both(x)[1]

    def observed(self) -> list[tuple[int, Observed]]:
        """Return case and readings of every channel, in the order of the rows."""
        return self._observed

    def _both(self, x: Floats) -> tuple[Floats, Floats]:
        if self._kept is None or self._kept[0] != x.tobytes():
            self._kept = (x.tobytes(), *self._computed(x))
        return self._kept[1], self._kept[2]

    def _computed(self, x: Floats) -> tuple[Floats, Floats]:
        """March every case once for x and all its neighbours, side by side."""
        inner = len(self.names) + len(self.meters)
        blocks, slopes = [], []
        first = inner
        for k, case in enumerate(self.cases):
            moved = [
                i for i in range(inner) if i < len(self.names) or self.meters[i - len(self.names)][0] == k
            ]
            unit = np.eye(self.size)
            both = [i for i in moved if i < len(self.names)]
            one = [i for i in moved if i >= len(self.names)]  # nearly linear: one side will do
            points = [x] + [x + sign * STEP * unit[i] for i in both for sign in (1, -1)]
            points += [x + NUISANCE_STEP * unit[i] for i in one]
            sided = 1 + 2 * len(both)
            course = self._course(case, [self._machine(k, point) for point in points])
            for c, seen in enumerate(case.observed):
                values = np.array([as_probed(case, seen, course[:, c, m]) for m in range(len(points))])
                J = np.zeros((seen.values.size, self.size))
                J[:, both] = (values[1:sided:2] - values[2:sided:2]).T / (2.0 * STEP)
                J[:, one] = (values[sided:] - values[0]).T / NUISANCE_STEP
                J[:, first : first + 2] = self._instrument(case, seen)
                centre = self._centre(case, seen)[0]
                error = J[:, first : first + 2] @ x[first : first + 2] + centre
                blocks.append((values[0] + error - seen.values) / seen.noise_K)
                slopes.append(J / seen.noise_K)
                first += 2
        known = self._known * x
        return np.concatenate([*blocks, known]), np.concatenate([*slopes, np.diag(self._known)])

    def _course(self, case: Case, machines: Sequence[Mapping[str, float]]) -> Floats:
        channels = [seen.channel for seen in case.observed]
        return replay(self.pool, case.inputs, machines, start=case.start, channels=channels)

    def _machine(self, case: int, x: Floats) -> dict[str, float]:
        """Return the machine that the unknowns make of a case."""
        machine = {**self.fixed, **self.values(x)}
        for i, (of, name) in enumerate(self.meters):
            if of == case:
                z = float(x[len(self.names) + i]) * METER_ERRORS[name]
                machine[name] = 1.0 + z if name.endswith("meter") else z
        return machine

    def _centre(self, case: Case, seen: Observed) -> tuple[float, float]:
        """Return what is known of a probe's absolute error: its mean and spread [K]."""
        checks = case.log.checks.get(seen.channel, [])
        if not checks:
            return 0.0, case.log.channel(seen.channel).error_K
        boils = boiling_C(self.pool.brief)
        errors = [reading - (0.0 if bath == "ice" else boils) for bath, reading in checks]
        return float(np.mean(errors)), CHECKED_K

    def _instrument(self, case: Case, seen: Observed) -> Floats:
        """Return how a probe's error and drift move its readings [readings, 2], each for a spread of one."""
        along = seen.time_s / max(float(seen.time_s[-1]), 1.0) - 0.5
        error = np.full(seen.time_s.size, self._centre(case, seen)[1])
        return np.column_stack([error, 2.0 * case.log.channel(seen.channel).drift_K * along])


def as_probed(case: Case, seen: Observed, course: Floats) -> Floats:
    """Return a course, a row a second, as its probe shows it at the times of its readings."""
    lag_s = case.log.channel(seen.channel).lag_s
    if lag_s > 0.0:
        keep = exp(-1.0 / lag_s)
        ramp = lag_s * (1.0 - keep)
        course = lfilter([1.0 - ramp, ramp - keep], [1.0, -keep], course, zi=[ramp * course[0]])[0]
    return np.interp(seen.time_s, np.arange(course.size), course)


def nominal_value(pool: Pool, name: str) -> float:
    """Return what a design has of a coefficient without a calibration: 1 of factors, its lag of a sensor [s]."""
    if name not in LAGS:
        return 1.0
    control = pool.brief.machine.control
    return {
        "brew_lag_s": control.brew_lag_s, "group_lag_s": control.group_lag_s, "steam_lag_s": control.steam_lag_s,
    }[name]  # fmt: skip


def _meters(case: Case) -> list[str]:
    """Return which errors a case's imposed inputs have; what is not logged has none."""
    has_flow = bool(np.any(case.inputs[:, 0] > 0.0))
    metered = len(case.by_control) == 0 or any(
        case.log.has(f"{name}_power_W") for name in ("brew", "group", "steam")
    )
    present = {
        "flow_meter": has_flow,
        "power_meter": metered,
        "wand_meter": bool(np.any(case.inputs[:, I_STEAMS] > 0.0)),
        "room_probe": True,
        "inlet_probe": has_flow,
        "start_probe": not case.start.settled,
    }
    guessed = bool(np.any(case.inputs[:, I_GAP] > 0.0))
    present |= {name: guessed and case.log.has(name.replace("gap", "power")) for name in GAPS}
    return [name for name in ERRORS if present[name]]
