"""Dry air from 0 to 150 degC, for the losses of casings and groups.

Within 0.5 % of E. W. Lemmon et al. (2000, 2004) as CoolProp computes it. Outside the range the argument is
clamped, so each function is continuous and constant there. Density follows the ideal gas law (Z is within
0.1 % of 1); viscosity and conductivity do not depend on pressure at these conditions.
"""

import math

from boilerfront.model.props.compiled import compiled

T_LOW_C = 0.0
T_HIGH_C = 150.0
STANDARD_PRESSURE_PA = 101325.0
GAS_CONSTANT_J_KGK = 287.0474  # 8.314463 J/molK / 28.9654 g/mol
# Least squares over 0..150 degC against CoolProp Air, quadratic in degC, 0.01 % to 0.05 %
CP0 = 1005.7  # J/kgK
CP1 = 0.0137396
CP2 = 0.000416405
MU0 = 1.72234e-05  # Pa s
MU1 = 4.96369e-08
MU2 = -2.88017e-11
K0 = 0.0243662  # W/mK
K1 = 7.60047e-05
K2 = -3.43735e-08


@compiled
def _clamped(T_C: float) -> float:
    """The temperature kept inside the range of the fits [degC]."""
    return min(max(T_C, T_LOW_C), T_HIGH_C)


@compiled
def density(T_C: float, p_Pa: float = STANDARD_PRESSURE_PA) -> float:
    """Density [kg/m3] at an absolute pressure [Pa]."""
    return p_Pa / (GAS_CONSTANT_J_KGK * (_clamped(T_C) + 273.15))


@compiled
def heat_capacity(T_C: float) -> float:
    """Heat capacity c_p [J/kgK]."""
    T = _clamped(T_C)
    return CP0 + T * (CP1 + T * CP2)


@compiled
def viscosity(T_C: float) -> float:
    """Dynamic viscosity [Pa s]."""
    T = _clamped(T_C)
    return MU0 + T * (MU1 + T * MU2)


@compiled
def conductivity(T_C: float) -> float:
    """Thermal conductivity [W/mK]."""
    T = _clamped(T_C)
    return K0 + T * (K1 + T * K2)


@compiled
def kinematic_viscosity(T_C: float, p_Pa: float = STANDARD_PRESSURE_PA) -> float:
    """Kinematic viscosity nu [m2/s] at an absolute pressure [Pa]."""
    return viscosity(T_C) / density(T_C, p_Pa)


@compiled
def diffusivity(T_C: float, p_Pa: float = STANDARD_PRESSURE_PA) -> float:
    """Thermal diffusivity alpha [m2/s] at an absolute pressure [Pa]."""
    return conductivity(T_C) / (density(T_C, p_Pa) * heat_capacity(T_C))


@compiled
def prandtl(T_C: float) -> float:
    """Prandtl number c_p mu / k."""
    return heat_capacity(T_C) * viscosity(T_C) / conductivity(T_C)


@compiled
def expansion(T_C: float) -> float:
    """Thermal expansion of an ideal gas, 1/T [1/K]."""
    return 1.0 / (_clamped(T_C) + 273.15)


@compiled
def pressure_at_altitude(altitude_m: float) -> float:
    """Pressure of the standard atmosphere [Pa] at an altitude [m].

    Source: ISO 2533:1975. Valid -1000 to 11000 m, clamped there.
    """
    height_m = min(max(altitude_m, -1000.0), 11000.0)
    # p = p0 (1 - L h / T0)^(g / (R L)) with L = 6.5 K/km, T0 = 288.15 K
    return STANDARD_PRESSURE_PA * math.pow(1.0 - 0.0065 * height_m / 288.15, 5.25588)
