"""Between our variables and optuna's distributions, both ways."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from optuna.distributions import (
    BaseDistribution,
    CategoricalDistribution,
    FloatDistribution,
    IntDistribution,
)

from boilerfront.search.space import Choice, Float, Int, Space, Variable
from boilerfront.shared.errors import Fault, InputError


def optuna_distributions(space: Space) -> dict[str, BaseDistribution]:
    """Return what `study.ask` takes for `space`; masked names included, optuna knows no conditions."""
    return {name: _distribution(variable) for name, variable in space.variables.items()}


def space_of(distributions: Mapping[str, BaseDistribution]) -> Space:
    """Return the space of optuna's `distributions`, names in alphabetical order.

    Raises `InputError` for a kind of distribution that is none of float, int and categorical.
    """
    return Space({name: _variable(name, distributions[name]) for name in sorted(distributions)})


def _distribution(variable: Variable) -> BaseDistribution:
    if isinstance(variable, Choice):
        return CategoricalDistribution(variable.choices)
    # optuna moves an upper end that no step reaches, and warns: give it the end that is reached.
    axis = variable.axis()
    high = min(axis.low + (axis.levels - 1) * axis.step, axis.high) if axis.levels else axis.high
    if isinstance(variable, Int):
        return IntDistribution(variable.low, round(high), log=variable.log, step=variable.step)
    return FloatDistribution(variable.low, high, log=variable.log, step=variable.step)


def _variable(name: str, distribution: Any) -> Variable:
    if isinstance(distribution, CategoricalDistribution):
        return Choice(tuple(distribution.choices))
    if isinstance(distribution, IntDistribution):
        return Int(distribution.low, distribution.high, log=distribution.log, step=distribution.step)
    if isinstance(distribution, FloatDistribution):
        return Float(distribution.low, distribution.high, log=distribution.log, step=distribution.step)
    raise InputError([Fault(name, repr(distribution), "a float, int or categorical distribution")])
