"""Water that circulates by buoyancy between a heat exchanger and its group."""

from __future__ import annotations

from math import sqrt

from boilerfront.model.kernel.arrays import Lanes, Net
from boilerfront.model.kernel.layout import (
    N_LOOP_COLD,
    N_LOOP_HOT,
    P_LOOP_FITTINGS,
    P_LOOP_FRICTION,
    P_LOOP_HEIGHT_M,
    S_DT,
    S_FLOW0,
    S_FLOW1,
    S_LOOP,
    S_LOOP_DRIVE_PA,
    S_LOOP_DT,
    S_PINNED,
)
from boilerfront.model.laws.external import GRAVITY_M_S2
from boilerfront.model.props.compiled import compiled
from boilerfront.model.props.water import density, viscosity

LEAST_DRIVE_PA = 1e-3


@compiled
def drive_Pa(hot_C: float, cold_C: float, height_m: float) -> float:
    """Return what the lighter column gives: g H (rho_cold - rho_hot), below 0 where the hot leg is heavier."""
    drive: float = GRAVITY_M_S2 * height_m * (density(cold_C) - density(hot_C))
    return drive


@compiled
def driven_kg_s(drive: float, mean_C: float, friction_per_m3: float, fittings_per_m4: float) -> float:
    """Return the flow [kg/s] at which friction takes up a drive [Pa].

    drive = friction mu m / rho + fittings m^2 / rho: `friction_per_m3` = 128 L / (pi d^4) of laminar flow (Hagen and
    Poiseuille), `fittings_per_m4` = K / (2 A^2). No flow against the drive.
    """
    if drive <= LEAST_DRIVE_PA:
        return 0.0
    rho = density(mean_C)
    linear = friction_per_m3 * viscosity(mean_C) / rho
    square = fittings_per_m4 / rho
    return 2.0 * drive / (linear + sqrt(linear * linear + 4.0 * square * drive))


@compiled
def mean_above_0(start: float, end: float) -> float:
    """Return the mean of a linear course from `start` to `end`, taken as 0 where it is below."""
    high, low = max(start, end), min(start, end)
    if high <= 0.0:
        return 0.0
    return 0.5 * (high + low) if low >= 0.0 else 0.5 * high * high / (high - low)


@compiled
def loop_drive_Pa(lane: int, net: Net, lanes: Lanes) -> float:
    """Return the present drive of a lane's loop."""
    hot_C, cold_C = lanes.T[net.roles[N_LOOP_HOT], lane], lanes.T[net.roles[N_LOOP_COLD], lane]
    drive: float = drive_Pa(hot_C, cold_C, lanes.P[P_LOOP_HEIGHT_M, lane])
    return drive


@compiled
def loop_flow_kg_s(lane: int, net: Net, lanes: Lanes, drive: float) -> float:
    """Return what a drive [Pa] moves through a lane's loop."""
    P = lanes.P
    mean_C = 0.5 * (lanes.T[net.roles[N_LOOP_HOT], lane] + lanes.T[net.roles[N_LOOP_COLD], lane])
    flow: float = driven_kg_s(drive, mean_C, P[P_LOOP_FRICTION, lane], P[P_LOOP_FITTINGS, lane])
    return flow


@compiled
def circulate(lane: int, net: Net, lanes: Lanes) -> None:
    """Set the loop's flow for the coming step; the pump stalls it.

    A step takes the mean of what drives within it, on a line extrapolated from the step before (second order, as
    Adams and Bashforth do): where the loop starts within a step, the part from then on. The first one after the pump
    takes the drive of its start. While the equilibrium is looked for, in steps without end, half of each change is
    taken: it would swing.
    """
    S = lanes.S
    if S[S_FLOW0, lane] + S[S_FLOW1, lane] > 0.0:
        S[S_LOOP, lane] = 0.0
        S[S_LOOP_DT, lane] = 0.0
        return
    drive = loop_drive_Pa(lane, net, lanes)
    if S[S_PINNED, lane] > 0.0:
        S[S_LOOP, lane] = 0.5 * (loop_flow_kg_s(lane, net, lanes, drive) + S[S_LOOP, lane])
        return
    end = drive
    if S[S_LOOP_DT, lane] > 0.0:
        end += S[S_DT, lane] * (drive - S[S_LOOP_DRIVE_PA, lane]) / S[S_LOOP_DT, lane]
    S[S_LOOP, lane] = loop_flow_kg_s(lane, net, lanes, mean_above_0(drive, end))
    S[S_LOOP_DRIVE_PA, lane] = drive
    S[S_LOOP_DT, lane] = S[S_DT, lane]
