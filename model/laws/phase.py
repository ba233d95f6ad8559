"""Change of phase: steam condensing on a tube, water boiling on an element, steam blowing through a hole."""

import math

from boilerfront.model.laws.external import GRAVITY_M_S2
from boilerfront.model.props import water
from boilerfront.model.props.compiled import compiled

LEAST_SUBCOOLING_K = 0.05
CRITICAL_PRESSURE_PA = 22.064e6
MOLAR_MASS_G_MOL = 18.015268
COOPER_EXPONENT = 0.67
ZUBER_CONSTANT = 0.131
STEAM_GAS_CONSTANT_J_KGK = 461.526
STEAM_ISENTROPIC_EXPONENT = 1.135  # of expanding saturated steam, G. Zeuner (1.035 + 0.1 x dryness)
# (2 / (k + 1))^(k / (k - 1)): below this ratio of pressures the flow is choked
CHOKE_RATIO = (2.0 / (STEAM_ISENTROPIC_EXPONENT + 1.0)) ** (
    STEAM_ISENTROPIC_EXPONENT / (STEAM_ISENTROPIC_EXPONENT - 1.0)
)


@compiled
def film_condensation(T_saturation_C: float, T_wall_C: float, D_m: float) -> float:
    """Coefficient [W/m2K] of saturated steam condensing on one horizontal tube, laminar film.

    Source: W. Nusselt (1916) with 0.729 for the tube; heat of condensation with the film's subcooling, h_fg
    + 0.68 c_p dT, after W. M. Rohsenow (1956). Liquid properties at film temperature. Valid for pure steam
    at rest, film Reynolds number below 30. The law rises without limit as the difference vanishes: the
    difference enters with at least 0.05 K, also where the wall is hotter than the steam, a wet wall that
    dries.
    """
    subcooling = max(T_saturation_C - T_wall_C, LEAST_SUBCOOLING_K)
    T_film = T_saturation_C - 0.5 * subcooling
    density = water.density(T_film)
    k = water.conductivity(T_film)
    heat = water.evaporation_enthalpy(T_saturation_C) + 0.68 * water.heat_capacity(T_film) * subcooling
    # h = 0.729 (g rho (rho - rho_g) k^3 h*_fg / (mu dT D))^(1/4)
    weight = GRAVITY_M_S2 * density * (density - water.steam_density(T_saturation_C))
    group = weight * (k * k * k) * heat / (water.viscosity(T_film) * subcooling * D_m)
    return 0.729 * math.sqrt(math.sqrt(group))


@compiled
def cooper_factor(p_Pa: float) -> float:
    """Factor c of M. G. Cooper's h = c q^0.67 (1984) for water on a surface of 1 um roughness (Rp).

    Valid reduced pressure 0.001 to 0.9, 22 kPa to 20 MPa: the pressure is kept inside.
    """
    reduced = min(max(p_Pa / CRITICAL_PRESSURE_PA, 0.001), 0.9)
    # h = 55 p_r^(0.12 - 0.2 log10 Rp) (-log10 p_r)^-0.55 M^-0.5 q^0.67
    by_pressure = math.pow(reduced, 0.12) * math.pow(-math.log10(reduced), -0.55)
    return 55.0 * by_pressure / math.sqrt(MOLAR_MASS_G_MOL)


@compiled
def pool_boiling(p_Pa: float, superheat_K: float) -> float:
    """Coefficient [W/m2K] of nucleate pool boiling against the wall's superheat over saturation [K].

    Source: M. G. Cooper (1984), solved for h with q = h dT: h = c^(1/0.33) dT^(0.67/0.33). Zero without
    superheat. Valid up to the critical heat flux, which the caller has to check.
    """
    superheat = max(superheat_K, 0.0)
    rest = 1.0 - COOPER_EXPONENT
    return math.pow(cooper_factor(p_Pa), 1.0 / rest) * math.pow(superheat, COOPER_EXPONENT / rest)


@compiled
def critical_heat_flux(T_saturation_C: float) -> float:
    """Heat flux [W/m2] at which a large horizontal heater in saturated water burns out.

    Source: N. Zuber (1959) with his constant 0.131 (books also print 0.149).
    """
    steam = water.steam_density(T_saturation_C)
    lift = water.surface_tension(T_saturation_C) * GRAVITY_M_S2 * (water.density(T_saturation_C) - steam)
    # q = 0.131 h_fg rho_g^0.5 (sigma g (rho_f - rho_g))^(1/4)
    speed = math.sqrt(math.sqrt(lift) * steam)
    return ZUBER_CONSTANT * water.evaporation_enthalpy(T_saturation_C) * speed


@compiled
def steam_hole_mass_flux(p_up_Pa: float, p_down_Pa: float, T_sat_C: float) -> float:
    """Mass flux [kg/m2s] of saturated steam through a hole of discharge coefficient 1, absolute pressures.

    Isentropic flow of an ideal gas with k = 1.135 (A. de Saint-Venant and L. Wantzel 1839), 1.3 % below
    homogeneous equilibrium. Choked where p_down is below 0.5774 p_up, continuous there; zero without a
    pressure difference.
    """
    k = STEAM_ISENTROPIC_EXPONENT
    up = max(p_up_Pa, 1.0)
    ratio = min(max(p_down_Pa / up, CHOKE_RATIO), 1.0)
    # G = p (2 k / ((k - 1) R T) (r^(2/k) - r^((k+1)/k)))^(1/2)
    by_ratio = math.pow(ratio, 2.0 / k) - math.pow(ratio, (k + 1.0) / k)
    gas = STEAM_GAS_CONSTANT_J_KGK * (T_sat_C + 273.15)
    return up * math.sqrt(max(2.0 * k / ((k - 1.0) * gas) * by_ratio, 0.0))
