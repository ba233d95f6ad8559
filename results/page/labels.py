"""What people read in place of a column's name, and how a family of machines is told apart."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

import pyarrow as pa

from boilerfront.model.variables import FAMILIES
from boilerfront.results.schema import digits_of, kept_by, metadata_of, unit_of

SITE_MARK = "@"
"""Between a column's name and its site, where a sweep has several."""
MARKERS = ("circle", "triangle", "square", "diamond", "inverted_triangle", "hex", "star", "plus")
"""Shapes that stay apart when small and without colour; more families than shapes begin again."""
SERIES = 8
"""Colours for families and choices that the style sheet names, `--series-0` and on."""

_NOMINAL = "_nominal"
_MARGIN = "margin_"


@dataclass(frozen=True)
class Label:
    """A column as a person reads it: `name` is what `query` takes, `text` what it means, `source` whose limit."""

    name: str
    label: str
    unit: str
    digits: int
    group: str
    text: str
    source: str
    kept_by: str | None
    kind: str

    @property
    def with_unit(self) -> str:
        """Return the label with its unit after a comma, as axes have it."""
        return f"{self.label}, {self.unit}" if self.unit else self.label


@dataclass(frozen=True)
class Family:
    """One architecture: its shape, the place of its colour, how many designs of it are shown."""

    name: str
    label: str
    marker: str
    series: int
    count: int


def label_of(field: pa.Field) -> Label:
    """Return a table's column as a person reads it, from the metadata that it carries."""
    metadata = metadata_of(field)
    unit = unit_of(field)
    kinds = {"bool": pa.types.is_boolean, "number": _is_number}
    return Label(
        name=field.name,
        label=plain_words(field.name, unit),
        unit=unit,
        digits=digits_of(field),
        group=metadata.get("group", ""),
        text=metadata.get("text", ""),
        source=metadata.get("source", ""),
        kept_by=kept_by(field),
        kind=next((kind for kind, is_it in kinds.items() if is_it(field.type)), "text"),
    )


def plain_words(name: str, unit: str) -> str:
    """Return a column's name in words: without its unit, which stands beside it, and with its site after.

    What follows the unit is what the figure is per: `energy_kWh_day` reads 'energy per day'.
    """
    name, _, site = name.partition(SITE_MARK)
    words = name.removeprefix(_MARGIN).removesuffix(_NOMINAL).split("_")
    # Names spell units in plain letters: W/cm² is W_cm2, °C is C.
    spelt = re.findall(r"[A-Za-z]+\d?", unit.replace("²", "2").replace("³", "3"))
    for start in range(1, len(words)):
        if spelt and words[start : start + len(spelt)] == spelt:
            after = words[start + len(spelt) :]
            words = words[:start] + (["per", *after] if after else [])
            break
    return " ".join(words) + (f" ({site})" if site else "")


def families_of(architectures: Iterable[str], shown: Iterable[str]) -> list[Family]:
    """Return the families that a sweep compares, with how many of `shown` each has.

    A family has the same shape and colour in every page: its place is that in the model's list.
    """
    listed = list(shown)
    wanted = {*architectures, *listed}
    places = {name: place for place, name in enumerate((*FAMILIES, *sorted(wanted - {*FAMILIES})))}
    return [
        Family(
            name=name,
            label=name.replace("_", " "),
            marker=MARKERS[place % len(MARKERS)],
            series=place % SERIES,
            count=listed.count(name),
        )
        for name, place in places.items()
        if name in wanted
    ]


def _is_number(kind: pa.DataType) -> bool:
    return bool(pa.types.is_integer(kind) or pa.types.is_floating(kind))
