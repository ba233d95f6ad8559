"""Milk at the wand: a fixed heat, given by steam that condenses in it."""

from __future__ import annotations

from boilerfront.model.kernel.arrays import Lanes
from boilerfront.model.kernel.layout import (
    O_STEAM_TIME_S,
    P_AMBIENT_PA,
    P_MILK_FROM_C,
    P_MILK_J,
    P_MILK_TO_C,
    P_WAND_LOSS,
    P_WAND_M2,
    S_DT,
    S_MILK_LEFT,
    S_MODE_T0,
    S_SUB,
    S_TIME,
)
from boilerfront.model.laws.phase import steam_hole_mass_flux
from boilerfront.model.props.compiled import compiled
from boilerfront.model.props.water import enthalpy, saturation_pressure
from boilerfront.shared.shapes import Floats


@compiled
def wand_kg_s(lane: int, lanes: Lanes, steam_C: float, wet_J_kg: float, out: Floats) -> float:
    """Return the mean flow out of a boiler at `steam_C` in this step; the last step ends where the milk is hot."""
    P = lanes.P
    boiler_Pa = saturation_pressure(steam_C)
    ambient_Pa = P[P_AMBIENT_PA, lane]
    at_holes_Pa = boiler_Pa - P[P_WAND_LOSS, lane] * max(boiler_Pa - ambient_Pa, 0.0)
    flow: float = P[P_WAND_M2, lane] * steam_hole_mass_flux(at_holes_Pa, ambient_Pa, steam_C)
    return flow * part_used(lane, lanes, flow, wet_J_kg, out)


@compiled
def part_used(lane: int, lanes: Lanes, flow_kg_s: float, steam_J_kg: float, out: Floats) -> float:
    """Give the milk the heat of this step's steam; return the part of the step until it is hot."""
    S = lanes.S
    P = lanes.P
    given = 1.0 - S[S_MILK_LEFT, lane] / P[P_MILK_J, lane]
    milk_C = P[P_MILK_FROM_C, lane] + given * (P[P_MILK_TO_C, lane] - P[P_MILK_FROM_C, lane])
    heat = flow_kg_s * (steam_J_kg - enthalpy(milk_C)) * S[S_DT, lane]
    part = 1.0
    if heat >= S[S_MILK_LEFT, lane]:
        part = S[S_MILK_LEFT, lane] / heat
        began = S[S_TIME, lane] - S[S_MODE_T0, lane] + S[S_SUB, lane] * S[S_DT, lane]
        out[O_STEAM_TIME_S] = max(out[O_STEAM_TIME_S], began + part * S[S_DT, lane])
    S[S_MILK_LEFT, lane] = S[S_MILK_LEFT, lane] - heat if part == 1.0 else 0.0
    return part
