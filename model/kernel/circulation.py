"""Water that circulates by buoyancy between a heat exchanger and its group."""

from __future__ import annotations

from math import sqrt

from boilerfront.model.kernel.layout import (
    N_LOOP_COLD,
    N_LOOP_HOT,
    P_LOOP_FITTINGS,
    P_LOOP_FRICTION,
    P_LOOP_HEIGHT_M,
    S_FLOW0,
    S_FLOW1,
    S_LOOP,
    S_PINNED,
    Lanes,
    Net,
)
from boilerfront.model.laws.external import GRAVITY_M_S2
from boilerfront.model.props.compiled import compiled
from boilerfront.model.props.water import density, viscosity

LEAST_DRIVE_PA = 1e-3


@compiled
def thermosyphon_kg_s(
    hot_C: float, cold_C: float, height_m: float, friction_per_m3: float, fittings_per_m4: float
) -> float:
    """Return the flow [kg/s] at which friction takes up what the lighter column gives.

    g H (rho_cold - rho_hot) = friction mu m / rho + fittings m^2 / rho: `friction_per_m3` = 128 L / (pi d^4)
    of laminar flow (Hagen and Poiseuille), `fittings_per_m4` = K / (2 A^2). No flow where the hot leg is not the
    lighter one.
    """
    mean = 0.5 * (hot_C + cold_C)
    drive = GRAVITY_M_S2 * height_m * (density(cold_C) - density(hot_C))
    if drive <= LEAST_DRIVE_PA:
        return 0.0
    rho = density(mean)
    linear = friction_per_m3 * viscosity(mean) / rho
    square = fittings_per_m4 / rho
    return 2.0 * drive / (linear + sqrt(linear * linear + 4.0 * square * drive))


@compiled
def circulate(lane: int, net: Net, lanes: Lanes) -> None:
    """Set the loop's flow for the coming step; the pump stalls it.

    While the equilibrium is looked for, in steps without end, half of each change is taken: it would swing.
    """
    S = lanes.S
    P = lanes.P
    if S[S_FLOW0, lane] + S[S_FLOW1, lane] > 0.0:
        S[S_LOOP, lane] = 0.0
        return
    flow = thermosyphon_kg_s(
        lanes.T[net.roles[N_LOOP_HOT], lane],
        lanes.T[net.roles[N_LOOP_COLD], lane],
        P[P_LOOP_HEIGHT_M, lane],
        P[P_LOOP_FRICTION, lane],
        P[P_LOOP_FITTINGS, lane],
    )
    S[S_LOOP, lane] = 0.5 * (flow + S[S_LOOP, lane]) if S[S_PINNED, lane] > 0.0 else flow
