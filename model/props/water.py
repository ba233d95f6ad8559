"""Water and steam from 0 to 200 degC, as a kernel can afford them: polynomials and closed forms, no tables.

Liquid is saturated liquid. Water compressed to 12 bar absolute differs from these functions by less than
0.07 % in density, 0.15 % in heat capacity, 0.2 % in viscosity and conductivity (its enthalpy lies about
1 kJ/kg higher). Against IAPWS-IF97 on the saturation line: 0.1 %, viscosity and conductivity 0.5 %, expansion
0.5 % above 5 degC; equations 30 and 31 of region 4 stand as they are. Outside the range every argument is
clamped to the range, so each function is continuous and constant there. Not-a-number gives not-a-number.

Sources: IAPWS R7-97(2012), Industrial Formulation 1997; R12-08 (viscosity); R15-11 (conductivity);
R1-76(2014) (surface tension). Coefficients: water_fits.py.
"""

import math
from math import sqrt

from boilerfront.model.props.compiled import compiled
from boilerfront.model.props.water_fits import (
    CONDUCTIVITY,
    DENSITY,
    ENTHALPY,
    EVAPORATION_ENTHALPY,
    EXPANSION,
    FLUIDITY,
    HEAT_CAPACITY,
    STEAM_DENSITY_BY_PRESSURE,
)

T_LOW_C = 0.0
T_HIGH_C = 200.0
P_LOW_PA = 611.2126774  # saturation at 0 degC, R7-97 eq. 30
P_HIGH_PA = 1554671.86  # saturation at 200 degC
EXPANSION_FLOOR_1_K = 1e-5
CRITICAL_T_K = 647.096

# R7-97 table 34
N1 = 0.11670521452767e4
N2 = -0.72421316703206e6
N3 = -0.17073846940092e2
N4 = 0.12020824702470e5
N5 = -0.32325550322333e7
N6 = 0.14915108613530e2
N7 = -0.48232657361591e4
N8 = 0.40511340542057e6
N9 = -0.23855557567849
N10 = 0.65017534844798e3


@compiled
def _place(T_C: float) -> float:
    """The fits' variable, -1 at 0 degC and 1 at 200 degC."""
    return min(max(T_C, T_LOW_C), T_HIGH_C) / 100.0 - 1.0


@compiled
def density(T_C: float) -> float:
    """Liquid density [kg/m3]."""
    x = _place(T_C)
    c = DENSITY
    return c[0] + x * (c[1] + x * (c[2] + x * (c[3] + x * (c[4] + x * c[5]))))


@compiled
def enthalpy(T_C: float) -> float:
    """Liquid enthalpy [J/kg], zero of IF97 (internal energy of liquid zero at the triple point)."""
    x = _place(T_C)
    c = ENTHALPY
    high = c[5] + x * (c[6] + x * (c[7] + x * c[8]))
    return c[0] + x * (c[1] + x * (c[2] + x * (c[3] + x * (c[4] + x * high))))


@compiled
def heat_capacity(T_C: float) -> float:
    """Liquid heat capacity c_p [J/kgK]: exactly the slope of `enthalpy`."""
    x = _place(T_C)
    c = HEAT_CAPACITY
    high = c[4] + x * (c[5] + x * (c[6] + x * c[7]))
    return c[0] + x * (c[1] + x * (c[2] + x * (c[3] + x * high)))


@compiled
def viscosity(T_C: float) -> float:
    """Liquid dynamic viscosity [Pa s]."""
    x = _place(T_C)
    c = FLUIDITY
    return 1.0 / (c[0] + x * (c[1] + x * (c[2] + x * (c[3] + x * (c[4] + x * c[5])))))


@compiled
def conductivity(T_C: float) -> float:
    """Liquid thermal conductivity [W/mK]."""
    x = _place(T_C)
    c = CONDUCTIVITY
    return c[0] + x * (c[1] + x * (c[2] + x * (c[3] + x * (c[4] + x * c[5]))))


