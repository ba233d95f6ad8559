"""An immersed element: its sheath in the water of one or several nodes, its circuit and its parts."""

from __future__ import annotations

from boilerfront.model.assemblies.assembly import Assembly
from boilerfront.model.assemblies.plant import Circuit
from boilerfront.model.network.graph import Carry, Store
from boilerfront.model.parts import films
from boilerfront.model.parts.element import Element
from boilerfront.model.parts.tuning import tune
from boilerfront.model.props.water import saturation_temperature

ELEMENT_J_KGK = 800.0
"""Heat capacity of steel sheath and filling [J/kgK] (our judgement): turns an element's capacity into mass."""
SHEATH_AT_K = 10.0
"""Superheat of the sheath at which its lag is rated [K] (our judgement)."""


def add_element(a: Assembly, name: str, element: Element, *, nodes: list[str], boils_at_Pa: float) -> None:
    """Put an element into the water of `nodes`, in equal parts; the water boils at `boils_at_Pa` or above."""
    sheath_m = 1e-3 * a.machine.elements.sheath_mm
    a.node(f"{name}_sheath", Store.SOLID, element.heat_capacity_J_K)
    law = a.law(f"{name}_sheath", nodes[-1], films.sheath_table(sheath_m))
    a.law(f"{name}_boiling", nodes[-1], films.boiling_table(boils_at_Pa))
    for node in nodes:
        area = element.area_m2 / len(nodes)
        a.link(Carry.SHEATH, f"{name}_sheath", node, area, saturation_temperature(boils_at_Pa), law=law)
    a.elements[name] = element
    a.mass_kg += element.heat_capacity_J_K / ELEMENT_J_KGK
    a.buy("element_piece", 1.0, of=name)


def add_circuit(
    a: Assembly,
    name: str,
    element: Element,
    *,
    moved_J_K: float,
    loss_W_K: float,
    lag_s: float,
    water_C: float,
    boils_at_Pa: float,
) -> None:
    """Control an element: `moved_J_K` is all water and metal that its loop moves, `lag_s` its sensor's."""
    sheath_m = 1e-3 * a.machine.elements.sheath_mm
    film = films.sheath_film(water_C, SHEATH_AT_K, sheath_m, boils_at_Pa)
    sheath_lag_s = element.heat_capacity_J_K / (film * element.area_m2)
    loop = tune(moved_J_K + element.heat_capacity_J_K, loss_W_K, lag_s + sheath_lag_s, element.window_s)
    a.heat(name, Circuit(element.power_W, loop, lag_s, element.window_s))
