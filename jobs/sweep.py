"""The sweep file: one TOML file with variables, search and the model's own sections, checked as a whole.

Every fault is reported at once, each with its line and place, what was found and what is allowed.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field

from boilerfront.jobs.ranges import Range, parse_ranges
from boilerfront.model.brief import Brief
from boilerfront.model.calibration import Calibration, read_calibration
from boilerfront.model.prices import ITEMS, PriceBook, read_price_book
from boilerfront.shared.errors import Fault, InputError
from boilerfront.shared.schema import Section, validated

SWEEP_FILE = "sweep.toml"
_NAME = r"[A-Za-z0-9][A-Za-z0-9._-]*"


class Search(Section):
    """How much is searched, in which portions, from which seed."""

    budget: Annotated[int, Field(ge=1, le=10_000_000)] = 20_000
    """Designs to evaluate in all."""
    generation: Annotated[int, Field(ge=0, le=100_000)] = 0
    """Designs a generation; 0: 48 until 480 designs, then 96."""
    seed: Annotated[int, Field(ge=0, lt=2**32)] = 1
    lag: Annotated[int, Field(ge=0, le=1)] = 1
    """1: from 480 designs on a generation is planned while the one before it still runs; 0: always after it."""
    surrogate: Annotated[float | None, Field(ge=0.0, le=1.0)] = None
    """How often generations are planned with a surrogate, 1: as often as it pays by the number of designs;
    None: by architectures and machines."""
    by_ratio: bool | None = None
    """Whether half the deviation counts alike wherever it is; None: yes, save in a run that began without it."""


class Stop(Section):
    """An end before the budget is spent: the front's hypervolume grows no better than that in so many generations."""

    no_better_than: Annotated[float, Field(ge=0.0, lt=1.0)] = 0.001
    """Relative growth, 0.001 for 0.1 %."""
    generations: Annotated[int, Field(ge=1, le=100_000)] = 20


class Proof(Section):
    """What is done with the front when the search is at its end, in this order, as far as the time goes."""

    machines: Annotated[int, Field(ge=0, le=65_536)] = 512
    """Fresh machines on which each design is rated again, with half the step; 0: not at all."""
    seeds: Annotated[int, Field(ge=0, le=16)] = 2
    """Further searches with other seeds, each with the budget of the first: runs NAME/seed-1 and so on."""
    neighbours: bool = True
    """Whether each design is tried with one variable moved."""


class RunRecord(Section):
    """What a frozen copy remembers of its start; no part of what the sweep means."""

    sweep_hash: str
    started: str
    cpu: str
    versions: dict[str, str]
    repriced_from: str | None = None
    """The run whose trials these are, at other prices."""
    taken_from: str | None = None
    """The earlier run whose trials this one began with."""
    taken: int = 0
    """How many: they are the trials before the first one of its own."""


class Sweep(Brief):
    """One optimisation: the model's sections, the variables with their ranges, the search."""

    name: Annotated[str | None, Field(pattern=f"^{_NAME}$", max_length=80)] = None
    """Name of the run's folder; by default the file's own name, or its folder's for sweep.toml."""
    variables: dict[str, Range]
    search: Search = Search()
    stop: Stop | None = None
    """Without it the budget, the clock or a person ends the search."""
    proof: Proof | None = None
    """Without it nothing is proven."""
    run: RunRecord | None = None

    def brief(self) -> Brief:
        """Return the model's sections alone: what a worker needs."""
        return Brief(**{name: getattr(self, name) for name in Brief.model_fields})


def load_sweep(path: Path, overrides: Mapping[str, Any] | None = None) -> Sweep:
    """Return the sweep at `path` (a file, or a folder with sweep.toml).

    `overrides` replace keys of [search] before anything is checked. The price book's path starts at the file.
    Raises `InputError` with every fault at once.
    """
    file = path / SWEEP_FILE if path.is_dir() else path
    text = _read(file)
    data = _parse(file, text)
    if overrides and isinstance(data.setdefault("search", {}), dict):
        data["search"].update(overrides)
    faults: list[Fault] = []
    sites = data.get("sites")
    named = tuple(sites) if isinstance(sites, Mapping) else ()
    ranges, found = parse_ranges(data.get("variables", {}), named)
    faults += found
    data["variables"] = ranges
    data["prices"], found = _prices(data.get("prices"), file.parent)
    faults += found
    faults += _take_calibration(data, file.parent)
    try:
        sweep = validated(Sweep, data)
    except InputError as error:
        faults += error.faults
    if faults:
        raise InputError(_in_order(faults, text))
    return sweep


