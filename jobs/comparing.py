"""What is read of several runs to compare them, and where a comparison is written."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

from boilerfront.jobs.frozen import NOTHING, file_differences
from boilerfront.jobs.state import read_state
from boilerfront.results.compare import Comparison, Side
from boilerfront.results.compare_tables import union_table
from boilerfront.results.front import front_of
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.show import rendered, write_out
from boilerfront.shared.errors import Fault, InputError

SHOWN = 8
"""Keys in which two sweeps differ, shown at most."""
LONGEST = 40
"""Characters of a value that differs, at most."""
_PRICE = "prices.prices."
_CALIBRATION = "calibration"
TABLES = ("csv", "parquet", "json")
PICTURES = ("png", "svg", "pdf")


def sides_of(runs: Sequence[RunFolder]) -> tuple[list[Side], list[str]]:
    """Return the fronts of runs, and a sentence about every file that could not be used.

    Runs of one name are called by their paths. Raises `InputError` for fewer than two, or one twice.
    """
    if len(runs) < 2:
        raise InputError([Fault("RUN", f"{len(runs)} run", "two runs or more")])
    counts = Counter(run.path.resolve() for run in runs)
    twice = [
        Fault("RUN", f"{path} {count} times", "each run once") for path, count in counts.items() if count > 1
    ]
    if twice:
        raise InputError(twice)
    names = Counter(run.name for run in runs)
    sides, notes = [], []
    for run in runs:
        front, messages = front_of(run)
        name = run.name if names[run.name] == 1 else str(run.path)
        sides.append(Side(name, front, read_state(run).trials))
        notes += [f"{name}: {message}" for message in messages]
    return sides, notes


def sweep_differences(runs: Sequence[RunFolder]) -> Iterator[str]:
    """Yield in what each sweep differs from the first one, by its own file."""
    first, *others = runs
    for run in others:
        found = file_differences(first.sweep_file, run.sweep_file)
        if not found:
            yield f"{run.name} was asked the same as {first.name}"
            continue
        listed = list(_listed(found, first.name, run.name))
        more = [f"{len(listed) - SHOWN} more"] if len(listed) > SHOWN else []
        yield f"{run.name} was asked otherwise than {first.name}: {'; '.join(listed[:SHOWN] + more)}"


def _listed(found: Sequence[Fault], ours: str, theirs: str) -> Iterator[str]:
    """Yield what differs: prices and sections that one sweep lacks as a whole, all else key by key."""
    sections: dict[tuple[str, str], list[Fault]] = {}
    for each in found:
        only_in = {each.found: theirs, each.allowed: ours}.get(NOTHING, "")
        section = each.where.rpartition(".")[0] if only_in or each.where.startswith(_PRICE) else each.where
        if each.where.startswith(_CALIBRATION):
            if (_CALIBRATION, "") not in sections:
                sections[_CALIBRATION, ""] = [each]
            continue
        sections.setdefault((section or each.where, only_in), []).append(each)
    for (section, only_in), faults in sections.items():
        if section == _CALIBRATION:
            yield "another calibration"
        elif section == _PRICE.rstrip(".") and not only_in:
            yield f"{len(faults)} price{'s' if len(faults) > 1 else ''}"
        elif only_in:
            yield f"{section if len(faults) > 1 else faults[0].where} only in {only_in}"
        else:
            yield f"{section} {_short(faults[0].allowed)} for {_short(faults[0].found)}"


def _short(text: str) -> str:
    text = text.lower() if text in ("True", "False") else text
    return text if len(text) <= LONGEST else text[: LONGEST - 3] + "..."


def form_of(path: Path) -> str:
    """Return the format that a file's suffix names; raises `InputError` for another."""
    form = path.suffix.removeprefix(".").lower()
    if form not in (*PICTURES, *TABLES):
        allowed = ", ".join(f".{form}" for form in (*PICTURES, *TABLES))
        raise InputError([Fault("--out", path.name, f"a name that ends in one of {allowed}")])
    return form


def write_comparison(path: Path, comparison: Comparison) -> None:
    """Write a comparison as its suffix says: a picture, or all fronts as a table.

    Raises `InputError` for another suffix, where it cannot be written, or where there is nothing to draw.
    """
    form = form_of(path)
    if form in TABLES:
        write_out(path, rendered(union_table(comparison), form))
        return
    if not comparison.objectives:
        raise InputError("every front is empty: there is nothing to draw")
    from boilerfront.results.compare_plot import picture

    write_out(path, picture(comparison, form))
