"""Friction and pressure drop of water in straight and coiled smooth tubes. Darcy's factor everywhere."""

import math

from boilerfront.model.laws.internal import (
    RE_COIL_TURBULENT,
    RE_LAMINAR,
    RE_TURBULENT,
    critical_reynolds_helical,
    friction_konakov,
    reynolds,
    transition_share,
)
from boilerfront.model.props import water
from boilerfront.model.props.compiled import compiled

RE_LEAST = 1e-9  # 64 / Re stays finite at rest, where the pressure drop is zero all the same
DEAN_STRAIGHT = 11.6


@compiled
def friction_straight(Re: float) -> float:
    """Darcy friction factor of a smooth straight tube over all flows.

    64/Re (G. Hagen 1839, J. Poiseuille 1840) up to Re 2300, P. K. Konakov (1946) from 4000 to 1e6, linear
    in Re between.
    """
    share = transition_share(Re, RE_LAMINAR, RE_TURBULENT)
    laminar = 64.0 / min(max(Re, RE_LEAST), RE_LAMINAR)
    return laminar + share * (friction_konakov(max(Re, RE_TURBULENT)) - laminar)


@compiled
def friction_helical_laminar(Re: float, d_over_D: float) -> float:
    """Darcy friction factor of laminar flow in a helical coil.

    Source: C. M. White (1929). Valid for Dean numbers Re (d/D)^0.5 of 11.6 to 2000; below that as straight.
    """
    Dean = max(Re * math.sqrt(d_over_D), DEAN_STRAIGHT)
    # f_straight / f = 1 - (1 - (11.6 / De)^0.45)^(1 / 0.45)
    straight_share = 1.0 - math.pow(1.0 - math.pow(DEAN_STRAIGHT / Dean, 0.45), 1.0 / 0.45)
    return 64.0 / max(Re, RE_LEAST) / straight_share


@compiled
def friction_helical_turbulent(Re: float, d_over_D: float) -> float:
    """Darcy friction factor of turbulent flow in a smooth helical coil, never below the straight tube's.

    Source: Y. Mori and W. Nakayama (1967). Valid Re (d/D)^2 above 6, Re up to 1.5e5.
    """
    s = math.pow(Re * d_over_D * d_over_D, -0.2)
    # f = 0.3 (d/D)^0.5 s (1 + 0.112 s), s = (Re (d/D)^2)^-0.2
    return max(0.3 * math.sqrt(d_over_D) * s * (1.0 + 0.112 * s), friction_konakov(Re))


@compiled
def friction_helical(Re: float, d_over_D: float) -> float:
    """Darcy friction factor in a helical coil over all flows.

    White's laminar law up to the critical Reynolds number, the law of Mori and Nakayama from 22000; between
    them both are mixed with a share linear in Re, as for heat transfer. Valid d/D 0.01 to 0.2, Re up to
    1.5e5.
    """
    Re_critical = critical_reynolds_helical(d_over_D)
    share = transition_share(Re, Re_critical, RE_COIL_TURBULENT)
    laminar = friction_helical_laminar(min(Re, RE_COIL_TURBULENT), d_over_D)
    return laminar + share * (friction_helical_turbulent(max(Re, Re_critical), d_over_D) - laminar)


@compiled
def tube_pressure_drop(
    mass_flow_kg_s: float, bore_m: float, length_m: float, d_over_D: float, T_C: float
) -> float:
    """Pressure drop [Pa] of water through a tube, never negative; `d_over_D` = 0 means a straight tube.

    Source: H. Darcy and J. Weisbach, dp = f (L/d) rho w^2 / 2, without inlet and outlet losses.
    """
    Re = reynolds(mass_flow_kg_s, bore_m, T_C)
    factor = friction_helical(Re, d_over_D) if d_over_D > 0.0 else friction_straight(Re)
    density = water.density(T_C)
    speed = 4.0 * mass_flow_kg_s / (math.pi * bore_m * bore_m * density)
    return factor * length_m / bore_m * density * speed * speed / 2.0
