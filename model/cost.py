"""What a design costs: lines of parts by the price book, assembly apart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.assemblies.plant import Plant
from boilerfront.model.brief import Brief
from boilerfront.model.design import read_design
from boilerfront.model.prices import ITEMS, LABOUR, PriceBook
from boilerfront.model.variables import Value


@dataclass(frozen=True)
class Line:
    """One line of the bill: quantity in `unit`, price for one unit, cost in the book's currency; `of` see `Part`."""

    item: str
    quantity: float
    unit: str
    price: float
    of: str = ""

    @property
    def cost(self) -> float:
        """Return what the line costs."""
        return self.quantity * self.price


def part_lines(plant: Plant, book: PriceBook) -> list[Line]:
    """Return the lines of parts, those that the design has none of left out."""
    return [
        Line(item, quantity, ITEMS[item], book.prices[item], of)
        for item, quantity, of in plant.parts
        if quantity > 0.0
    ]


def assembly_line(plant: Plant, book: PriceBook) -> Line:
    """Return the line of assembly."""
    return Line(LABOUR, plant.assembly_minutes, ITEMS[LABOUR], book.prices[LABOUR])


def plant_of(values: Mapping[str, Value], brief: Brief) -> Plant:
    """Return what a design given by public names is built as, for its bill; raises `InputError` for none."""
    design = read_design(values, brief.machine)
    return ARCHITECTURES[design.architecture].build(design, brief)
