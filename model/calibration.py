"""What bench logs corrected in the model: values of coefficients with their intervals, as a file and as a section.

A sweep that names a calibration runs every machine with the values that its logs told, and lets them scatter over
their intervals in robust figures. What the logs did not tell stays as the design has it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal, Self

import numpy as np
from pydantic import Field, model_validator

from boilerfront.model.coefficients import COEFFICIENTS, LAGS
from boilerfront.shared.schema import Section, validated
from boilerfront.shared.shapes import Floats
from boilerfront.shared.toml_file import read_toml_table
from boilerfront.shared.toml_text import toml_text

Positive = Annotated[float, Field(gt=0)]
SIGMAS = 2.0
"""An interval of 95 % reaches about two sigma from its value."""
FARTHEST = 2.5
"""Machines of the batch lie within so many sigma of the value."""


class Corrected(Section):
    """One coefficient: factor on the model, or seconds. What is not `told` by the logs is not used."""

    value: Positive
    low: Positive
    high: Positive
    """Ends of its 95 % interval."""
    told: bool = True

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if not self.low <= self.value <= self.high:
            raise ValueError("low <= value <= high")
        return self


class Calibration(Section):
    """Coefficients that logs corrected, how they hang together, and from what."""

    format: Literal[1] = 1
    architecture: str = ""
    """Of the machine on the bench."""
    made: str = ""
    logs: tuple[str, ...] = ()
    white: bool = True
    """Whether what the fit left looks like noise; otherwise something is missing in the model."""
    notes: tuple[str, ...] = ()
    coefficients: dict[str, Corrected] = Field(default_factory=dict)
    correlations: tuple[tuple[float, ...], ...] = ()
    """Of the logarithms, in the order of the coefficients; by default none."""

    @model_validator(mode="after")
    def _known(self) -> Self:
        faults = []
        for name, each in self.coefficients.items():
            if name not in COEFFICIENTS:
                faults.append(f"{name}: one of {', '.join(COEFFICIENTS)}")
                continue
            low, high = COEFFICIENTS[name].low, COEFFICIENTS[name].high
            if not low <= each.value <= high:
                faults.append(f"{name}.value {each.value:g}: {low:g} to {high:g}")
        count = len(self.coefficients)
        if self.correlations and {len(row) for row in (self.correlations, *self.correlations)} != {count}:
            faults.append(f"correlations: {count} rows of {count} numbers")
        if faults:
            raise ValueError("; ".join(faults))
        return self

    @property
    def used(self) -> dict[str, Corrected]:
        """Return the coefficients that a sweep takes over: told, and of the kind rather than of the one machine."""
        return {
            name: each for name, each in self.coefficients.items() if each.told and COEFFICIENTS[name].of_kind
        }

    def machine(self) -> dict[str, float]:
        """Return the values that every machine has."""
        return {name: each.value for name, each in self.used.items()}

    def lags_s(self) -> dict[str, float]:
        """Return the sensor lags that loops are tuned for."""
        return {name: each.value for name, each in self.used.items() if name in LAGS}

    def ends(self) -> dict[str, tuple[float, float]]:
        """Return the ends of the intervals of what is used."""
        return {name: (each.low, each.high) for name, each in self.used.items()}

    def samples(self, count: int, seed: int) -> dict[str, Floats]:
        """Return values of what is used for `count` machines, correlated as in the fit.

        They are drawn apart from the tolerances: those stay the same with and without a calibration.
        """
        used = list(self.used)
        if not used or count == 0:
            return {name: np.empty(0) for name in used}
        from scipy.stats import norm, qmc  # takes a second to import, and most who read a sweep draw nothing

        unit = qmc.Sobol(len(used), scramble=True, rng=np.random.default_rng([seed, 1])).random_base2(
            max(int(np.ceil(np.log2(count))), 0)
        )[:count]
        normal = np.clip(norm.ppf(unit), -FARTHEST, FARTHEST) @ self._factor(used).T
        values = [self.coefficients[name] for name in used]
        spreads = np.array([np.log(each.high / each.low) / (2.0 * SIGMAS) for each in values])
        drawn = np.array([each.value for each in values]) * np.exp(spreads * normal)
        limits = np.array([(COEFFICIENTS[name].low, COEFFICIENTS[name].high) for name in used])
        return dict(zip(used, np.clip(drawn, limits[:, 0], limits[:, 1]).T, strict=True))

    def _factor(self, used: list[str]) -> Floats:
        """Return a matrix that makes independent numbers as correlated as the coefficients are."""
        if not self.correlations:
            return np.eye(len(used))
        order = list(self.coefficients)
        places = [order.index(name) for name in used]
        matrix = np.array(self.correlations)[np.ix_(places, places)]
        values, vectors = np.linalg.eigh(0.5 * (matrix + matrix.T))
        root = vectors * np.sqrt(np.maximum(values, 0.0))
        lengths = np.sqrt(np.sum(root**2, axis=1, keepdims=True))
        return np.asarray(root / np.where(lengths > 0.0, lengths, 1.0))


HEADING = """\
# Corrections of the model from bench logs: a sweep uses them by a line calibration = "THIS FILE" above its sections.
# Factors on what the model says, lags in seconds, with the ends of their 95 % intervals; told = false is not used.
"""


def calibration_toml(calibration: Calibration) -> str:
    """Return a calibration as the text of its file."""
    return HEADING + toml_text(calibration.model_dump(exclude_none=True))


def read_calibration(path: Path) -> Calibration:
    """Return the calibration at `path`; raises `InputError` with every fault."""
    data = read_toml_table(path, allowed="a file that calibrate wrote")
    return validated(Calibration, data, where=str(path))
