"""What `[variables]` of a sweep file may say, and the search space that follows from it.

A variable is a number range, a list of choices or a fixed value. Every variable of the model that a file does
not name is fixed at its default; one that an architecture lacks is masked there, by the model's own list.
Over several sites an element's power may be one for each: `<variable>@<site>` (see `site_ranges`).
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from boilerfront.jobs.site_ranges import PER_SITE_KEY, places, site_faults
from boilerfront.model.variables import VARIABLES, Variable, base_name
from boilerfront.search.space import Choice, Float, Space
from boilerfront.shared.errors import Fault, InputError
from boilerfront.shared.schema import Section

if TYPE_CHECKING:
    from boilerfront.model.sensitivity import Reach

_RANGE_KEYS = ("low", "high", "log", "step")
_FORMS = "{ low = .., high = .. }, { choices = [..] } or a value"


class NumberRange(Section):
    """A number between `low` and `high`, in steps of `step` from `low` or drawn in the logarithm."""

    low: float
    high: float
    log: bool = False
    step: float | None = None


class ChoiceList(Section):
    """One of a list; a list of one is a fixed value."""

    choices: tuple[float | str, ...]


Range = NumberRange | ChoiceList


def parse_ranges(data: object, sites: Sequence[str] = ()) -> tuple[dict[str, Range], list[Fault]]:
    """Return the ranges of every variable in the model's order, and all that is wrong with `data`."""
    if not isinstance(data, Mapping):
        return {}, [Fault("variables", repr(data), "a table of variables")]
    faults = [_unknown(name) for name in data if base_name(name) not in VARIABLES]
    faults += site_faults(data, sites)
    ranges: dict[str, Range] = {}
    for name, variable in VARIABLES.items():
        for place, stated in places(name, data, sites).items():
            value = data.get(stated, variable.default)
            if value is None:
                continue  # a variable without a default is derived by the model unless it is named
            found = list(_faults(replace(variable, name=stated), value))
            faults += found
            if not found:
                ranges[place] = _range(value)
    faults = list(dict.fromkeys((*faults, *_homeless(data, ranges))))
    if not faults and not any(_is_open(each) for each in ranges.values()):
        faults.append(Fault("variables", "only fixed values", "at least one range or list of choices"))
    return ranges, faults


def architectures(ranges: Mapping[str, Range]) -> tuple[str, ...]:
    """Return the architectures that a sweep compares."""
    listed = ranges["architecture"]
    return tuple(map(str, listed.choices)) if isinstance(listed, ChoiceList) else ()


def search_space(ranges: Mapping[str, Range]) -> Space:
    """Return the space of the variables that are open, masked where an architecture lacks them."""
    compared = architectures(ranges)
    axes: dict[str, Float | Choice] = {}
    for name, each in ranges.items():
        having = tuple(kind for kind in compared if kind in _having(name))
        if not _is_open(each) or not having:
            continue
        active_if = None if having == compared else {"architecture": having}
        if isinstance(each, ChoiceList):
            axes[name] = Choice(each.choices, active_if=active_if)
        else:
            axes[name] = Float(each.low, each.high, log=each.log, step=each.step, active_if=active_if)
    return Space(axes)


class Completion:
    """Makes designs of what a search chose: a value for every variable, None where its architecture lacks it."""

    def __init__(self, ranges: Mapping[str, Range]) -> None:
        self._fixed = {
            name: each.choices[0]
            for name, each in ranges.items()
            if isinstance(each, ChoiceList) and len(each.choices) == 1
        }
        self._having = {name: frozenset(_having(name)) for name in columns(ranges)}

    def __call__(self, params: Mapping[str, Any]) -> dict[str, float | str | None]:
        """Return the design of `params`, the open variables; one that does not count may be there or not."""
        values = {name: params[name] if name in params else self._fixed.get(name) for name in self._having}
        architecture = values["architecture"]
        return {
            name: values[name] if architecture in having else None for name, having in self._having.items()
        }


