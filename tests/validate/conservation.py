"""Energy and mass of many random designs: what went in, came out and stayed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from CoolProp.CoolProp import PropsSI

from boilerfront.model import evaluate_many
from boilerfront.model.kernel import layout as at
from boilerfront.model.props.water import density, enthalpy
from boilerfront.model.runs import Pool, Ran
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
    the account of its enthalpy; refill less steam against what a vessel with a steam space gained meanwhile, or
    against nothing where steam is made on its way. `vessel`: that vessel's mass against liquid and steam at its
    temperature and level, densities by CoolProp.
    """
    pool = pool_of(random_machine(architecture, index))
    ran = pool.run([nominal_request(pool)], record=True)
    record = ran.record
    dt, flow, refill = (record[:, column] for column in (at.R_DT_S, at.R_FLOW_KG_S, at.R_REFILL_KG_S))
    pulled = int(np.sum(ran.shots[0, :, at.H_SECONDS] > 0.0))
    shots = float(np.sum((dt * flow)[record[:, at.R_MODE] == at.MODE_SHOT]))
    came_in = ran.out[0, at.O_WATER_IN_J] / enthalpy(NOMINAL.site.inlet_C)
    kept, vessel = _steam_left_open(pool, ran)
    sums = (
        _open(shots, pumped_kg(pulled)),
        _open(float(np.sum(dt * (flow + refill))), came_in),
        kept,
    )
    return Weighed(architecture, max(map(abs, sums)), abs(vessel))


def _open(here: float, there: float) -> float:
    """Return what is left open of `there`; nothing of nothing is nothing."""
    return here / there - 1.0 if there else here


def _steam_left_open(pool: Pool, ran: Ran) -> tuple[float, float]:
    """Return what is left open of the mass of steam and its water: in the sums, and in the vessel by its state."""
    record, out = ran.record, ran.out[0]
    refill = record[:, at.R_DT_S] * record[:, at.R_REFILL_KG_S]
    gained = refill - record[:, at.R_DT_S] * record[:, at.R_WAND_KG_S]
    parameters = pool.arrays([nominal_request(pool)]).parameters[0]
    kept_m3, swung_m3 = parameters[at.P_STEAM_M3], parameters[at.P_SWING_M3]
    rows = np.arange(len(record)) if kept_m3 > 0.0 else np.flatnonzero(record[:, at.R_TWO_PHASE] > 0.0)
    if kept_m3 == swung_m3 == 0.0:
        return _open(float(np.sum(refill - gained)), float(np.sum(refill))), 0.0
    if not len(rows):
        return 0.0, 0.0
    first, last = rows[0], rows[-1]
    mass = record[:, at.R_STEAM_KG]
    begins = out[at.O_STEAM_START_KG] + gained[first] if kept_m3 > 0.0 else mass[first]
    held = begins + float(np.sum(gained[first + 1 : last + 1]))
    # The level is taken in the middle of each step that adds or takes water, else when a span begins.
    seen = _last_look(record, last) if kept_m3 > 0.0 else last
    held_then = held - float(np.sum(gained[seen : last + 1]))
    held_then += 0.5 * float(gained[seen] if kept_m3 > 0.0 else refill[last])
    by_state = _mass_by_state(record, seen, pool, max(kept_m3, swung_m3))
    return _open(held, mass[last]), _open(by_state, held_then)


def _last_look(record: Floats, last: int) -> int:
    """Return the last row up to `last` at which the level was taken anew: where it is another than before."""
    return int(np.flatnonzero(np.diff(record[: last + 1, at.R_LEVEL]))[-1]) + 1


def _mass_by_state(record: Floats, seen: int, pool: Pool, volume_m3: float) -> float:
    """Return liquid and steam in a vessel when row `seen` begins, at saturation [kg]."""
    nodes = record[seen - 1, at.NR :]
    kept = pool.plants[0].network.roles.get("steam")
    vessel_C = (
        nodes[pool.net.roles[at.N_STEAM]] if kept else float(np.mean(nodes[slice(*pool.topology.layers)]))
    )
    liquid, steam = (PropsSI("D", "T", vessel_C + 273.15, "Q", quality, "Water") for quality in (0, 1))
    level = record[seen, at.R_LEVEL]
    return float(volume_m3 * (level * liquid + (1.0 - level) * steam))


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
