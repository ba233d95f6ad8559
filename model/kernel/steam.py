"""The two-phase vessel: what temperature and mass say about level, energy and the wand's flow."""

from __future__ import annotations

from boilerfront.model.props.compiled import compiled
from boilerfront.model.props.water import density, liquid_energy, steam_density, steam_energy


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