def read_toml(file: Path) -> dict[str, Any]:
    """Return a TOML file as it stands; raises `InputError` where it cannot be read or is none."""
    return _parse(file, _read(file))


def default_name(path: Path) -> str:
    """Return the run's name that follows from a sweep file's path."""
    file = path / SWEEP_FILE if path.is_dir() else path
    stem = file.resolve().parent.name if file.name == SWEEP_FILE else file.stem
    return re.sub(r"[^A-Za-z0-9._-]+", "-", stem).strip("-.") or "sweep"


def checked_name(name: str) -> str:
    """Return `name` if it can name a run's folder; raises `InputError` otherwise."""
    if not re.fullmatch(_NAME, name) or len(name) > 80:
        raise InputError([Fault("--name", repr(name), "letters, digits, '.', '_' and '-', at most 80")])
    return name


def _read(file: Path) -> str:
    if file.exists() and not (file.is_file() or file.is_dir()):
        # A pipe would be waited for without end, and a sweep is read more than once.
        raise InputError([Fault(str(file), "a pipe or a device", "a readable sweep file")])
    try:
        data = file.read_bytes()
    except OSError as error:
        raise InputError([Fault(str(file), error.strerror or str(error), "a readable sweep file")]) from None
    try:
        return data.decode("utf-8-sig")  # some editors put a byte order mark
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        found = f"byte 0x{data[error.start]:02x}"
        raise InputError([Fault(f"{file}: line {line}", found, "text in UTF-8")]) from None


def _parse(file: Path, text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # beside TOML's own: too many digits, too deep
        raise InputError([Fault(str(file), f"no TOML: {error}", "TOML 1.0")]) from None


def _prices(value: Any, folder: Path) -> tuple[Any, list[Fault]]:
    """Return the price book that a sweep names, and what is wrong with it; a frozen copy holds it itself."""
    blank = PriceBook(prices=dict.fromkeys(ITEMS, 0.0))
    if value is None:
        return blank, [Fault("prices", "nothing", 'the price book, such as prices = "prices.csv"')]
    if isinstance(value, Mapping):
        return value, []
    if not isinstance(value, str) or "\0" in value:
        return blank, [Fault("prices", repr(value), "the path of a price book")]
    try:
        return read_price_book(folder / value), []
    except InputError as error:
        return blank, list(error.faults)


def _take_calibration(data: dict[str, Any], folder: Path) -> list[Fault]:
    """Put the calibration that a sweep names in its place; loops are tuned for the sensor lags that it found.

    Return what is wrong with it. A frozen copy holds it itself.
    """
    value = data.get("calibration")
    if value is None:
        return []
    try:
        if isinstance(value, str) and "\0" not in value:
            found = read_calibration(folder / value)
        elif isinstance(value, Mapping):
            found = validated(Calibration, value, where="calibration")
        else:
            return [Fault("calibration", repr(value), "the path of a file that calibrate wrote")]
    except InputError as error:
        data["calibration"] = None
        return list(error.faults)
    data["calibration"] = found.model_dump(exclude_none=True)
    machine = data.setdefault("machine", {})
    control = machine.setdefault("control", {}) if isinstance(machine, dict) else None
    if not isinstance(control, dict):
        return []  # a fault that is found with the rest
    faults = []
    for name, lag_s in found.lags_s().items():
        if control.setdefault(name, lag_s) != lag_s:
            allowed = f"{lag_s!r}, which the calibration found, or no such line"
            faults.append(Fault(f"machine.control.{name}", repr(control[name]), allowed))
    return faults


def _in_order(faults: list[Fault], text: str) -> list[Fault]:
    """Return faults in the order of the file, each with its line where it has one."""
    lines = [(_line_of(fault.where, text), fault) for fault in faults]
    lines.sort(key=lambda pair: pair[0] or 0)
    return [
        fault if line is None else Fault(f"line {line}: {fault.where}", fault.found, fault.allowed)
        for line, fault in lines
    ]


def _line_of(where: str, text: str) -> int | None:
    """Return the line of the key that comes nearest to the place `where`, or None."""
    best, length, header = None, 0, ""
    for number, line in enumerate(text.splitlines(), start=1):
        if match := re.match(r"\s*\[+([^\]\[]+)\]+\s*(#.*)?$", line):
            header = match[1].strip().replace('"', "") + "."
            place = header[:-1]
        elif match := re.match(r'\s*([A-Za-z0-9_."@-]+)\s*=', line):
            place = header + match[1].replace('"', "")
        else:
            continue
        if len(place) > length and re.match(re.escape(place) + r"($|[.\[])", where):
            best, length = number, len(place)
    return best
