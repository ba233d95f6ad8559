"""The price book: what a part costs by piece, metre, litre, watt or square metre.

A book is a CSV file with the columns item, unit, price, note, and its currency and date in comment lines.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Annotated, Self

from pydantic import Field, model_validator

from boilerfront.shared.errors import Fault, InputError
from boilerfront.shared.schema import Section, validated

LABOUR = "labour"
"""The item of assembly, which counts apart from the parts."""
ITEMS: dict[str, str] = {
    "vessel_stainless": "L",
    "vessel_copper": "L",
    "vessel_lead_free_brass": "L",
    "vessel_piece": "piece",
    "end_dished": "piece",
    "end_flat": "piece",
    "element": "W",
    "element_piece": "piece",
    "group_heater_piece": "piece",
    "coil_tube_stainless": "m",
    "coil_tube_copper": "m",
    "coil_piece": "piece",
    "block": "kg",
    "block_channel": "m",
    "block_piece": "piece",
    "exchanger_tube_stainless": "m",
    "exchanger_tube_copper": "m",
    "exchanger_piece": "piece",
    "thermosyphon_pipe": "m",
    "insulation": "m2",
    "insulation_thickness": "m2 mm",
    "sensor": "piece",
    "valve": "piece",
    "safety_valve": "piece",
    "level_probe": "piece",
    "thermal_cut_out": "piece",
    "controller": "piece",
    "flow_meter": "piece",
    "pump": "piece",
    "pump_rotary": "piece",
    "group_bolted": "piece",
    "group_saturated": "piece",
    "wand": "piece",
    LABOUR: "minute",
}
"""Every item a book must price, and the unit that its price is for."""


class PriceBook(Section):
    """Prices by item, in one currency."""

    currency: Annotated[str, Field(min_length=1, max_length=20)] = "EUR"
    date: str = ""
    note: str = ""
    prices: dict[str, Annotated[float, Field(ge=0)]]

    @model_validator(mode="after")
    def _complete(self) -> Self:
        missing = [item for item in ITEMS if item not in self.prices]
        unknown = [item for item in self.prices if item not in ITEMS]
        if missing or unknown:
            raise ValueError(f"a price for each item; missing: {missing}, unknown: {unknown}")
        return self


def read_price_book(path: Path) -> PriceBook:
    """Return the book at `path`; raises `InputError` with every fault of the file."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError([Fault(str(path), f"no readable file ({error})", "a price book in UTF-8")]) from None
    heading = dict(map(_heading, filter(_is_heading, text.splitlines())))
    rows = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    faults, prices = _prices(path, list(csv.reader(rows)))
    if faults:
        raise InputError(faults)
    known: dict[str, object] = {key: heading[key] for key in ("currency", "date", "note") if key in heading}
    return validated(PriceBook, {**known, "prices": prices}, where=str(path))


def _is_heading(line: str) -> bool:
    return line.startswith("#") and ":" in line


def _heading(line: str) -> tuple[str, str]:
    key, _, value = line[1:].partition(":")
    return key.strip(), value.strip()


def _prices(path: Path, rows: list[list[str]]) -> tuple[list[Fault], dict[str, float]]:
    faults: list[Fault] = []
    prices: dict[str, float] = {}
    if not rows or rows[0] != ["item", "unit", "price", "note"]:
        return [Fault(str(path), repr(rows[0] if rows else ""), "the header item,unit,price,note")], {}
    for row in rows[1:]:
        where = f"{path}: {row[0]}"
        if row[0] not in ITEMS:
            faults.append(Fault(where, "an unknown item", "one of " + ", ".join(ITEMS)))
        elif row[0] in prices:
            faults.append(Fault(where, "a second price", "one price an item"))
        elif len(row) != 4 or row[1] != ITEMS[row[0]]:
            faults.append(Fault(where, repr(row[1:]), f"unit {ITEMS[row[0]]}, price, note"))
        else:
            prices[row[0]] = _price(row[2], where, faults)
    missing = [item for item in ITEMS if item not in {row[0] for row in rows[1:]}]
    faults += [Fault(f"{path}: {item}", "nothing", f"a price per {ITEMS[item]}") for item in missing]
    return faults, prices


def _price(text: str, where: str, faults: list[Fault]) -> float:
    try:
        price = float(text)
    except ValueError:
        price = -1.0
    if not 0 <= price < 1e6:
        faults.append(Fault(where, repr(text), "a price of 0 or more"))
    return price
