"""Variables that a platform chooses for each of its sites: how a sweep file says so.

`brew_power_W = { choices = [..], per_site = true }` chooses the same range at every site,
`"brew_power_W@us" = { .. }` another one at one of them; the others keep what `brew_power_W` says.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from boilerfront.model.variables import PER_SITE, VARIABLES, base_name, site_of
from boilerfront.shared.errors import Fault

PER_SITE_KEY = "per_site"


def places(name: str, data: Mapping[str, Any], sites: Sequence[str]) -> dict[str, str]:
    """Return the names under which a variable enters a design, each with the key of `data` that states its range."""
    if name not in PER_SITE or not sites or not _is_spread(name, data, sites):
        return {name: name}
    own = {site: f"{name}@{site}" for site in sites}
    return {place: place if place in data else name for place in own.values()}


def site_faults(data: Mapping[str, Any], sites: Sequence[str]) -> Iterator[Fault]:
    """Yield what is wrong with the names and marks that tell sites apart."""
    known = ", ".join(sites) if sites else "a site named in [sites.NAME]; this sweep has one [site]"
    for name, value in data.items():
        where = f"variables.{name}"
        base, site = base_name(name), site_of(name)
        if base not in VARIABLES:
            continue
        if "@" in name and site not in sites:
            yield Fault(where, f"the site '{site}'", known)
        marked = isinstance(value, Mapping) and PER_SITE_KEY in value
        if ("@" in name or marked) and base not in PER_SITE:
            yield Fault(where, "a variable that all sites share", "one of " + ", ".join(PER_SITE))
        if marked:
            yield from _mark_faults(f"{where}.{PER_SITE_KEY}", value[PER_SITE_KEY], sites, alone="@" in name)
    for name in PER_SITE:
        if sites and name in data and all(f"{name}@{site}" in data for site in sites):
            yield Fault(f"variables.{name}", "a range beside one for every site", "one or the other")


def _mark_faults(where: str, value: object, sites: Sequence[str], *, alone: bool) -> Iterator[Fault]:
    if not isinstance(value, bool):
        yield Fault(where, repr(value), "true or false")
    elif value and not sites:
        yield Fault(where, "true, but one site alone", "[sites.NAME] for each of several sites")
    elif value and alone:
        yield Fault(where, "true for one site", "a place at the variable without @")


def _is_spread(name: str, data: Mapping[str, Any], sites: Sequence[str]) -> bool:
    value = data.get(name)
    marked = isinstance(value, Mapping) and value.get(PER_SITE_KEY) is True
    return marked or any(f"{name}@{site}" in data for site in sites)
