"""Prints model/props/water_fits.py: polynomials fitted to IAPWS-IF97 along the saturation line.

    python tests/references/make_water_fits.py > model/props/water_fits.py

Sources: IAPWS R7-97(2012) regions 1, 2 and 4, R12-08 (viscosity) and R15-11 (conductivity) without their
critical terms, all as the package `iapws` computes them.
"""

import numpy as np
import numpy.typing as npt
from iapws._iapws import _ThCond, _Viscosity
from iapws.iapws97 import _PSat_T, _Region1, _Region2

Array = npt.NDArray[np.float64]

NODES = 401
# dh_f/dT exceeds c_p by v (1 - beta T) dp_sat/dT, 0.3 % at 200 degC. The fitted enthalpy takes this excess
# up to this share of c_p: then both h_f and c_p stay within 0.1 % of IF97, with c_p = dh/dT exactly.
LARGEST_EXCESS = 1.5e-4


def saturation_line() -> dict[str, Array]:
    """Saturated water and steam in SI at the Chebyshev nodes of 0..200 degC; x = T_C / 100 - 1."""
    x = np.cos(np.pi * (np.arange(NODES) + 0.5) / NODES)
    T_K = 100.0 * (x + 1.0) + 273.15
    p_MPa = [_PSat_T(T) for T in T_K]
    liquid = [_Region1(T, p) for T, p in zip(T_K, p_MPa, strict=True)]
    steam = [_Region2(T, p) for T, p in zip(T_K, p_MPa, strict=True)]
    density = np.array([1.0 / state["v"] for state in liquid])
    return {
        "x": x,
        "T_K": T_K,
        "p": 1e6 * np.array(p_MPa),
        "density": density,
        "heat_capacity": np.array([1e3 * state["cp"] for state in liquid]),
        "enthalpy": np.array([1e3 * state["h"] for state in liquid]),
        "expansion": np.array([state["alfav"] for state in liquid]),
        "viscosity": np.array([_Viscosity(rho, T) for rho, T in zip(density, T_K, strict=True)]),
        "conductivity": np.array([_ThCond(rho, T) for rho, T in zip(density, T_K, strict=True)]),
        "steam_enthalpy": np.array([1e3 * state["h"] for state in steam]),
        "steam_density": np.array([1.0 / state["v"] for state in steam]),
    }


def fit(x: Array, y: Array, degree: int, *, floor: float = 0.0) -> Array:
    """Least squares of the relative error; `floor` is the least value that the error is taken relative to."""
    weight = 1.0 / np.maximum(np.abs(y), floor)
    return np.asarray(np.polynomial.polynomial.polyfit(x, y, degree, w=weight), dtype=np.float64)


def fits() -> dict[str, tuple[str, Array]]:
    """Name -> (comment, coefficients of x^0, x^1, ...)."""
    line = saturation_line()
    x = line["x"]
    slope_of_pressure = np.gradient(line["p"], line["T_K"], edge_order=2)
    excess = (1.0 - line["expansion"] * line["T_K"]) / line["density"] * slope_of_pressure
    cp = line["heat_capacity"]
    slope = fit(x, cp + np.minimum(excess, LARGEST_EXCESS * cp), 7)
    enthalpy = np.asarray(100.0 * np.polynomial.polynomial.polyint(slope), dtype=np.float64)
    triple_point_J_kg = 0.611783  # h_f(0.01 degC), R7-97
    enthalpy[0] = triple_point_J_kg - np.polynomial.polynomial.polyval(0.01 / 100.0 - 1.0, enthalpy)
    return {
        "DENSITY": ("liquid density, kg/m3", fit(x, line["density"], 5)),
        "ENTHALPY": ("liquid enthalpy, J/kg", enthalpy),
        "HEAT_CAPACITY": ("its slope, J/kgK", slope),
        "FLUIDITY": ("1 / viscosity, 1/(Pa s)", fit(x, 1.0 / line["viscosity"], 5)),
        "CONDUCTIVITY": ("W/mK", fit(x, line["conductivity"], 5)),
        "EXPANSION": ("isobaric, 1/K", fit(x, line["expansion"], 7, floor=2e-4)),
        "EVAPORATION_ENTHALPY": ("J/kg", fit(x, line["steam_enthalpy"] - line["enthalpy"], 5)),
        "STEAM_DENSITY_BY_PRESSURE": ("kg/m3 per Pa", fit(x, line["steam_density"] / line["p"], 5)),
    }


def module_text() -> str:
    """The whole text of the constants module."""
    lines = [
        '"""Coefficients in x = T_C / 100 - 1, lowest power first, valid 0 to 200 degC, saturation line.',
        "",
        "Made by tests/references/make_water_fits.py from IAPWS R7-97(2012), R12-08 and R15-11.",
        '"""',
    ]
    for name, (comment, coefficients) in fits().items():
        lines += ["", f"# {comment}", f"{name} = ("]
        lines += [f"    {float(c):.11e},".replace("e+", "e") for c in coefficients]
        lines.append(")")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(module_text(), end="")
