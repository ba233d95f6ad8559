"""Free convection outside cylinders and walls, in water and in air, and radiation to the surroundings.

Coefficients are in W/m2K of the outer surface. Properties at film temperature. At equal temperatures every
law gives its finite conduction limit (Nu 0.36 for a cylinder, 0.68 for a wall), and the sign of the
difference does not matter.
"""

import math

from boilerfront.model.props import air, water
from boilerfront.model.props.compiled import compiled

GRAVITY_M_S2 = 9.80665
STEFAN_BOLTZMANN_W_M2K4 = 5.670374419e-8  # CODATA 2018


@compiled
def nusselt_horizontal_cylinder(Ra: float, Pr: float) -> float:
    """Mean Nusselt number of a long horizontal cylinder, on its diameter.

    Source: S. W. Churchill and H. H. S. Chu (1975b). Valid Ra up to 1e12, any Pr.
    """
    # Nu = (0.60 + 0.387 Ra^(1/6) / (1 + (0.559/Pr)^(9/16))^(8/27))^2
    by_prandtl = math.pow(1.0 + math.pow(0.559 / Pr, 9.0 / 16.0), 8.0 / 27.0)
    root = 0.60 + 0.387 * math.pow(Ra, 1.0 / 6.0) / by_prandtl
    return root * root


@compiled
def nusselt_vertical_plate(Ra: float, Pr: float) -> float:
    """Mean Nusselt number of a vertical wall, on its height; also a shell much wider than its boundary layer.

    Source: S. W. Churchill and H. H. S. Chu (1975a), the form for all flows. Valid Ra up to 1e12, any Pr.
    """
    # Nu = (0.825 + 0.387 Ra^(1/6) / (1 + (0.492/Pr)^(9/16))^(8/27))^2
    by_prandtl = math.pow(1.0 + math.pow(0.492 / Pr, 9.0 / 16.0), 8.0 / 27.0)
    root = 0.825 + 0.387 * math.pow(Ra, 1.0 / 6.0) / by_prandtl
    return root * root


@compiled
def rayleigh_in_water(T_surface_C: float, T_fluid_C: float, length_m: float) -> float:
    """Rayleigh number g beta |dT| L^3 / (nu alpha) in water at film temperature."""
    T = 0.5 * (T_surface_C + T_fluid_C)
    buoyancy = GRAVITY_M_S2 * water.expansion(T) * abs(T_surface_C - T_fluid_C)
    density = water.density(T)
    # 1 / (nu alpha) = rho^2 c_p / (mu k)
    return (
        buoyancy
        * (length_m * length_m * length_m)
        * (density * density * water.heat_capacity(T) / (water.viscosity(T) * water.conductivity(T)))
    )


@compiled
def rayleigh_in_air(
    T_surface_C: float, T_fluid_C: float, length_m: float, p_Pa: float = air.STANDARD_PRESSURE_PA
) -> float:
    """Rayleigh number g beta |dT| L^3 / (nu alpha) in air of a pressure [Pa], at film temperature."""
    T = 0.5 * (T_surface_C + T_fluid_C)
    buoyancy = GRAVITY_M_S2 * air.expansion(T) * abs(T_surface_C - T_fluid_C)
    diffusion = air.kinematic_viscosity(T, p_Pa) * air.diffusivity(T, p_Pa)
    return buoyancy * (length_m * length_m * length_m) / diffusion


@compiled
def horizontal_cylinder_in_water(T_surface_C: float, T_fluid_C: float, D_m: float) -> float:
    """Free-convection coefficient [W/m2K] of a horizontal cylinder in water: Churchill and Chu (1975b)."""
    T = 0.5 * (T_surface_C + T_fluid_C)
    Ra = rayleigh_in_water(T_surface_C, T_fluid_C, D_m)
    return nusselt_horizontal_cylinder(Ra, water.prandtl(T)) * water.conductivity(T) / D_m


@compiled
def horizontal_cylinder_in_air(
    T_surface_C: float, T_fluid_C: float, D_m: float, p_Pa: float = air.STANDARD_PRESSURE_PA
) -> float:
    """Free-convection coefficient [W/m2K] of a horizontal cylinder in air: Churchill and Chu (1975b).

    `p_Pa` is the air's pressure: thin air carries less.
    """
    T = 0.5 * (T_surface_C + T_fluid_C)
    Ra = rayleigh_in_air(T_surface_C, T_fluid_C, D_m, p_Pa)
    return nusselt_horizontal_cylinder(Ra, air.prandtl(T)) * air.conductivity(T) / D_m


@compiled
def vertical_plate_in_water(T_surface_C: float, T_fluid_C: float, height_m: float) -> float:
    """Free-convection coefficient [W/m2K] of a vertical wall in water: Churchill and Chu (1975a)."""
    T = 0.5 * (T_surface_C + T_fluid_C)
    Ra = rayleigh_in_water(T_surface_C, T_fluid_C, height_m)
    return nusselt_vertical_plate(Ra, water.prandtl(T)) * water.conductivity(T) / height_m


@compiled
def vertical_plate_in_air(T_surface_C: float, T_fluid_C: float, height_m: float) -> float:
    """Free-convection coefficient [W/m2K] of a vertical wall in air: Churchill and Chu (1975a)."""
    T = 0.5 * (T_surface_C + T_fluid_C)
    Ra = rayleigh_in_air(T_surface_C, T_fluid_C, height_m)
    return nusselt_vertical_plate(Ra, air.prandtl(T)) * air.conductivity(T) / height_m


@compiled
def radiation_coefficient(emissivity: float, T_C: float, T_around_C: float) -> float:
    """Radiation coefficient [W/m2K] of a small grey body in large surroundings: J. Stefan, L. Boltzmann.

    Exact for the flux: times (T - T_around) it is emissivity sigma (T^4 - T_around^4).
    """
    T_K = T_C + 273.15
    around_K = T_around_C + 273.15
    return emissivity * STEFAN_BOLTZMANN_W_M2K4 * (T_K * T_K + around_K * around_K) * (T_K + around_K)
