"""The same machine in a stiff adaptive solver: LSODA of scipy at tight tolerances, one lane of the kernel's arrays.

Conductances, capacities and the controller are the kernel's own, but in double precision; the integration is not.
`imposed` takes events and controller outputs from a record of the kernel; `free` runs its own controller.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.integrate import odeint

from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.accounts import note
from boilerfront.model.kernel.arrays import Lanes, Net, Runs
from boilerfront.model.kernel.circulation import loop_drive_Pa, loop_flow_kg_s
from boilerfront.model.kernel.compile_step import Advance, compiled_step
from boilerfront.model.kernel.films import prepare
from boilerfront.model.kernel.march import SINGLE, move, new_lanes
from boilerfront.model.kernel.once_through import available_W, boils_at_C, take_heat
from boilerfront.model.kernel.second import begin_second, begin_step, end_step
from boilerfront.model.kernel.start import load, pin_capacities
from boilerfront.model.kernel.steam import capacity, energy_of_added_mass
from boilerfront.model.kernel.straight_line import write_conductances
from boilerfront.model.network.graph import Carry, Topology
from boilerfront.model.props.compiled import compiled
from boilerfront.model.props.water import enthalpy, evaporation_enthalpy
from boilerfront.model.runs import Pool, Request
from boilerfront.shared.shapes import Floats

SHEATH = int(Carry.SHEATH)
RTOL, ATOL_C = 1e-8, 1e-7


NEWTON_STEPS = 8


@compiled
def _newton_steps(net: Net, lanes: Lanes) -> int:
    """Return how often conductances are taken: a scaled sheath's surface is found from the link's last values."""
    for i in range(net.links.shape[0]):
        if net.links[i, 0] == SHEATH and lanes.numbers[i, 2, 0] > 0.0:
            return NEWTON_STEPS
    return 1


@compiled
def rates(
    conductances: Advance, net: Net, lanes: Lanes, runs: Runs, y: Floats, dy: Floats, since_s: float
) -> None:
    """Fill dy/dt of the temperatures y [nodes] of lane 0, with its flows and powers, `since_s` into its step."""
    size = net.stores.size
    T = lanes.T
    for node in range(size):
        T[node, 0] = y[node]
    if lanes.P[at.P_LOOP_HEIGHT_M, 0] > 0.0:
        pumped = lanes.S[at.S_FLOW0, 0] + lanes.S[at.S_FLOW1, 0] > 0.0
        lanes.S[at.S_LOOP, 0] = 0.0 if pumped else loop_flow_kg_s(0, net, lanes, loop_drive_Pa(0, net, lanes))
    lanes.S[at.S_ALL_FLOW, 0] = lanes.S[at.S_FLOW, 0] + lanes.S[at.S_LOOP, 0]
    for _ in range(_newton_steps(net, lanes)):
        prepare(net, lanes, runs)
        conductances(lanes.buffer)
    for node in range(size):
        dy[node] = lanes.Q[node, 0]
    S = lanes.S
    P = lanes.P
    mass = S[at.S_STEAM_KG, 0] + since_s * (S[at.S_REFILL, 0] - S[at.S_WAND, 0])
    if P[at.P_STEAM_M3, 0] > 0.0:
        steam = net.roles[at.N_STEAM]
        lanes.C[steam, 0] = capacity(T[steam, 0], mass, P[at.P_STEAM_M3, 0])
        dy[steam] = _source_W(S, P, T[steam, 0])
    elif P[at.P_SWING_M3, 0] > 0.0:
        first, last = net.ranges[0], net.ranges[1]
        mean = 0.0
        for layer in range(first, last):
            mean += T[layer, 0] / (last - first)
        for layer in range(first, last):
            dy[layer] = 0.0
            if S[at.S_TWO_PHASE, 0] > 0.0:
                lanes.C[layer, 0] = capacity(mean, mass, P[at.P_SWING_M3, 0]) / (last - first)
                dy[layer] = _source_W(S, P, mean) / (last - first)
    elif S[at.S_WAND, 0] > 0.0:
        boils = boils_at_C(0, net, lanes)
        rise = enthalpy(boils) - enthalpy(P[at.P_INLET_C, 0]) + evaporation_enthalpy(boils)
        heat = min(available_W(0, net, lanes, boils), S[at.S_WAND, 0] * rise)
        take_heat(0, net, lanes, boils, heat)
        for cell in range(net.ranges[6], net.ranges[7]):
            dy[cell] = lanes.Q[cell, 0]
    elif P[at.P_BLOCK_W_K, 0] > 0.0:
        for cell in range(net.ranges[6], net.ranges[7]):
            dy[cell] = 0.0
    for i in range(net.links.shape[0]):
        a = net.links[i, 1]
        b = net.links[i, 2]
        heat = lanes.G[i, 0] * (T[a, 0] - T[b, 0]) - lanes.J[i, 0]
        dy[a] -= heat
        if b < size:
            dy[b] += heat
    for i in range(net.flows.shape[0]):
        up = net.flows[i, 0]
        down = net.flows[i, 1]
        dy[down] += lanes.F[i, 0] * (T[up, 0] - T[down, 0])
    for node in range(size):
        dy[node] /= lanes.C[node, 0]


@compiled
def _source_W(S: Floats, P: Floats, vessel_C: float) -> float:
    """Return what refill, wand and venting bring into a vessel with a steam space [W]."""
    leaving = enthalpy(vessel_C)
    if S[at.S_PHASE, 0] != at.VENTING:
        leaving += P[at.P_DRYNESS, 0] * evaporation_enthalpy(vessel_C)
    added = energy_of_added_mass(vessel_C)
    source: float = S[at.S_REFILL, 0] * (enthalpy(P[at.P_INLET_C, 0]) - added) - S[at.S_WAND, 0] * (
        leaving - added
    )
    return source


@dataclass
class Course:
    """Times [rows], temperatures [rows, nodes], results of the run (out, shots) where it ran free."""

    time_s: Floats
    T: Floats
    out: Floats
    shots: Floats


def conductances_of(topology: Topology) -> Advance:
    """Return what fills G, J and F of a buffer, in its precision: what the march takes within its step."""
    return compiled_step(write_conductances(topology), "conductances")


class Reference:
    """One run of a pool's plant 0 in the stiff solver."""

    precision: type = np.float64
    """Of everything but temperatures, state and parameters, which are double."""

    def __init__(self, pool: Pool, request: Request) -> None:
        self.pool = pool
        self.net = pool.net
        self.conductances = conductances_of(pool.topology)
        self.runs = pool.arrays([request])
        self.lanes = new_lanes(pool.net, self.runs.laws.shape[1], SINGLE)
        self.out = np.zeros(at.NO)
        self.shots = np.zeros((int(self.runs.events.shape[1]), at.NH))
        load(0, 0, self.net, self.runs, self.lanes, self.out)
        self.lanes.T[:, 1:] = self.lanes.T[:, :1]
        self.lanes.C[:, 1:] = self.lanes.C[:, :1]
        self.dy = np.empty(len(pool.topology.names))
        self._find_reach()
        if self.precision is not SINGLE:
            exact = new_lanes(pool.net, self.runs.laws.shape[1], self.precision)
            for array, single in zip(exact, self.lanes, strict=True):
                array[:] = single
            self.lanes = exact

    def _find_reach(self) -> None:
        """Take the kernel's own steps until the run proper begins."""
        S = self.lanes.S
        while S[at.S_PINNED, 0] > 0.0 and S[at.S_FINDING, 0] > 0.0:
            begin_step(0, self.net, self.lanes, self.out)
            self.lanes.DT[:] = S[at.S_DT, 0]
            prepare(self.net, self.lanes, self.runs)
            pin_capacities(self.net, self.lanes)
            move(self.pool.advance, self.lanes)
            end_step(0, self.net, self.lanes, self.out)

    def advance(self, dt: float) -> None:
        """Integrate the temperatures over `dt` seconds with everything else held."""
        size = self.dy.size

        def slope(y: Floats, since_s: float) -> Floats:
            rates(self.conductances, self.net, self.lanes, self.runs, y, self.dy, since_s)
            return self.dy

        start = self.lanes.T[:size, 0].copy()
        end = odeint(slope, start, [0.0, dt], rtol=RTOL, atol=ATOL_C, mxstep=5000)[-1]
        self.lanes.T[:size, 0] = end
        self.lanes.D1[:], self.lanes.D[:] = 0.0, 0.0
        self.lanes.t[:size, 0] = end

    def look_over(self) -> None:
        """Find the hottest layer and coil water, and what is lost to the room, at the end of a span."""
        lanes, size = self.lanes, self.dy.size
        T, V, ranges = lanes.T, lanes.V, self.net.ranges
        V[at.V_LAYER_C, 0] = np.max(T[ranges[0] : ranges[1], 0], initial=-np.inf)
        V[at.V_COIL_C, 0] = np.max(T[ranges[2] : ranges[3], 0], initial=-np.inf)
        to_room = self.net.links[:, 2] == size
        surfaces = self.net.links[to_room, 1]
        V[at.V_LOSS_W, 0] = np.sum(lanes.G[to_room, 0] * (T[surfaces, 0] - T[size, 0]))

    def imposed(self, record: Floats) -> Course:
        """Follow a record of the kernel: its flows, powers, refill, steam and portafilter."""
        S, Q, roles = self.lanes.S, self.lanes.Q, self.net.roles
        rows: list[Floats] = []
        self.lanes.P[at.P_LOOP_HEIGHT_M] = 0.0  # what circulates is imposed too
        for row in record:
            for place, value in (
                (at.S_FLOW, at.R_FLOW_KG_S),
                (at.S_FLOW0, at.R_FLOW_KG_S),
                (at.S_LOOP, at.R_LOOP_KG_S),
                (at.S_REFILL, at.R_REFILL_KG_S),
                (at.S_WAND, at.R_WAND_KG_S),
                (at.S_LEVEL, at.R_LEVEL),
                (at.S_SHARE, at.R_SHARE),
                (at.S_JOINED, at.R_JOINED),
                (at.S_PHASE, at.R_PHASE),
                (at.S_TWO_PHASE, at.R_TWO_PHASE),
            ):
                S[place, 0] = row[value]
            if self.lanes.P[at.P_BREW_W, 0] > 0.0:
                Q[roles[at.N_BREW_ELEMENT], 0] = row[at.R_BREW_W]
            Q[roles[at.N_GROUP], 0] = row[at.R_GROUP_W]
            if self.lanes.P[at.P_STEAM_W, 0] > 0.0:
                Q[roles[at.N_STEAM_ELEMENT], 0] = row[at.R_STEAM_W]
            gained = (row[at.R_REFILL_KG_S] - row[at.R_WAND_KG_S]) * row[at.R_DT_S]
            S[at.S_STEAM_KG, 0] = row[at.R_STEAM_KG] - gained
            self.advance(row[at.R_DT_S])
            S[at.S_STEAM_KG, 0] = row[at.R_STEAM_KG]
            rows.append(self.lanes.T[: self.dy.size, 0].copy())
        return Course(record[:, at.R_TIME_S], np.array(rows), self.out, self.shots)

    def free(self) -> Course:
        """Run the duty with its own controller to the end."""
        S = self.lanes.S
        times: list[float] = []
        rows: list[Floats] = []
        while True:
            if S[at.S_SUB, 0] == 0.0:
                begin_second(0, self.net, self.runs, self.lanes, self.out, self.shots)
                if self.out[at.O_CODE] != 0:
                    return Course(np.array(times), np.array(rows), self.out, self.shots)
            begin_step(0, self.net, self.lanes, self.out)
            before = self.lanes.T.copy()
            self.advance(S[at.S_DT, 0])
            self.look_over()
            note(0, self.net, self.lanes, before, self.out)
            end_step(0, self.net, self.lanes, self.out)
            times.append(S[at.S_TIME, 0] + S[at.S_SUB, 0] * S[at.S_DT, 0])
            rows.append(self.lanes.T[: self.dy.size, 0].copy())
