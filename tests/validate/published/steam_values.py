"""Steam: through holes, in its vessel, into milk."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from CoolProp.CoolProp import PropsSI
from fluids import API520_A_steam
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

from boilerfront.model import ARCHITECTURES
from boilerfront.model.design import read_design
from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.steam import capacity, energy_of_added_mass, internal_energy, liquid_volume
from boilerfront.model.laws import phase
from boilerfront.model.props.water import (
    density,
    saturation_temperature,
    steam_density,
    steam_enthalpy,
)
from boilerfront.model.runs import Pool, Request
from boilerfront.model.tolerances import NOMINAL as MACHINE
from tests.model.random_designs import NOMINAL
from tests.validate.checks import Allowed, Band, Group, Kind, Value

SEA_LEVEL_PA = 101325.0
FORMS = Allowed(relative=0.05, why="between forms of the law")


def steam_groups() -> Iterator[Group]:
    """Make the groups of this file."""
    yield holes()
    yield vessel()


def holes() -> Group:
    """Steam through a hole, choked and not."""
    group = Group("steam through holes")
    flux = phase.steam_hole_mass_flux
    cases = (
        ("E32", 2.0, 298.345, 302.307, 291.347),
        ("E33", 2.2, 326.919, 331.585, 320.482),
        ("E34", 2.5, 369.563, 375.358, 364.184),
    )
    for row, p_bar, ideal, equilibrium, napier in cases:
        here = flux(1e5 * p_bar, SEA_LEVEL_PA, saturation_temperature(1e5 * p_bar))
        what = f"choked mass flux at {p_bar:g} bar"
        value = Value(what, ideal, here, "kg/m2s", row)
        digits = Allowed(relative=1e-4, why="the same formula")
        group.add([value], source="ideal gas, k 1.135", allowed=digits, kind=Kind.CLOSED)
        group.add(
            [Value(what, equilibrium, here, "kg/m2s", row)],
            source="homogeneous equilibrium by CoolProp",
            allowed=FORMS,
        )
        group.bands(Band(f"{what}, Napier", 0.95 * napier, 1.05 * napier, here, "kg/m2s", row))
    ratio = Value("critical pressure ratio", 0.57743, phase.CHOKE_RATIO, "", "E35")
    exact = Allowed(absolute=1e-5, why="printed digits")
    group.add([ratio], source="isentropic ideal gas", allowed=exact, kind=Kind.CLOSED)
    area = 1e6 * 100.0 / 3600.0 / flux(2.2e5, SEA_LEVEL_PA, saturation_temperature(2.2e5))
    value = Value("relief area for 100 kg/h at 2.2 bar", 86.5909, area, "mm2", "E36")
    group.add([value], source="API 520 by fluids", allowed=FORMS)
    for p_bar in (1.8, 2.7):
        T = saturation_temperature(1e5 * p_bar)
        relief = API520_A_steam(  # type: ignore[no-untyped-call]
            m=0.01, T=T + 273.15, P1=1e5 * p_bar, Kd=1.0, Kb=1.0, Kc=1.0
        )
        here = 0.01 / flux(1e5 * p_bar, SEA_LEVEL_PA, T)
        value = Value(f"relief area for 36 kg/h at {p_bar:g} bar", 1e6 * relief, 1e6 * here, "mm2")
        group.add([value], source="API 520 by fluids", allowed=FORMS, kind=Kind.LIBRARY)
    now = [
        Value(
            f"mass flux from {p_bar:g} to {down:g} bar",
            equilibrium_flux(1e5 * p_bar, 1e5 * down),
            flux(1e5 * p_bar, 1e5 * down, saturation_temperature(1e5 * p_bar)),
            "kg/m2s",
        )
        for p_bar, down in ((1.9, 1.01325), (2.35, 0.845), (3.2, 1.01325), (1.4, 1.01325), (1.2, 1.01325))
    ]
    source = "homogeneous equilibrium by CoolProp, scipy"
    group.add(now, source=source, allowed=FORMS, kind=Kind.LIBRARY)
    return group


def equilibrium_flux(up_Pa: float, down_Pa: float) -> float:
    """Return the largest mass flux on the isentrope from dry saturated steam down to `down_Pa` [kg/m2s]."""
    h, s = (PropsSI(letter, "P", up_Pa, "Q", 1, "Water") for letter in ("H", "S"))

    def flux(p_Pa: float) -> float:
        here, rho = (PropsSI(letter, "P", p_Pa, "S", s, "Water") for letter in ("H", "D"))
        return float(rho * np.sqrt(2.0 * max(h - here, 0.0)))

    best = minimize_scalar(lambda p: -flux(p), bounds=(down_Pa, up_Pa - 1.0), method="bounded")
    return max(flux(float(best.x)), flux(down_Pa))


def vessel() -> Group:
    """The two-phase vessel and what it gives to milk."""
    group = Group("two-phase vessel")
    mass = 0.9e-3 * density(20.0) + 0.6e-3 * steam_density(20.0)
    heat = internal_energy(125.0, mass, 1.5e-3) - internal_energy(20.0, mass, 1.5e-3)
    fits = Allowed(relative=2e-3, why="fits of the properties")
    values = [
        Value("mass, 1.5 L 60 % full at 20 °C", 0.89839, mass, "kg", "E17"),
        Value("heat to 125 °C", 397_532.0, heat, "J", "E17"),
        Value("liquid's share at 125 °C", 0.6373, liquid_volume(125.0, mass, 1.5e-3) / 1.5e-3, "", "E17"),
    ]
    group.add(values, source="IAPWS-95 by CoolProp", allowed=fits)
    now = []
    for T_C, litres, level in ((60.0, 0.8, 0.4), (118.0, 1.2, 0.61), (133.0, 2.0, 0.75)):
        m3 = 1e-3 * litres
        there_C, there_m = capacity_by_library(T_C, level, m3)
        now += [
            Value(f"heat capacity, {litres:g} L, {T_C:g} °C", there_C, capacity(T_C, there_m, m3), "J/K"),
            Value(
                f"energy of added mass, {T_C:g} °C", added_by_library(T_C), energy_of_added_mass(T_C), "J/kg"
            ),
        ]
    group.add(now, source="IAPWS-95 by CoolProp", allowed=fits, kind=Kind.LIBRARY)
    leaves = [
        Value(f"flash steam, {high:g} to {low:g} bar", g, flashed_g(high, low), "g", row)
        for row, high, low, g in (("E30", 2.5, 2.0, 14.099), ("E31", 2.2, 1.6, 19.224))
    ]
    one = Allowed(relative=0.01, why="small difference of two enthalpies")
    group.add(leaves, source="IAPWS-95 by CoolProp, stepped", allowed=one)
    t = saturation_temperature(2.2e5)
    needed = steam_enthalpy(t) - energy_of_added_mass(t)
    value = Value("heat of a kg of steam, not fed, 2.2 bar", 2.19298e6 * 1.0013, needed, "J/kg", "E26")
    group.add([value], source="h_fg v_g / (v_g - v_f), IAPWS-95", allowed=fits)
    _milk(group)
    return group


def capacity_by_library(T_C: float, level: float, volume_m3: float) -> tuple[float, float]:
    """Return dU/dT at constant volume and mass [J/K], and the mass [kg]."""
    T_K = T_C + 273.15
    rho_f, rho_g = (PropsSI("D", "T", T_K, "Q", x, "Water") for x in (0, 1))
    mass = volume_m3 * (level * rho_f + (1.0 - level) * rho_g)
    step = 0.5
    low, high = (PropsSI("U", "T", T_K + d, "D", mass / volume_m3, "Water") for d in (-step, step))
    return mass * float(high - low) / (2.0 * step), float(mass)


def added_by_library(T_C: float) -> float:
    """Return dU/dm at constant temperature and volume [J/kg]."""
    (rho_f, rho_g), (u_f, u_g) = (
        [PropsSI(letter, "T", T_C + 273.15, "Q", x, "Water") for x in (0, 1)] for letter in ("D", "U")
    )
    return float((rho_f * u_f - rho_g * u_g) / (rho_f - rho_g))


def flashed_g(from_bar: float, to_bar: float) -> float:
    """Return the dry steam that leaves a vessel half full with 1 kg of liquid, unheated and not fed [g]."""
    t, end_C = (saturation_temperature(1e5 * p) for p in (from_bar, to_bar))
    volume = 2.0 / density(t)
    mass = start = 1.0 + 0.5 * volume * steam_density(t)
    drop = 1e-5

    def fall(t: float, mass: float) -> float:
        return (steam_enthalpy(t) - energy_of_added_mass(t)) / capacity(t, mass, volume)

    while t > end_C:
        half = t - 0.5 * drop * fall(t, mass)
        t -= drop * fall(half, mass - 0.5 * drop)
        mass -= drop
    return 1e3 * (start - mass)


def _milk(group: Group) -> None:
    """One steam event of the default duty: steam of dryness 0.97 until 206 g of milk have risen by 60 K."""
    design = read_design({"architecture": "dual_boiler", "steam_volume_mL": 1600.0}, NOMINAL.machine)
    pool = Pool([ARCHITECTURES["dual_boiler"].build(design, NOMINAL)], NOMINAL)
    record = pool.run([Request(0, 93.0, 0.0, MACHINE)], record=True).record
    flow, dt = record[:, at.R_WAND_KG_S], record[:, at.R_DT_S]
    steam = record[:, at.NR + pool.net.roles[at.N_STEAM]]
    used = 1e3 * float(np.sum(flow * dt))
    mean_C = float(np.sum(flow * dt * steam) / np.sum(flow * dt))
    f, g = (PropsSI("H", "T", mean_C + 273.15, "Q", x, "Water") for x in (0, 1))
    wet = f + 0.97 * (g - f)

    def per_joule(given: float) -> float:
        milk_K = 278.15 + 60.0 * given
        return 1.0 / float(wet - PropsSI("H", "T", milk_K, "Q", 0, "Water"))

    heat = 206.0 * 3.93 * 60.0 + 4000.0
    there = 1e3 * heat * quad(per_joule, 0.0, 1.0)[0]
    allowed = Allowed(relative=3e-3, why="fits; mean steam temperature")
    value = Value(f"steam into milk at {mean_C:.1f} °C", there, used, "g")
    group.add([value], source="IAPWS-95 by CoolProp, quadrature", allowed=allowed, kind=Kind.LIBRARY)
