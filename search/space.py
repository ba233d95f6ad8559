"""The design space: named variables, their ranges, and the conditions under which each one counts.

A variable with `active_if` counts only when every named parent (a `Choice`) counts and has one of the given
values. One that does not count is masked: None in a row, and without any weight in the search.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from boilerfront.search.coding import Axis, Coding, Floats
from boilerfront.shared.errors import Fault, InputError

Value = float | int | str | bool | None
Conditions = Mapping[str, tuple[Value, ...]]


@dataclass(frozen=True)
class Float:
    """A number between `low` and `high`, both included; in steps of `step` from `low` if given."""

    low: float
    high: float
    log: bool = False
    step: float | None = None
    active_if: Conditions | None = None

    def axis(self) -> Axis:
        """Return the coordinate of this variable."""
        if self.step is None:
            return Axis(self.low, self.high, log=self.log)
        levels = math.floor((self.high - self.low) / self.step + 1e-8) + 1
        return Axis(self.low, self.high, levels=levels, step=self.step)

    def problem(self) -> str | None:
        """Return what is wrong with the range, or None."""
        if self.log and self.step is not None:
            return "either log or step, not both"
        return _range_problem(self.low, self.high, log=self.log, step=self.step)


@dataclass(frozen=True)
class Int:
    """A whole number between `low` and `high`, both included; in steps of `step` from `low`."""

    low: int
    high: int
    log: bool = False
    step: int = 1
    active_if: Conditions | None = None

    def axis(self) -> Axis:
        """Return the coordinate of this variable."""
        if self.log and self.high > self.low:
            return Axis(self.low, self.high, log=True, integer=True)
        levels = (self.high - self.low) // self.step + 1
        return Axis(self.low, self.high, levels=levels, step=self.step)

    def problem(self) -> str | None:
        """Return what is wrong with the range, or None."""
        if self.log and self.step != 1:
            return "either log or step, not both"
        return _range_problem(self.low, self.high, log=self.log, step=self.step)


@dataclass(frozen=True)
class Choice:
    """One of a list. Numbers in ascending order (catalogue sizes) keep their order in the search."""

    choices: tuple[Value, ...]
    active_if: Conditions | None = None

    def axis(self) -> Axis:
        """Return the coordinate of this variable; its values are indices into the list."""
        return Axis(0, len(self.choices) - 1, levels=len(self.choices), nominal=not _ascending(self.choices))

    def problem(self) -> str | None:
        """Return what is wrong with the list, or None."""
        if not self.choices:
            return "at least one choice"
        return (
            None
            if len({_key(choice) for choice in self.choices}) == len(self.choices)
            else "each choice once"
        )


Variable = Float | Int | Choice


class Space:
    """Named variables in a fixed order, and the way to and from the unit cube.

    Raises `InputError` with every fault of the ranges and conditions.
    """

    def __init__(self, variables: Mapping[str, Variable]) -> None:
        self.variables = dict(variables)
        faults = list(_faults(self.variables))
        if not self.variables:
            faults.append(Fault("variables", "nothing", "at least one variable"))
        if faults:
            raise InputError(faults)
        self.names = tuple(self.variables)
        self._indices = {
            name: {_key(choice): index for index, choice in enumerate(variable.choices)}
            for name, variable in self.variables.items()
            if isinstance(variable, Choice)
        }
        try:
            self.coding = Coding([self._axis(name) for name in self.names])
        except ValueError as error:
            raise InputError([Fault("active_if", "a circle", str(error))]) from None

    def __len__(self) -> int:
        """Return the number of variables."""
        return len(self.names)

    def encode(self, rows: Sequence[Mapping[str, Value]]) -> Floats:
        """Return the genomes (rows, variables) of `rows`; a name that is None or absent counts as masked.

        Raises `InputError` for a choice that is not in the list.
        """
        values = np.empty((len(rows), len(self.names)))
        for j, name in enumerate(self.names):
            values[:, j] = self._numbers(name, [row.get(name) for row in rows])
        return self.coding.encode(values)

    def decode(self, genomes: Floats) -> list[dict[str, Value]]:
        """Return one dict a genome with a value for every name; `active` turns the masked ones to None."""
        values = self.coding.decode(np.atleast_2d(genomes))
        columns = [
            self._values(name, column.tolist()) for name, column in zip(self.names, values.T, strict=True)
        ]
        return [dict(zip(self.names, row, strict=True)) for row in zip(*columns, strict=True)]

    def active(self, row: Mapping[str, Value]) -> dict[str, Value]:
        """Return `row` with None for every masked name."""
        mask = self.coding.active(self.encode([row]))[0]
        return {name: row.get(name) if on else None for name, on in zip(self.names, mask, strict=True)}

    def _axis(self, name: str) -> Axis:
        variable = self.variables[name]
        needs = {
            self.names.index(parent): tuple(self._indices[parent][_key(value)] for value in values)
            for parent, values in (variable.active_if or {}).items()
        }
        return replace(variable.axis(), needs=needs)

    def _numbers(self, name: str, column: list[Value]) -> Floats:
        """Return values of a variable as numbers, choices by their place; not a number where masked."""
        if name in self._indices:
            known = self._indices[name]
            numbers = [known.get(_key(value), math.nan) for value in column]
            for value, number in zip(column, numbers, strict=True):
                if value is not None and math.isnan(number):
                    raise InputError([Fault(name, repr(value), f"one of {list(self._listed(name))}")])
            return np.array(numbers)
        return np.array(column, dtype=np.float64)  # None is not a number

    def _values(self, name: str, numbers: list[float]) -> Sequence[Value]:
        variable = self.variables[name]
        if isinstance(variable, Choice):
            return [variable.choices[int(number)] for number in numbers]
        return [round(number) for number in numbers] if isinstance(variable, Int) else numbers

    def _listed(self, name: str) -> tuple[Value, ...]:
        variable = self.variables[name]
        return variable.choices if isinstance(variable, Choice) else ()


def _key(value: Value) -> tuple[bool, Value]:
    """Return what tells choices apart: True and 1 are two choices, 1 and 1.0 are one."""
    return isinstance(value, bool), value


def _ascending(choices: Sequence[Value]) -> bool:
    numbers = [float(c) for c in choices if isinstance(c, int | float) and not isinstance(c, bool)]
    return len(numbers) == len(choices) and all(a < b for a, b in pairwise(numbers))


def _range_problem(low: float, high: float, *, log: bool, step: float | None) -> str | None:
    if not (math.isfinite(low) and math.isfinite(high) and low <= high):
        return "finite numbers with low <= high"
    if log and low <= 0.0:
        return "low > 0 on a logarithmic scale"
    return "step > 0" if step is not None and not step > 0.0 else None


def _faults(variables: Mapping[str, Variable]) -> list[Fault]:
    faults = []
    for name, variable in variables.items():
        problem = variable.problem()
        if problem:
            faults.append(Fault(name, repr(variable), problem))
        for parent, values in (variable.active_if or {}).items():
            faults += _condition_faults(f"{name}.active_if.{parent}", variables.get(parent), values)
    return faults


def _condition_faults(where: str, parent: Variable | None, values: Sequence[Value]) -> list[Fault]:
    if not isinstance(parent, Choice):
        return [Fault(where, "no such choice", "the name of a variable with a list of choices")]
    known = {_key(choice) for choice in parent.choices}
    return [
        Fault(where, repr(value), f"one of {list(parent.choices)}")
        for value in values
        if _key(value) not in known
    ]