@compiled
def prandtl(T_C: float) -> float:
    """Liquid Prandtl number c_p mu / k."""
    return heat_capacity(T_C) * viscosity(T_C) / conductivity(T_C)


@compiled
def expansion(T_C: float) -> float:
    """Isobaric thermal expansion of the liquid [1/K].

    Water contracts on heating below 4 degC; convection laws want a positive number, so the value is never
    less than 1e-5 1/K, which it reaches near 4.6 degC.
    """
    x = _place(T_C)
    c = EXPANSION
    high = c[4] + x * (c[5] + x * (c[6] + x * c[7]))
    return max(c[0] + x * (c[1] + x * (c[2] + x * (c[3] + x * high))), EXPANSION_FLOOR_1_K)


@compiled
def surface_tension(T_C: float) -> float:
    """Surface tension against steam [N/m], R1-76(2014) eq. 1."""
    tau = 1.0 - (min(max(T_C, T_LOW_C), T_HIGH_C) + 273.15) / CRITICAL_T_K
    return 0.2358 * math.pow(tau, 1.256) * (1.0 - 0.625 * tau)


@compiled
def saturation_pressure(T_C: float) -> float:
    """Saturation pressure [Pa absolute], R7-97 eq. 30."""
    T_K = min(max(T_C, T_LOW_C), T_HIGH_C) + 273.15
    v = T_K + N9 / (T_K - N10)
    a = (v + N1) * v + N2
    b = (N3 * v + N4) * v + N5
    c = (N6 * v + N7) * v + N8
    root = 2.0 * c / (-b + sqrt(b * b - 4.0 * a * c))
    return 1e6 * (root * root) * (root * root)


@compiled
def saturation_temperature(p_Pa: float) -> float:
    """Saturation temperature [degC] at an absolute pressure, R7-97 eq. 31: the inverse of the above."""
    beta = sqrt(sqrt(1e-6 * min(max(p_Pa, P_LOW_PA), P_HIGH_PA)))
    e = (beta + N3) * beta + N6
    f = (N1 * beta + N4) * beta + N7
    g = (N2 * beta + N5) * beta + N8
    d = 2.0 * g / (-f - sqrt(f * f - 4.0 * e * g))
    s = N10 + d
    return 0.5 * (s - sqrt(s * s - 4.0 * (N9 + N10 * d))) - 273.15


@compiled
def steam_density(T_C: float) -> float:
    """Density of saturated steam [kg/m3]: pressure times a polynomial, which stands for 1 / (Z R T)."""
    x = _place(T_C)
    c = STEAM_DENSITY_BY_PRESSURE
    by_pressure = c[0] + x * (c[1] + x * (c[2] + x * (c[3] + x * (c[4] + x * c[5]))))
    return saturation_pressure(T_C) * by_pressure


@compiled
def evaporation_enthalpy(T_C: float) -> float:
    """Enthalpy of evaporation h_fg [J/kg]."""
    x = _place(T_C)
    c = EVAPORATION_ENTHALPY
    return c[0] + x * (c[1] + x * (c[2] + x * (c[3] + x * (c[4] + x * c[5]))))


@compiled
def steam_enthalpy(T_C: float) -> float:
    """Enthalpy of saturated steam h_g [J/kg]."""
    return enthalpy(T_C) + evaporation_enthalpy(T_C)


@compiled
def liquid_energy(T_C: float) -> float:
    """Internal energy of saturated liquid u_f = h - p / rho [J/kg]."""
    return enthalpy(T_C) - saturation_pressure(T_C) / density(T_C)


@compiled
def steam_energy(T_C: float) -> float:
    """Internal energy of saturated steam u_g = h - p / rho [J/kg]."""
    return steam_enthalpy(T_C) - saturation_pressure(T_C) / steam_density(T_C)
