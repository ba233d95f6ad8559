"""Energy and mass of many random designs: what went in, came out and stayed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from CoolProp.CoolProp import PropsSI

from boilerfront.model import evaluate_many
from boilerfront.model.kernel import layout as at
from boilerfront.model.props.water import density, enthalpy
from boilerfront.shared.shapes import Floats
from tests.model.random_designs import NOMINAL
from tests.validate.checks import Allowed, Group, Kind, Value
from tests.validate.machines import nominal_request, pool_of, random_machine


@dataclass(frozen=True)
class Kept:
    """Energy left open over electrical energy [rated], of so many designs; runs that broke down."""

    architecture: str
    energy: Floats
    designs: int
    faults: int


@dataclass(frozen=True)
class Weighed:
    """Largest shares of mass left open: in the sums of a run's record, and in the vessel by its state."""

    architecture: str
    sums: float
    vessel: float


def keep(architecture: str, first: int, count: int) -> Kept:
    """Rate random designs `first` to `first + count - 1`."""
    designs = [random_machine(architecture, index) for index in range(first, first + count)]
    rows = evaluate_many(designs, NOMINAL)
    residuals = [row["energy_residual"] for row in rows if row.get("energy_residual") is not None]
    faults = sum(row["fault"] is not None for row in rows)
    return Kept(architecture, np.array(residuals, dtype=np.float64), count, faults)


def weigh(architecture: str, index: int) -> Weighed:
    """Add up the water of one run, step by step.

    `sums`: what the pump gave to the shots against the duty's volumes in closed form; all water that came in against
    the account of its enthalpy; what a steam boiler holds in the end against its start, refill and steam. `vessel`:
    that sum against liquid and steam at the end's temperature and level, densities by CoolProp.
    """
    pool = pool_of(random_machine(architecture, index))
    request = nominal_request(pool)
    ran = pool.run([request], record=True)
    out, record = ran.out[0], ran.record
    dt, refill = record[:, at.R_DT_S], record[:, at.R_REFILL_KG_S]
    shots = float(np.sum((dt * record[:, at.R_FLOW_KG_S])[record[:, at.R_MODE] == at.MODE_SHOT]))
    water = float(np.sum(dt * (record[:, at.R_FLOW_KG_S] + refill)))
    pulled = int(np.sum(ran.shots[0, :, at.H_SECONDS] > 0.0))
    left_open = [
        shots / pumped_kg(pulled) - 1.0 if pulled else 0.0,
        out[at.O_WATER_IN_J] / enthalpy(NOMINAL.site.inlet_C) / water - 1.0 if water else 0.0,
    ]
    volume_m3 = pool.arrays([request]).parameters[0, at.P_STEAM_M3]
    if volume_m3 == 0.0:
        return Weighed(architecture, max(map(abs, left_open)), 0.0)
    held = out[at.O_STEAM_START_KG] + float(np.sum(dt * (refill - record[:, at.R_WAND_KG_S])))
    left_open.append(held / out[at.O_STEAM_END_KG] - 1.0)
    steam_C, level = record[-1, at.NR + pool.net.roles[at.N_STEAM]], record[-1, at.R_LEVEL]
    f, g = (PropsSI("D", "T", steam_C + 273.15, "Q", x, "Water") for x in (0, 1))
    by_state = volume_m3 * (level * f + (1.0 - level) * g)
    return Weighed(architecture, max(map(abs, left_open)), abs(by_state / held - 1.0))


def pumped_kg(shots: int) -> float:
    """Return the water of the first so many shots: fill, linear change, steady, in closed form."""
    duty = NOMINAL.duty
    volume_mL = 0.0
    for event in [event for event in duty.events if event.kind == "shot"][:shots]:
        flow = duty.flows[event.flow]
        steady_s = flow.stop_s - duty.fill_s - duty.ramp_s
        ramp_mL_s = 0.5 * (duty.fill_mL_s + flow.steady_mL_s)
        volume_mL += duty.fill_mL_s * duty.fill_s + ramp_mL_s * duty.ramp_s + flow.steady_mL_s * steady_s
    return 1e-6 * volume_mL * density(NOMINAL.site.inlet_C)


def conservation_group(kept: Iterable[Kept], weighed: Iterable[Weighed]) -> Group:
    """Return the checks of all architectures."""
    group = Group("energy and mass")
    families: dict[str, list[Kept]] = {}
    for one in kept:
        families.setdefault(one.architecture, []).append(one)
    part = Allowed(absolute=1e-3, why="0.1 % of the electrical energy")
    none = Allowed(absolute=0.0, why="no run may break down")
    for name, parts in families.items():
        designs = sum(one.designs for one in parts)
        energy = np.concatenate([one.energy for one in parts])
        balance = Value(
            f"{name}, {len(energy)} of {designs} rated: largest energy residual", 0.0, _largest(energy)
        )
        group.add([balance], source="first law, evaluate_many", allowed=part, kind=Kind.PROOF)
        faults = Value(f"{name}, {designs} designs: faults", 0.0, sum(one.faults for one in parts))
        group.add([faults], source="evaluate_many", allowed=none, kind=Kind.PROOF)
    scales: dict[str, list[Weighed]] = {}
    for run in weighed:
        scales.setdefault(run.architecture, []).append(run)
    exact = Allowed(absolute=1e-9, why="sums of one record")
    fits = Allowed(absolute=1e-3, why="fits of the densities")
    for name, runs in scales.items():
        sums = Value(f"{name}, {len(runs)} runs: largest mass residual", 0.0, max(run.sums for run in runs))
        group.add([sums], source="duty's volumes, refill, steam", allowed=exact, kind=Kind.PROOF)
        vessel = Value(
            f"{name}, {len(runs)} runs: mass by vessel's state", 0.0, max(run.vessel for run in runs)
        )
        group.add([vessel], source="densities by CoolProp", allowed=fits, kind=Kind.PROOF)
    return group


def _largest(values: Floats) -> float:
    return float(np.max(np.abs(values))) if len(values) else float("nan")
