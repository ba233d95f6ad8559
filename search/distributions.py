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
    if isinstance(variable, Int):
        return IntDistribution(variable.low, variable.high, log=variable.log, step=variable.step)
    # optuna moves an upper end that no step reaches, and says so: give it the end that is reached.
    axis = variable.axis()
    high = variable.low + (axis.levels - 1) * axis.step if axis.levels else variable.high
    return FloatDistribution(variable.low, min(high, variable.high), log=variable.log, step=variable.step)


def _variable(name: str, distribution: Any) -> Variable:
    if isinstance(distribution, CategoricalDistribution):
        return Choice(tuple(distribution.choices))
    if isinstance(distribution, IntDistribution):
        return Int(distribution.low, distribution.high, log=distribution.log, step=distribution.step)
    if isinstance(distribution, FloatDistribution):
        return Float(distribution.low, distribution.high, log=distribution.log, step=distribution.step)
    raise InputError([Fault(name, repr(distribution), "a float, int or categorical distribution")])
