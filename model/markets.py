"""One machine for several markets: rated at every site, told by its worst one.

Vessels, coil and group are the same everywhere. An element has the same rated power at each market's own voltage,
unless a design names its power for a site: `brew_power_W@us`. A design that does not come through its duty at one
site is not tried at the next: nothing could make it feasible.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from boilerfront.model.brief import Brief
from boilerfront.model.glossary import COLUMNS, OBJECTIVES, SITE_FIGURES, at_site
from boilerfront.model.rating import Row, rows_at_site
from boilerfront.model.variables import PER_SITE, Value, base_name, site_of
from boilerfront.shared.errors import Fault, InputError

SMALLEST = frozenset({"set_point_top_C", "steam_dryness", "puck_pressure_bar"})
"""Figures that are told by their smallest value over the sites; others by the one that is largest in size."""


def evaluate_many(designs: Sequence[Mapping[str, Value]], brief: Brief, *, finer: int = 1) -> list[Row]:
    """Return one row for each design: objectives, figures, margins, verdict (see `glossary`).

    A design's row never depends on its neighbours. A design that does not come through its duty has a `reason` and
    no objectives. With several sites objectives are the worst over them (or the mean by the market's weights),
    margins the smallest, figures the farthest from zero; `<column>@<site>` has each site's own. Raises `InputError`
    where a design is not one. `finer`: into how many parts the kernel's steps are cut (see `rows_at_site`).
    """
    if not brief.sites:
        return rows_at_site(designs, brief, finer=finer)
    faults = [fault for design in designs for fault in _faults(design, brief)]
    if faults:
        raise InputError(list(dict.fromkeys(faults)))
    rows: list[dict[str, Row]] = [{} for _ in designs]
    through = list(range(len(designs)))
    for site, own in brief.by_site().items():
        found = rows_at_site([design_at(designs[i], site) for i in through], own, finer=finer)
        for i, row in zip(through, found, strict=True):
            rows[i][site] = row
        through = [i for i in through if _came_through(rows[i][site])]
    return [_over_sites(each, brief) for each in rows]


def design_at(design: Mapping[str, Value], site: str) -> dict[str, Value]:
    """Return the design as it is sold at a site: its own powers where it has some, no other site's."""
    shared = {name: value for name, value in design.items() if not site_of(name)}
    return shared | {base_name(name): value for name, value in design.items() if site_of(name) == site}


def _faults(design: Mapping[str, Value], brief: Brief) -> list[Fault]:
    named = [name for name in design if site_of(name)]
    return [
        Fault(name, "no site of the sweep", ", ".join(brief.sites))
        for name in named
        if site_of(name) not in brief.sites
    ] + [
        Fault(name, "the same at every site", ", ".join(PER_SITE) + " may differ")
        for name in named
        if base_name(name) not in PER_SITE
    ]


def _came_through(row: Row) -> bool:
    return row["reason"] is None and row["fault"] is None


def _over_sites(rows: Mapping[str, Row], brief: Brief) -> Row:
    """Return one row for a design's rows by site, the last of which may not have come through."""
    site, last = list(rows.items())[-1]
    if not _came_through(last):
        words = {key: f"{last[key]} ({site})" for key in ("reason", "fault") if last[key] is not None}
        return {**last, **words}
    found: Row = {name: _told(name, rows, brief) for name in last}
    found["feasible"] = all(row["feasible"] for row in rows.values())
    for name in (*OBJECTIVES, *SITE_FIGURES, *(name for name in last if name.startswith("margin_"))):
        found |= {at_site(name, site): row[name] for site, row in rows.items()}
    return found


def _told(name: str, rows: Mapping[str, Row], brief: Brief) -> float | int | bool | str | None:
    numbers = {
        site: float(value) for site, row in rows.items() if isinstance(value := row[name], float | int)
    }
    return told(name, numbers, brief) if numbers else None


def told(name: str, numbers: Mapping[str, float], brief: Brief) -> float:
    """Return what stands for a column over all sites, of at least one number by site."""
    group = COLUMNS[name].group
    if group == "margin" or name in SMALLEST:
        return min(numbers.values())
    if group in ("objective", "nominal"):
        weights = brief.markets.weights
        if not weights:
            return max(numbers.values())
        return sum(weights[site] * value for site, value in numbers.items()) / sum(weights.values())
    return max(numbers.values(), key=abs)
