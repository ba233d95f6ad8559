"""What a design costs: lines of parts by the price book, assembly apart."""

from __future__ import annotations

from dataclasses import dataclass

from boilerfront.model.assemblies.plant import Plant
from boilerfront.model.prices import ITEMS, PriceBook


@dataclass(frozen=True)
class Line:
    """One line of the bill: quantity in `unit`, price for one unit, cost in the book's currency."""

    item: str
    quantity: float
    unit: str
    price: float

    @property
    def cost(self) -> float:
        """Return what the line costs."""
        return self.quantity * self.price


def part_lines(plant: Plant, book: PriceBook) -> list[Line]:
    """Return the lines of parts, those that the design has none of left out."""
    return [
        Line(item, quantity, ITEMS[item], book.prices[item])
        for item, quantity in plant.parts
        if quantity > 0.0
    ]


def assembly_line(plant: Plant, book: PriceBook) -> Line:
    """Return the line of assembly."""
    return Line("labour", plant.assembly_minutes, ITEMS["labour"], book.prices["labour"])
