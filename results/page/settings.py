"""A frozen sweep as tables that people read: its sections, keys and values in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

Rows = list[tuple[str, str]]


def sections_of(sweep: Mapping[str, Any]) -> list[tuple[str, Rows]]:
    """Return every section of a sweep file with its rows of key and value; single keys come first.

    Keys carry their units, as in the file.
    """
    single = [(key, value_text(value)) for key, value in sweep.items() if not isinstance(value, Mapping)]
    sections = [("sweep", single)] if single else []
    for name, content in sweep.items():
        if isinstance(content, Mapping):
            sections += _section(name, content)
    return sections


def value_text(value: object) -> str:
    """Return a value as a person writes it: no quotes, no brackets; of a list of tables a line for each."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.10g}"
    if isinstance(value, Mapping):
        return _range_text(value)
    if isinstance(value, Sequence) and not isinstance(value, str):
        separator = "\n" if any(isinstance(item, Mapping) for item in value) else ", "
        return separator.join(map(value_text, value))
    return str(value)


def _section(name: str, content: Mapping[str, Any]) -> Iterator[tuple[str, Rows]]:
    """Yield a section and those within it; a table of plain values is one row."""
    inner = {key: value for key, value in content.items() if _has_depth(value)}
    rows = [(key, value_text(value)) for key, value in content.items() if key not in inner]
    if rows:
        yield name, rows
    for key, value in inner.items():
        yield from _section(f"{name}.{key}", value)


def _has_depth(value: object) -> bool:
    """Return whether a value is a section of its own and not a range or a list of choices."""
    return isinstance(value, Mapping) and not {"low", "choices", "kind"} & set(value)


def _range_text(value: Mapping[str, Any]) -> str:
    if "choices" in value:
        return "one of " + value_text(value["choices"])
    if "low" in value and "high" in value:
        text = f"{value_text(value['low'])} to {value_text(value['high'])}"
        if value.get("step"):
            text += f" in steps of {value_text(value['step'])}"
        return text + (", drawn in the logarithm" if value.get("log") else "")
    return ", ".join(f"{key} {value_text(item)}" for key, item in value.items())
