"""A whole calibration: logs and a design in, the fit with all that is to be said of it out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from threadpoolctl import threadpool_limits

from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.brief import Brief
from boilerfront.model.calibration import Calibration, Corrected
from boilerfront.model.coefficients import COEFFICIENTS, POWER_FACTORS, coefficients_of
from boilerfront.model.design import read_design
from boilerfront.model.fit.advice import Advice, advice
from boilerfront.model.fit.held_back import Predicted, held_back
from boilerfront.model.fit.inputs import Case, case_of
from boilerfront.model.fit.log import Log
from boilerfront.model.fit.solve import Fit, fit
from boilerfront.model.runs import Pool
from boilerfront.model.variables import Value
from boilerfront.shared.errors import Fault, InputError

ALIKE = 0.95
"""Two coefficients correlated more than this are told from each other badly."""


@dataclass(frozen=True)
class Calibrated:
    """What came of it: the cases, the fit, predictions of logs held back, what further tests would tell."""

    cases: list[Case]
    fit: Fit
    predictions: list[Predicted]
    advice: list[Advice]
    architecture: str

    def alike(self) -> list[tuple[str, str, float]]:
        """Return pairs of coefficients that the logs tell badly from each other, with their correlation."""
        names, matrix = self.fit.problem.names, self.fit.correlations
        return [
            (a, names[j], float(matrix[i, j]))
            for i, a in enumerate(names)
            for j in range(i + 1, len(names))
            if abs(matrix[i, j]) > ALIKE
        ]

    def calibration(self, *, made: str, notes: Sequence[str]) -> Calibration:
        """Return what a sweep takes over."""
        return Calibration(
            architecture=self.architecture,
            made=made,
            logs=tuple(case.log.name for case in self.cases),
            white=self.fit.white,
            notes=tuple(notes),
            coefficients={
                each.name: Corrected(value=each.value, low=each.low, high=each.high, told=each.told)
                for each in self.fit.found
            },
            correlations=tuple(tuple(map(float, row)) for row in self.fit.correlations),
        )


def bench_pool(design: Mapping[str, Value], brief: Brief) -> Pool:
    """Return the machine on the bench as the model has it without any calibration.

    Raises `InputError` where the design is none.
    """
    plain = brief.model_copy(update={"calibration": None})
    read = read_design(design, plain.machine)
    return Pool([ARCHITECTURES[read.architecture].build(read, plain)], plain, calm_s=1)


def cases_of(logs: Sequence[Log], pool: Pool) -> list[Case]:
    """Return logs as cases; raises `InputError` with the faults of all of them."""
    cases: list[Case] = []
    faults: list[Fault] = []
    for log in logs:
        try:
            cases.append(case_of(log, pool))
        except InputError as error:
            faults += error.faults
    if faults:
        raise InputError(faults)
    return cases


def chosen_coefficients(pool: Pool, cases: Sequence[Case], wanted: Sequence[str]) -> tuple[str, ...]:
    """Return what is fitted: what was asked for, else all that the machine has.

    Powers of elements are fitted by themselves only where a log has parts of full power in place of watts. Raises
    `InputError` for a name that is no coefficient of the machine.
    """
    having = coefficients_of(pool.plants[0].design.architecture)
    bad = [name for name in wanted if name not in having]
    if bad:
        raise InputError([Fault("--fit", name, ", ".join(having)) for name in bad])
    if wanted:
        return tuple(dict.fromkeys(wanted))
    parts = {name: name.replace("_power_factor", "_part") for name in POWER_FACTORS}
    by_part = {name for name, part in parts.items() for case in cases if case.log.has(part)}
    return tuple(name for name in having if COEFFICIENTS[name].of_kind or name in by_part)


def calibrate(
    design: Mapping[str, Value],
    brief: Brief,
    logs: Sequence[Log],
    *,
    wanted: Sequence[str] = (),
    tell: Callable[[str], None] = lambda text: None,
) -> Calibrated:
    """Fit coefficients of a design to logs.

    Raises `InputError` where design, logs or the wanted coefficients do not go together.
    """
    pool = bench_pool(design, brief)
    cases = cases_of(logs, pool)
    names = chosen_coefficients(pool, cases, wanted)

    def refit(others: Sequence[Case]) -> dict[str, float]:
        tell(f"holding back one log of {len(cases)}")
        return {each.name: each.value for each in fit(pool, others, names, starts=1).found}

    with threadpool_limits(limits=1):  # many small products: threads would only wait for each other
        found = fit(pool, cases, names, tell=tell)
        predictions = held_back(pool, cases, refit)
        tell("which test would tell more")
        return Calibrated(cases, found, predictions, advice(found), pool.plants[0].design.architecture)
