"""The frozen copy of a sweep in its run's folder: complete, with its hash, versions and CPU type.

The hash says whether two files mean the same search. It leaves out what only says when that ends (budget, stop
rule) and what follows (proof), the name and the record of the start, so that a longer night is the same run.
"""

from __future__ import annotations

import hashlib
import json
import platform
from collections.abc import Iterator, Mapping
from datetime import datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

from boilerfront.jobs.effort import surrogate_share
from boilerfront.jobs.ranges import ChoiceList, NumberRange, columns
from boilerfront.jobs.sweep import RunRecord, Sweep, read_toml
from boilerfront.jobs.weighing import weighs_by_ratio
from boilerfront.shared.errors import Fault
from boilerfront.shared.toml_text import toml_text

_PACKAGES = ("boilerfront", "numpy", "numba", "scipy", "optuna", "dask", "distributed", "pyarrow", "moocore")
NOTHING = "nothing"
"""What stands for a key that one of two sweeps lacks."""
_NO_MEANING = ("name", "run", "stop", "proof")
_ALWAYS = 1.0
"""Share of the generations with a surrogate in every frozen copy that does not name it."""
_HEADING = """\
# Frozen copy of a sweep: every default is written out. The run belongs to exactly this file.
"""


def sweep_hash(sweep: Sweep) -> str:
    """Return the SHA-256 of what the sweep means, as 64 hexadecimal digits."""
    text = json.dumps(_meaning(sweep), sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def frozen_toml(sweep: Sweep) -> str:
    """Return the sweep as TOML with every default; it loads again to an equal sweep.

    Variables that none of its architectures has are left out: a sweep that names them is refused.
    """
    content = sweep.model_dump(exclude_none=True)
    content["variables"] = {name: _short(sweep.variables[name]) for name in columns(sweep.variables)}
    order = ("name", "run", "variables", "search", "stop", "proof")
    first = {key: content.pop(key) for key in order if key in content}
    return _HEADING + toml_text({**first, **content})


def recorded(sweep: Sweep, *, started: datetime, taken_from: str | None = None, taken: int = 0) -> Sweep:
    """Return the sweep with the record of its start: hash, time, CPU type, versions, what it began with."""
    record = RunRecord(
        sweep_hash=sweep_hash(sweep),
        started=started.isoformat(timespec="seconds"),
        cpu=cpu_type(),
        versions=versions(),
        taken_from=taken_from,
        taken=taken,
    )
    # a default that another version may have measured anew belongs to the run as it is now
    chosen = {"surrogate": surrogate_share(sweep), "by_ratio": weighs_by_ratio(sweep)}
    search = sweep.search.model_copy(update=chosen)
    return sweep.model_copy(update={"run": record, "search": search})


def differences(ours: Sweep, theirs: Sweep) -> list[Fault]:
    """Return every key in which two sweeps mean something else: place, ours, theirs."""
    return _differences(_meaning(ours), _meaning(theirs))


def file_differences(ours: Path, theirs: Path) -> list[Fault]:
    """Return every key in which two frozen copies mean something else, also where another version wrote them.

    Raises `InputError` for a file that is no TOML.
    """
    left, right = (read_toml(path) for path in (ours, theirs))
    for content in (left, right):
        for key in _NO_MEANING:
            content.pop(key, None)
        if isinstance(content.get("search"), dict):
            content["search"].pop("budget", None)
            content["search"].setdefault("surrogate", _ALWAYS)
            content["search"].setdefault("by_ratio", False)
    return _differences(left, right)


def _differences(ours: Mapping[str, Any], theirs: Mapping[str, Any]) -> list[Fault]:
    left, right = dict(_flat("", ours)), dict(_flat("", theirs))
    return [
        Fault(key, str(left.get(key, NOTHING)), str(right.get(key, NOTHING)))
        for key in sorted(left.keys() | right.keys())
        if left.get(key) != right.get(key)
    ]


def cpu_type() -> str:
    """Return the machine's CPU as the system names it: figures agree bit for bit on one type only."""
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        lines = []
    names = [line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")]
    return names[0] if names else platform.processor() or platform.machine()


def versions() -> dict[str, str]:
    """Return the versions of Python and of every package that a figure may depend on."""
    return {"python": platform.python_version(), **{package: version(package) for package in _PACKAGES}}


def _meaning(sweep: Sweep) -> dict[str, Any]:
    content = sweep.model_dump(mode="json", exclude=dict.fromkeys(_NO_MEANING, True) | {"search": {"budget"}})
    content["search"]["surrogate"] = surrogate_share(sweep)
    content["search"]["by_ratio"] = weighs_by_ratio(sweep)
    # Sweeps from before there were calibrations, boilers that can be off, fewer surrogates, ratios, keep their hash.
    if content["calibration"] is None:
        del content["calibration"]
    if content["duty"]["steam_boiler"] == "on":
        del content["duty"]["steam_boiler"]
    if content["search"]["surrogate"] == _ALWAYS:
        del content["search"]["surrogate"]
    if not content["search"]["by_ratio"]:
        del content["search"]["by_ratio"]
    return dict(content)


def _short(each: NumberRange | ChoiceList) -> Any:
    if isinstance(each, ChoiceList):
        return each.choices[0] if len(each.choices) == 1 else {"choices": list(each.choices)}
    return each.model_dump(exclude_none=True)


def _flat(path: str, value: Any) -> Iterator[tuple[str, Any]]:
    if isinstance(value, Mapping):
        for key, item in value.items():
            yield from _flat(f"{path}.{key}" if path else key, item)
    else:
        yield path, value
