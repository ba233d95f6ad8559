"""The steam boiler of a lane: its level, how much of a coil is immersed, its heat capacity."""

from __future__ import annotations

from boilerfront.model.kernel.arrays import Lanes, Net
from boilerfront.model.kernel.layout import (
    N_STEAM,
    O_LEVEL_LOW,
    P_HELIX_HEIGHT_M,
    P_IMMERSED_FACTOR,
    P_STEAM_HEIGHT_M,
    P_STEAM_M3,
    S_LEVEL,
    S_READY,
    S_SHARE,
    S_STEAM_KG,
    S_STEAM_SEEN_C,
    S_STEAM_SEEN_KG,
    S_STEAM_UM,
)
from boilerfront.model.kernel.steam import immersed_share, weigh
from boilerfront.model.props.compiled import compiled
from boilerfront.shared.shapes import Floats

MOVED_K = 0.02


@compiled
def look_at_steam(lane: int, net: Net, lanes: Lanes, out: Floats) -> None:
    """Weigh the boiler anew where it has moved, and note its lowest level."""
    S = lanes.S
    t = lanes.T[net.roles[N_STEAM], lane]
    if abs(t - S[S_STEAM_SEEN_C, lane]) > MOVED_K or S[S_STEAM_KG, lane] != S[S_STEAM_SEEN_KG, lane]:
        weigh_steam(lane, net, lanes)
    if S[S_READY, lane] >= 0.0:
        level = S[S_LEVEL, lane]
        out[O_LEVEL_LOW] = min(out[O_LEVEL_LOW], level) if out[O_LEVEL_LOW] > 0.0 else level


@compiled
def weigh_steam(lane: int, net: Net, lanes: Lanes) -> None:
    """Take level, immersed share and heat capacity from the boiler's temperature and mass."""
    S = lanes.S
    P = lanes.P
    node = net.roles[N_STEAM]
    t = lanes.T[node, lane]
    mass = S[S_STEAM_KG, lane]
    S[S_STEAM_SEEN_C, lane] = t
    S[S_STEAM_SEEN_KG, lane] = mass
    level, added_J_kg, heat_J_K = weigh(t, mass, P[P_STEAM_M3, lane])
    S[S_LEVEL, lane] = level
    share = immersed_share(level, P[P_STEAM_HEIGHT_M, lane], P[P_HELIX_HEIGHT_M, lane])
    S[S_SHARE, lane] = min(share * P[P_IMMERSED_FACTOR, lane], 1.0)
    S[S_STEAM_UM, lane] = added_J_kg
    lanes.C[node, lane] = heat_J_K
