"""Wall thicknesses of pressure vessels for sizing and cost. None of this is a code calculation.

Pressures are gauge, stresses and pressures in Pa, lengths in m. A zero or negative pressure needs no wall.
"""

import math


def hoop_stress(p_Pa: float, *, mean_diameter_m: float, wall_m: float) -> float:
    """Hoop stress [Pa] of a thin cylinder, p D / (2 t); the axial stress is half of it."""
    return p_Pa * mean_diameter_m / (2.0 * wall_m)


def shell_wall(p_Pa: float, *, inner_radius_m: float, stress_Pa: float, joint: float) -> float:
    """Wall [m] of a cylindrical shell: ASME VIII-1 UG-27(c)(1), t = p R / (S E - 0.6 p).

    Valid t <= R/2 and p <= 0.385 S E; infinite where the pressure exceeds that.
    """
    if p_Pa > 0.385 * stress_Pa * joint:
        return math.inf
    return max(p_Pa, 0.0) * inner_radius_m / (stress_Pa * joint - 0.6 * p_Pa)


def dished_end_wall(p_Pa: float, *, inner_diameter_m: float, stress_Pa: float, joint: float) -> float:
    """Wall [m] of a 2:1 elliptical end: ASME VIII-1 UG-32, t = p D / (2 S E - 0.2 p).

    Infinite above the shell's limit of pressure, 0.385 S E.
    """
    if p_Pa > 0.385 * stress_Pa * joint:
        return math.inf
    return max(p_Pa, 0.0) * inner_diameter_m / (2.0 * stress_Pa * joint - 0.2 * p_Pa)


def flat_end_wall(p_Pa: float, *, inner_radius_m: float, stress_Pa: float) -> float:
    """Wall [m] of a flat end clamped at its edge, where the stress is 0.75 p (R/t)^2; S. Timoshenko."""
    return inner_radius_m * math.sqrt(0.75 * max(p_Pa, 0.0) / stress_Pa)
