"""Heat transfer from a tube's wall to the water inside it, straight or coiled, from rest to turbulent flow.

Every function is continuous in its arguments: regimes are joined by straight lines in the Reynolds number,
the rule that V. Gnielinski gives for tubes (2300 to 4000) and for coils (critical to 22000). Nusselt numbers
refer to the bore, properties to the bulk temperature; the factor for the viscosity at the wall,
(Pr / Pr_wall)^0.11 to ^0.14, is left out.
"""

import math

from boilerfront.model.props import water
from boilerfront.model.props.compiled import compiled

NUSSELT_AT_REST = 3.66  # fully developed laminar flow, constant wall temperature
RE_LAMINAR = 2300.0
RE_TURBULENT = 4000.0
RE_COIL_TURBULENT = 22000.0


@compiled
def reynolds(mass_flow_kg_s: float, bore_m: float, T_C: float) -> float:
    """Reynolds number 4 |m| / (pi d mu) of water in a round tube, either direction of flow."""
    return 4.0 * abs(mass_flow_kg_s) / (math.pi * bore_m * water.viscosity(T_C))


@compiled
def transition_share(Re: float, Re_low: float, Re_high: float) -> float:
    """Share of the turbulent law: 0 up to Re_low, 1 from Re_high on, linear between."""
    return min(max((Re - Re_low) / (Re_high - Re_low), 0.0), 1.0)


@compiled
def friction_konakov(Re: float) -> float:
    """Darcy friction factor of smooth tubes, turbulent: P. K. Konakov (1946), Re 4000 to 1e6."""
    factor = 1.8 * math.log10(Re) - 1.5
    return 1.0 / (factor * factor)


@compiled
def nusselt_hausen(Re: float, Pr: float, d_over_L: float) -> float:
    """Mean Nusselt number of laminar flow that develops along a straight tube of constant wall temperature.

    Source: H. Hausen (1943). Valid Re < 2300, any Graetz number Re Pr d/L; 3.66 at rest and in long tubes.
    """
    Gz = Re * Pr * d_over_L
    # Nu = 3.66 + 0.0668 Gz / (1 + 0.04 Gz^(2/3))
    return NUSSELT_AT_REST + 0.0668 * Gz / (1.0 + 0.04 * math.pow(Gz, 2.0 / 3.0))


@compiled
def nusselt_gnielinski(Re: float, Pr: float) -> float:
    """Nusselt number of turbulent flow in a long smooth tube.

    Source: V. Gnielinski (1976) with Konakov's friction factor. Valid Re 4000 to 1e6, Pr 0.5 to 2000.
    """
    xi = friction_konakov(Re) / 8.0
    # Nu = (f/8)(Re - 1000) Pr / (1 + 12.7 sqrt(f/8) (Pr^(2/3) - 1))
    return xi * (Re - 1000.0) * Pr / (1.0 + 12.7 * math.sqrt(xi) * (math.pow(Pr, 2.0 / 3.0) - 1.0))


@compiled
def nusselt_straight(Re: float, Pr: float, d_over_L: float) -> float:
    """Mean Nusselt number in a straight tube over all flows.

    Hausen's laminar law up to Re 2300, Gnielinski's from 4000, between them the straight line that V.
    Gnielinski (2013) gives. Valid Re 0 to 1e6, Pr 0.5 to 2000; the turbulent entry factor 1 + (d/L)^(2/3)
    is left out.
    """
    share = transition_share(Re, RE_LAMINAR, RE_TURBULENT)
    laminar = nusselt_hausen(min(Re, RE_LAMINAR), Pr, d_over_L)
    turbulent = nusselt_gnielinski(max(Re, RE_TURBULENT), Pr)
    return laminar + share * (turbulent - laminar)


@compiled
def critical_reynolds_helical(d_over_D: float) -> float:
    """Reynolds number up to which flow in a coil stays laminar: E. F. Schmidt (1967), d/D up to 0.2."""
    # Re_crit = 2300 (1 + 8.6 (d/D)^0.45)
    return RE_LAMINAR * (1.0 + 8.6 * math.pow(d_over_D, 0.45))


@compiled
def nusselt_helical_laminar(Re: float, Pr: float, d_over_D: float) -> float:
    """Mean Nusselt number of laminar flow in a helical coil of constant wall temperature.

    Source: E. F. Schmidt (1967). Valid Re below critical, d/D 0.01 to 0.2; 3.66 at rest. d/D is the bore over
    the mean diameter of the coil. At d/D = 0 it does not become a straight tube: use it for coils only.
    """
    exponent = 0.5 + 0.2903 * math.pow(d_over_D, 0.194)
    # Nu = 3.66 + 0.08 (1 + 0.8 (d/D)^0.9) Re^m Pr^(1/3)
    swirl = 0.08 * (1.0 + 0.8 * math.pow(d_over_D, 0.9))
    return NUSSELT_AT_REST + swirl * math.pow(Re, exponent) * math.pow(Pr, 1.0 / 3.0)


@compiled
def nusselt_helical_turbulent(Re: float, Pr: float, d_over_D: float) -> float:
    """Nusselt number of turbulent flow in a helical coil.

    Source: V. Gnielinski (1986), with the coil's friction factor after B. B. Mishra and S. N. Gupta (1979).
    Valid Re 22000 to 1.5e5, d/D 0.01 to 0.2.
    """
    # xi = 0.3164 Re^-0.25 + 0.03 (d/D)^0.5; Nu = (xi/8) Re Pr / (1 + 12.7 sqrt(xi/8) (Pr^(2/3) - 1))
    xi = (0.3164 * math.pow(Re, -0.25) + 0.03 * math.sqrt(d_over_D)) / 8.0
    return xi * Re * Pr / (1.0 + 12.7 * math.sqrt(xi) * (math.pow(Pr, 2.0 / 3.0) - 1.0))


@compiled
def nusselt_helical(Re: float, Pr: float, d_over_D: float) -> float:
    """Mean Nusselt number in a helical coil over all flows.

    Schmidt's laminar law up to his critical Reynolds number, Gnielinski's turbulent law from 22000, between
    them the straight line that V. Gnielinski (1986) gives. Valid Re 0 to 1.5e5, d/D 0.01 to 0.2.
    """
    Re_critical = critical_reynolds_helical(d_over_D)
    share = transition_share(Re, Re_critical, RE_COIL_TURBULENT)
    laminar = nusselt_helical_laminar(min(Re, Re_critical), Pr, d_over_D)
    turbulent = nusselt_helical_turbulent(max(Re, RE_COIL_TURBULENT), Pr, d_over_D)
    return laminar + share * (turbulent - laminar)
