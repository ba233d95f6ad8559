"""The group: what temperature it settles at, how well its passage equalises the water."""

from __future__ import annotations

from math import exp, pi
from typing import NamedTuple

from boilerfront.model.design import Design
from boilerfront.model.laws.external import horizontal_cylinder_in_air, radiation_coefficient
from boilerfront.model.laws.friction import tube_pressure_drop
from boilerfront.model.laws.internal import nusselt_hausen, reynolds
from boilerfront.model.machine import Group
from boilerfront.model.props.compiled import compiled
from boilerfront.model.props.water import conductivity, heat_capacity, prandtl

CELLS = 3
BISECTIONS = 40


class Surface(NamedTuple):
    """What decides the group's loss."""

    area_m2: float
    emissivity: float
    diameter_m: float
    portafilter_W_K: float
    portafilter_m2: float
    air_Pa: float


def link_W_K(design: Design, data: Group) -> float:
    """Return the conductance from the water at the brew vessel's outlet to the group, its film included [W/K]."""
    return data.saturated_W_K if design.saturated else data.bolted_W_K


@compiled
def surface_film(T_C: float, room_C: float, surface: Surface) -> float:
    """Return convection and radiation of a surface of the group [W/m2K]."""
    convection = horizontal_cylinder_in_air(T_C, room_C, surface.diameter_m, surface.air_Pa)
    return convection + radiation_coefficient(surface.emissivity, T_C, room_C)


@compiled
def loss_W(T_C: float, room_C: float, surface: Surface) -> float:
    """Return what the group loses at a temperature [W], by its own surface and through the portafilter."""
    film = surface_film(T_C, room_C, surface)
    own = surface.area_m2 * film * (T_C - room_C)
    portafilter = T_C
    for _ in range(4):
        film = surface_film(portafilter, room_C, surface)
        outside = surface.portafilter_m2 * film
        portafilter = (surface.portafilter_W_K * T_C + outside * room_C) / (surface.portafilter_W_K + outside)
    return own + surface.portafilter_W_K * (T_C - portafilter)


def surface(data: Group, *, locked: bool, air_Pa: float) -> Surface:
    """Return what decides the loss; a portafilter that is not locked in while idling takes nothing."""
    joint = data.portafilter_W_K if locked else 0.0
    return Surface(
        data.area_m2, data.emissivity, 1e-3 * data.diameter_mm, joint, data.portafilter_area_m2, air_Pa
    )


@compiled
def reach_C(
    link: float, heater_W: float, brew_C: float, set_C: float, room_C: float, surface: Surface
) -> float:
    """Return the temperature that the group can reach beside brew water at `brew_C`; `link` in W/K.

    The root of UA (brew_C - T) + P(T) - loss(T) = 0, P being the heater's full power below its set-point and
    nothing above: found by bisection, unless the heater holds its set-point.
    """
    at_set = link * (brew_C - set_C) - loss_W(set_C, room_C, surface)
    if at_set <= 0.0 < at_set + heater_W:
        return set_C
    low, high = room_C, brew_C + 100.0
    for _ in range(BISECTIONS):
        middle = 0.5 * (low + high)
        heater = heater_W if middle < set_C else 0.0
        if link * (brew_C - middle) + heater - loss_W(middle, room_C, surface) > 0.0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def passage_effectiveness(flow_kg_s: float, T_C: float, data: Group) -> float:
    """Return 1 - exp(-NTU) of the passage in steady flow."""
    bore = 1e-3 * data.bore_mm
    film = nusselt_hausen(reynolds(flow_kg_s, bore, T_C), prandtl(T_C), bore / data.length_m)
    conductance = film * conductivity(T_C) / bore * passage_area_m2(data)
    return 1.0 - exp(-conductance / (flow_kg_s * heat_capacity(T_C)))


def passage_area_m2(data: Group) -> float:
    """Return the passage's heat transfer area [m2]."""
    return data.area_factor * pi * 1e-3 * data.bore_mm * data.length_m


def passage_m3(data: Group) -> float:
    """Return the passage's hold-up [m3]."""
    return pi / 4.0 * (1e-3 * data.bore_mm) ** 2 * data.length_m


def passage_pressure_drop_Pa(flow_kg_s: float, T_C: float, data: Group) -> float:
    """Return the pressure drop of the passage [Pa]: its straight bore, no restrictor."""
    return tube_pressure_drop(flow_kg_s, 1e-3 * data.bore_mm, data.length_m, 0.0, T_C)