def middle_design(ranges: Mapping[str, Range], given: Mapping[str, Any]) -> dict[str, float | str | None]:
    """Return the design with the values `given`, and the middle of its range for each other variable.

    A value may lie outside the sweep's ranges. Raises `InputError` for an unknown variable or value.
    """
    known = {**VARIABLES, **{name: VARIABLES[base_name(name)] for name in ranges}}
    faults = [_unknown(name) for name in given if name not in known]
    for name, value in given.items():
        if name in known:
            faults += _value_faults(f"variables.{name}", known[name], value)
    if faults:
        raise InputError(faults)
    middles = {name: _middle(each) for name, each in ranges.items()}
    values = {**middles, **{name: _number(value) for name, value in given.items()}}
    architecture = values["architecture"]
    return {name: value if architecture in _having(name) else None for name, value in values.items()}


def reach_of(ranges: Mapping[str, Range]) -> dict[str, Reach]:
    """Return how far each open variable may be moved; one that is fixed has no reach of its own."""
    reach: dict[str, Reach] = {}
    for name, each in ranges.items():
        if not isinstance(each, ChoiceList):
            reach[name] = (each.low, each.high)
        elif len(each.choices) > 1:
            numbers = [choice for choice in each.choices if isinstance(choice, float)]
            reach[name] = (min(numbers), max(numbers)) if numbers else tuple(map(str, each.choices))
    return reach


def offers(ranges: Mapping[str, Range], name: str, value: float | str | None) -> bool:
    """Return whether a sweep of these ranges could have chosen a value of a variable; a fixed one has its own."""
    each = ranges.get(name)
    if each is None or value is None:
        return False
    if isinstance(each, ChoiceList):
        return value in each.choices
    if isinstance(value, str) or not each.low <= value <= each.high:
        return False
    return each.step is None or math.isclose(
        (steps := (value - each.low) / each.step), round(steps), abs_tol=1e-6
    )


def one_of_each(ranges: Mapping[str, Range]) -> list[dict[str, float | str | None]]:
    """Return a design of each architecture that a sweep compares."""
    return [middle_design(ranges, {"architecture": kind}) for kind in architectures(ranges)]


