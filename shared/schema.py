"""The base of every validated section of a sweep file, and its faults in words.

A section is a frozen pydantic model that refuses unknown keys. `validated` turns all that pydantic found
into `Fault` records: the place as a dotted path, the value, what is allowed, for an unknown key the nearest
known one.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterator, Mapping
from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError
from pydantic_core import ErrorDetails

from boilerfront.shared.errors import Fault, InputError

S = TypeVar("S", bound="Section")


class Section(BaseModel):
    """A frozen, strictly typed part of a sweep file."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, strict=True, allow_inf_nan=False, use_attribute_docstrings=True
    )


def validated(section: type[S], data: Mapping[str, Any], *, where: str = "") -> S:
    """Return `data` as a `section`.

    Raises `InputError` with every fault; `where` is put before each place.
    """
    try:
        return section.model_validate(_tuples(data))
    except ValidationError as error:
        raise InputError(faults_of(error, section, where=where)) from None


def faults_of(error: ValidationError, section: type[BaseModel], *, where: str = "") -> list[Fault]:
    """Return what pydantic found in the words of our messages."""
    return [_fault(detail, section, where) for detail in error.errors(include_url=False)]


def _tuples(value: Any) -> Any:
    """Return TOML's lists as tuples: sections are frozen through and through."""
    if isinstance(value, Mapping):
        return {key: _tuples(item) for key, item in value.items()}
    return tuple(map(_tuples, value)) if isinstance(value, list) else value


def _fault(detail: ErrorDetails, section: type[BaseModel], where: str) -> Fault:
    path = ".".join(str(step) for step in (where, *detail["loc"]) if step != "")
    if detail["type"] == "extra_forbidden":
        return Fault(path, "an unknown key", _nearest(str(detail["loc"][-1]), section, detail["loc"][:-1]))
    if detail["type"] == "missing":
        return Fault(path, "nothing", "a value is needed")
    return Fault(path, _shown(detail["input"]), _allowed(detail))


def _allowed(detail: ErrorDetails) -> str:
    message = detail["msg"]
    for prefix in ("Value error, ", "Input should be a valid ", "Input should be "):
        message = message.removeprefix(prefix)
    return message


def _shown(value: object) -> str:
    if isinstance(value, float) and not math.isfinite(value):
        return f"{value} (not a finite number)"
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _nearest(key: str, section: type[BaseModel], path: tuple[int | str, ...]) -> str:
    known = sorted(_keys_at(section, path))
    near = difflib.get_close_matches(key, known, n=1, cutoff=0.4)
    listed = ", ".join(known)
    return f"did you mean '{near[0]}'? (known: {listed})" if near else f"one of {listed}"


def _keys_at(section: type[BaseModel], path: tuple[int | str, ...]) -> set[str]:
    """Return the keys that the section nested at `path` knows."""
    current = [section]
    for step in path:
        following = [
            model
            for parent in current
            if str(step) in parent.model_fields
            for model in _models_in(parent.model_fields[str(step)].annotation)
        ]
        current = following or current
    return {name for model in current for name in model.model_fields}


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in getattr(annotation, "__args__", ()):
        yield from _models_in(inner)
