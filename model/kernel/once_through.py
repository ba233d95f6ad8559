"""Steam from a hot block: water dosed into its channel boils on its way through.

Homogeneous flow in thermal equilibrium, steady at every instant: the cells give heat in the order in which the
water passes them, each at most conductance x superheat, until the water leaves as steam of the dryness asked
for; superheating is left out. The water that stands in the channel is taken as unchanged.
"""

from __future__ import annotations

from boilerfront.model.kernel.arrays import Lanes, Net
from boilerfront.model.kernel.layout import (
    O_DRYNESS,
    O_STEAM_OUT_J,
    P_AMBIENT_PA,
    P_BLOCK_W_K,
    P_DOSE_DRYNESS,
    P_DOSE_KG_S,
    P_INLET_C,
    P_WAND_LOSS,
    P_WAND_M2,
    S_DRY_KG,
    S_DT,
    S_REFILL,
    S_WAND,
    S_WET_KG,
)
from boilerfront.model.kernel.milk import part_used
from boilerfront.model.laws.phase import steam_hole_mass_flux
from boilerfront.model.props.compiled import compiled
from boilerfront.model.props.water import (
    enthalpy,
    evaporation_enthalpy,
    saturation_pressure,
    saturation_temperature,
)
from boilerfront.shared.shapes import Floats

BISECTIONS = 24
HIGHEST_C = 175.0
LEAST_KG_S = 1e-9


@compiled
def wand_passes_kg_s(lane: int, P: Floats, boils_C: float) -> float:
    """Return what the wand's holes pass of steam that was boiled at a temperature."""
    pressure = saturation_pressure(boils_C)
    ambient_Pa = P[P_AMBIENT_PA, lane]
    at_holes = pressure - P[P_WAND_LOSS, lane] * max(pressure - ambient_Pa, 0.0)
    flow: float = P[P_WAND_M2, lane] * steam_hole_mass_flux(at_holes, ambient_Pa, boils_C)
    return flow


@compiled
def available_W(lane: int, net: Net, lanes: Lanes, boils_C: float) -> float:
    """Return what the cells can give to boiling water [W]."""
    available = 0.0
    for cell in range(net.ranges[6], net.ranges[7]):
        available += lanes.P[P_BLOCK_W_K, lane] * max(lanes.T[cell, lane] - boils_C, 0.0)
    return available


@compiled
def dosed_kg_s(lane: int, net: Net, lanes: Lanes, boils_C: float) -> float:
    """Return what the pump doses where water boils at a temperature: its most, or what leaves dry enough."""
    P = lanes.P
    to_boil = enthalpy(boils_C) - enthalpy(P[P_INLET_C, lane])
    per_kg = to_boil + P[P_DOSE_DRYNESS, lane] * evaporation_enthalpy(boils_C)
    dose: float = min(P[P_DOSE_KG_S, lane], available_W(lane, net, lanes, boils_C) / per_kg)
    return max(dose, LEAST_KG_S)


@compiled
def boils_at_C(lane: int, net: Net, lanes: Lanes) -> float:
    """Return where the water in the channel boils [°C]: the wand passes what is dosed, at that pressure."""
    low, high = saturation_temperature(lanes.P[P_AMBIENT_PA, lane]), HIGHEST_C
    for _ in range(BISECTIONS):
        middle = 0.5 * (low + high)
        if wand_passes_kg_s(lane, lanes.P, middle) < dosed_kg_s(lane, net, lanes, middle):
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


@compiled
def take_heat(lane: int, net: Net, lanes: Lanes, boils_C: float, heat_W: float) -> None:
    """Take heat from the cells in the order in which the water passes them."""
    left = heat_W
    for cell in range(net.ranges[6], net.ranges[7]):
        taken = min(left, lanes.P[P_BLOCK_W_K, lane] * max(lanes.T[cell, lane] - boils_C, 0.0))
        lanes.Q[cell, lane] = -taken
        left -= taken


@compiled
def steam_from_block(lane: int, net: Net, lanes: Lanes, out: Floats) -> None:
    """Dose water for the coming step and take its heat from the block's cells."""
    S = lanes.S
    P = lanes.P
    boils_C = boils_at_C(lane, net, lanes)
    flow = dosed_kg_s(lane, net, lanes, boils_C)
    available = available_W(lane, net, lanes, boils_C)
    liquid = enthalpy(boils_C)
    latent = evaporation_enthalpy(boils_C)
    entering = enthalpy(P[P_INLET_C, lane])
    to_boil = liquid - entering
    heat = min(available, flow * (to_boil + latent))
    leaving = entering + heat / flow
    part = part_used(lane, lanes, flow, leaving, out)
    S[S_REFILL, lane] = flow * part
    S[S_WAND, lane] = flow * part
    given = flow * part * S[S_DT, lane]
    S[S_WET_KG, lane] += given
    S[S_DRY_KG, lane] += given * (leaving - liquid) / latent
    out[O_DRYNESS] = S[S_DRY_KG, lane] / S[S_WET_KG, lane]
    out[O_STEAM_OUT_J] += given * leaving
    take_heat(lane, net, lanes, boils_C, heat * part)
