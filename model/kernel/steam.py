"""The two-phase vessel: what temperature and mass say about level, energy and the wand's flow."""

from __future__ import annotations

import numpy as np

from boilerfront.model.props.compiled import compiled, compiled_making_arrays
from boilerfront.model.props.water import T_HIGH_C, density, liquid_energy, steam_density, steam_energy
from boilerfront.shared.shapes import Floats

PER_K = 2
"""Points a kelvin of the table that `weigh` reads."""
LEAST_LEVEL, MOST_LEVEL = 0.02, 0.98
"""Beyond these one phase may vanish within the half kelvin over which heat capacity is taken."""


@compiled
def liquid_volume(T_C: float, mass_kg: float, volume_m3: float) -> float:
    """Return the volume of the liquid [m3], between nothing and the whole vessel."""
    rho_g = steam_density(T_C)
    liquid = (mass_kg - volume_m3 * rho_g) / (density(T_C) - rho_g)
    return min(max(liquid, 0.0), volume_m3)


@compiled
def internal_energy(T_C: float, mass_kg: float, volume_m3: float) -> float:
    """Return the internal energy of liquid and vapour at saturation [J], zero of IF97."""
    liquid = liquid_volume(T_C, mass_kg, volume_m3)
    vapour = (volume_m3 - liquid) * steam_density(T_C)
    return liquid * density(T_C) * liquid_energy(T_C) + vapour * steam_energy(T_C)


@compiled
def capacity(T_C: float, mass_kg: float, volume_m3: float) -> float:
    """Return dU/dT at constant mass and volume [J/K]: heating, and evaporating what fills the vapour space."""
    up = internal_energy(T_C + 0.5, mass_kg, volume_m3)
    return up - internal_energy(T_C - 0.5, mass_kg, volume_m3)


@compiled
def energy_of_added_mass(T_C: float) -> float:
    """Return dU/dm at constant temperature and volume [J/kg]: added mass is liquid, less the vapour it displaces."""
    rho_l = density(T_C)
    rho_g = steam_density(T_C)
    return (rho_l * liquid_energy(T_C) - rho_g * steam_energy(T_C)) / (rho_l - rho_g)


@compiled
def immersed_share(level: float, height_m: float, helix_m: float) -> float:
    """Return the part of a helix, centred in the vessel's height, that stands below the level.

    `level` is the liquid's part of the height, `helix_m` the helix' height.
    """
    below = level * height_m - 0.5 * (height_m - helix_m)
    return min(max(below / helix_m, 0.0), 1.0)


@compiled
def energy_of_the_space(T_C: float) -> float:
    """Return what a vessel would hold a volume without mass [J/m3]: U = m x energy_of_added_mass + V x this."""
    rho_g = steam_density(T_C)
    return rho_g * (steam_energy(T_C) - energy_of_added_mass(T_C))


@compiled_making_arrays
def _table() -> Floats:
    """Return what `weigh` reads [points, 5]: densities, energy of added mass, the slopes that make heat capacity."""
    table = np.zeros((int(T_HIGH_C) * PER_K + 1, 5))
    for point in range(table.shape[0]):
        t = point / PER_K
        table[point, 0] = density(t)
        table[point, 1] = steam_density(t)
        table[point, 2] = energy_of_added_mass(t)
        table[point, 3] = energy_of_added_mass(t + 0.5) - energy_of_added_mass(t - 0.5)
        table[point, 4] = energy_of_the_space(t + 0.5) - energy_of_the_space(t - 0.5)
    return table


TABLE = _table()


@compiled
def weigh(T_C: float, mass_kg: float, volume_m3: float) -> tuple[float, float, float]:
    """Return the liquid's part of a vessel, `energy_of_added_mass` and `capacity`, by a table where both phases stay.

    U is linear in mass and volume, so that all follow from five numbers of the temperature. The table is linear
    between its points: within 1e-5 of the functions.
    """
    place = min(max(T_C, 0.0) * PER_K, TABLE.shape[0] - 1.001)
    low = int(place)
    along = place - low
    rho_l = TABLE[low, 0] + along * (TABLE[low + 1, 0] - TABLE[low, 0])
    rho_g = TABLE[low, 1] + along * (TABLE[low + 1, 1] - TABLE[low, 1])
    added = TABLE[low, 2] + along * (TABLE[low + 1, 2] - TABLE[low, 2])
    level = (mass_kg / volume_m3 - rho_g) / (rho_l - rho_g)
    if level < LEAST_LEVEL or level > MOST_LEVEL:
        level = liquid_volume(T_C, mass_kg, volume_m3) / volume_m3
        return level, energy_of_added_mass(T_C), capacity(T_C, mass_kg, volume_m3)
    rise = TABLE[low, 3] + along * (TABLE[low + 1, 3] - TABLE[low, 3])
    space = TABLE[low, 4] + along * (TABLE[low + 1, 4] - TABLE[low, 4])
    return level, added, mass_kg * rise + volume_m3 * space