def _middle(each: Range) -> float | str:
    if isinstance(each, ChoiceList):
        return each.choices[len(each.choices) // 2]
    if each.log:
        return math.sqrt(each.low * each.high)
    steps = 0.0 if each.step is None else round((each.high - each.low) / each.step / 2)
    return each.low + steps * each.step if each.step else (each.low + each.high) / 2


def columns(ranges: Mapping[str, Range]) -> tuple[str, ...]:
    """Return the variables that some architecture of the sweep has, in the model's order."""
    compared = architectures(ranges)
    return tuple(name for name in ranges if any(kind in _having(name) for kind in compared))


def _having(name: str) -> tuple[str, ...]:
    """Return the architectures that have a variable."""
    return VARIABLES[base_name(name)].architectures


def _is_open(each: Range) -> bool:
    return isinstance(each, NumberRange) or len(each.choices) > 1


def _range(value: Any) -> Range:
    """Return checked TOML as a range; numbers become floats, as the tables have them."""
    if isinstance(value, Mapping) and "choices" in value:
        return ChoiceList(choices=tuple(_number(choice) for choice in value["choices"]))
    if isinstance(value, Mapping):
        low, high = float(value["low"]), float(value["high"])
        if low == high:
            return ChoiceList(choices=(low,))
        step = value.get("step")
        return NumberRange(
            low=low, high=high, log=value.get("log", False), step=None if step is None else float(step)
        )
    return ChoiceList(choices=(_number(value),))


def _number(value: float | str) -> float | str:
    return value if isinstance(value, str) else float(value)


# Faults


def _unknown(name: str) -> Fault:
    near = difflib.get_close_matches(name, list(VARIABLES), n=1)
    hint = f"did you mean '{near[0]}'? " if near else ""
    return Fault(f"variables.{name}", "an unknown variable", f"{hint}(known: {', '.join(VARIABLES)})")


def _homeless(data: Mapping[str, Any], ranges: Mapping[str, Range]) -> Iterator[Fault]:
    """Yield variables that are named though no architecture of the sweep has them."""
    compared = architectures(ranges) if "architecture" in ranges else ()
    for name in data:
        having_it = _having(name) if base_name(name) in VARIABLES else compared
        if compared and not set(compared) & set(having_it):
            having = ", ".join(having_it)
            yield Fault(
                f"variables.{name}",
                f"no architecture that has it ({', '.join(compared)})",
                f"only with architecture {having}",
            )


def _faults(variable: Variable, value: Any) -> Iterator[Fault]:
    where = f"variables.{variable.name}"
    if not isinstance(value, Mapping):
        if isinstance(value, list):
            yield Fault(where, repr(value), "a list is written { choices = [..] }")
        else:
            yield from _value_faults(where, variable, value)
    elif "choices" in value:
        yield from _list_faults(where, variable, value)
    else:
        yield from _number_faults(where, variable, value)


def _list_faults(where: str, variable: Variable, value: Mapping[str, Any]) -> Iterator[Fault]:
    for key in value:
        if key not in ("choices", PER_SITE_KEY):
            yield Fault(f"{where}.{key}", "a key that has no place beside choices", "choices alone")
    choices = value["choices"]
    if not isinstance(choices, list) or not choices:
        yield Fault(f"{where}.choices", repr(choices), "a list of at least one value")
        return
    for index, choice in enumerate(choices):
        yield from _value_faults(f"{where}.choices[{index}]", variable, choice)
        if choice in choices[:index]:
            yield Fault(f"{where}.choices[{index}]", f"{choice!r} for the second time", "each value once")


def _value_faults(where: str, variable: Variable, value: Any) -> Iterator[Fault]:
    if variable.kind == "choice":
        if value not in variable.choices:
            yield Fault(where, repr(value), "one of " + ", ".join(variable.choices))
    elif not _is_number(value):
        yield Fault(where, repr(value), f"a number [{variable.unit}], or {_FORMS}")
    elif not variable.low <= value <= variable.high:
        yield Fault(where, repr(value), _bounds(variable))


def _number_faults(where: str, variable: Variable, value: Mapping[str, Any]) -> Iterator[Fault]:
    if variable.kind == "choice":
        listed = ", ".join(variable.choices)
        yield Fault(where, repr(dict(value)), f"a value or {{ choices = [..] }} of {listed}")
        return
    for key in value:
        if key not in (*_RANGE_KEYS, PER_SITE_KEY):
            near = difflib.get_close_matches(key, [*_RANGE_KEYS, "choices"], n=1, cutoff=0.4)
            hint = f"did you mean '{near[0]}'? " if near else ""
            yield Fault(f"{where}.{key}", "an unknown key", f"{hint}(known: low, high, log, step, choices)")
    ends_stand = True
    for key in ("low", "high"):
        end_faults = list(_end_faults(where, key, variable, value))
        ends_stand = ends_stand and not end_faults
        yield from end_faults
    if ends_stand and value["low"] > value["high"]:
        yield Fault(where, f"low = {value['low']!r}, high = {value['high']!r}", "low <= high")
    yield from _scale_faults(where, value, ends_stand)


def _end_faults(where: str, key: str, variable: Variable, value: Mapping[str, Any]) -> Iterator[Fault]:
    if key not in value:
        yield Fault(f"{where}.{key}", "nothing", f"a number, {_bounds(variable)}")
    elif not _is_number(value[key]):
        yield Fault(f"{where}.{key}", repr(value[key]), f"a number, {_bounds(variable)}")
    elif not variable.low <= value[key] <= variable.high:
        yield Fault(f"{where}.{key}", repr(value[key]), _bounds(variable))


def _scale_faults(where: str, value: Mapping[str, Any], ends_stand: bool) -> Iterator[Fault]:
    log, step = value.get("log", False), value.get("step")
    if not isinstance(log, bool):
        yield Fault(f"{where}.log", repr(log), "true or false")
    elif log and step is not None:
        yield Fault(where, "log and step together", "one of them")
    elif log and ends_stand and value["low"] <= 0:
        yield Fault(f"{where}.low", repr(value["low"]), "above 0 on a logarithmic scale")
    if step is None:
        return
    if not _is_number(step) or step <= 0:
        yield Fault(f"{where}.step", repr(step), "a number above 0")
    elif ends_stand and value["low"] < value["high"] < value["low"] + step:
        yield Fault(f"{where}.step", repr(step), f"at most high - low = {value['high'] - value['low']:g}")


def _bounds(variable: Variable) -> str:
    return f"{variable.low:g} to {variable.high:g} {variable.unit} (physical range)"


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and value == value
