"""TOML out of plain dictionaries: the standard library reads TOML and writes none.

Floats are written with `repr`, so that they read back bit for bit; None has no place in TOML and is left out.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Mapping
from typing import Any


def toml_text(table: Mapping[str, Any]) -> str:
    """Return `table` (nested dicts, lists, str, bool, int, float) as TOML."""
    return "\n".join(_table((), table)).lstrip("\n") + "\n"


def _table(path: tuple[str, ...], table: Mapping[str, Any]) -> Iterator[str]:
    held = {key: value for key, value in table.items() if value is not None}
    inner = {key: value for key, value in held.items() if _is_section(value, top=not path)}
    plain = {key: value for key, value in held.items() if key not in inner}
    if path and (plain or not inner):
        yield f"\n[{'.'.join(map(_key, path))}]"
    for key, value in plain.items():
        yield f"{_key(key)} = {_value(value)}"
    for key, value in inner.items():
        yield from _table((*path, key), value)


def _is_section(value: Any, *, top: bool) -> bool:
    """Return whether a value is written under a header: a table that is not just a few plain values."""
    return isinstance(value, Mapping) and (
        top or len(value) > 4 or not value or any(isinstance(item, Mapping) for item in value.values())
    )


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else _string(key)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return repr(value) if math.isfinite(value) else {"inf": "inf", "-inf": "-inf"}.get(str(value), "nan")
    if isinstance(value, str):
        return _string(value)
    if isinstance(value, Mapping):
        pairs = [f"{_key(k)} = {_value(v)}" for k, v in value.items() if v is not None]
        return "{ " + ", ".join(pairs) + " }" if pairs else "{}"
    return _array([_value(item) for item in value])


def _array(items: list[str]) -> str:
    line = f"[{', '.join(items)}]"
    if len(line) <= 90:
        return line
    return "[\n" + "".join(f"    {item},\n" for item in items) + "]"


def _string(text: str) -> str:
    # JSON's escapes are TOML's, but for DEL, which TOML wants escaped too.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
