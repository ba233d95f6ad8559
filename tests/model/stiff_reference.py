"""The same machine in a stiff adaptive solver: LSODA of scipy at tight tolerances, one lane of the kernel's arrays.

Conductances, capacities and the controller are the kernel's own; the integration is not. `imposed` takes events
and controller outputs from a record of the kernel; `free` runs its own controller.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.integrate import odeint

from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.accounts import note_all, note_draw
from boilerfront.model.kernel.films import SHEATH, conductances, refresh_rows, water_capacities
from boilerfront.model.kernel.march import new_lanes
from boilerfront.model.kernel.second import begin_second, begin_step, end_step
from boilerfront.model.kernel.start import load
from boilerfront.model.kernel.steam import capacity, energy_of_added_mass
from boilerfront.model.props.compiled import compiled
from boilerfront.model.props.water import enthalpy, evaporation_enthalpy
from boilerfront.model.runs import Pool, Request
from boilerfront.shared.shapes import Floats

RTOL, ATOL_C = 1e-8, 1e-7


NEWTON_STEPS = 8


@compiled
def _newton_steps(net: at.Net, lanes: at.Lanes) -> int:
    """Return how often conductances are taken: a scaled sheath's surface is found from the link's last values."""
    for i in range(net.links.shape[0]):
        if net.links[i, 0] == SHEATH and lanes.numbers[i, 2, 0] > 0.0:
            return NEWTON_STEPS
    return 1


@compiled
def rates(net: at.Net, lanes: at.Lanes, laws: Floats, y: Floats, dy: Floats) -> None:
    """Fill dy/dt of the temperatures y [nodes] of lane 0 with its present flows, powers and steam mass."""
    size = net.stores.size
    T = lanes.T
    for node in range(size):
        T[node, 0] = y[node]
    for law in range(lanes.row_x.shape[0]):
        lanes.row_x[law, 0] = -1e9
    refresh_rows(net, lanes, laws, 0, 0)
    for _ in range(_newton_steps(net, lanes)):
        conductances(net, lanes)
    water_capacities(net, lanes)
    steam = net.roles[at.N_STEAM]
    S = lanes.S
    P = lanes.P
    t = T[steam, 0]
    lanes.C[steam, 0] = capacity(t, S[at.S_STEAM_KG, 0], P[at.P_STEAM_M3, 0])
    for node in range(size):
        dy[node] = lanes.Q[node, 0]
    wet = enthalpy(t) + P[at.P_DRYNESS, 0] * evaporation_enthalpy(t)
    added = energy_of_added_mass(t)
    dy[steam] = S[at.S_REFILL, 0] * (enthalpy(P[at.P_INLET_C, 0]) - added) - S[at.S_WAND, 0] * (wet - added)
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


@dataclass
class Course:
    """Times [rows], temperatures [rows, nodes], results of the run (out, shots) where it ran free."""

    time_s: Floats
    T: Floats
    out: Floats
    shots: Floats


class Reference:
    """One run of a pool's plant 0 in the stiff solver."""

    def __init__(self, pool: Pool, request: Request) -> None:
        self.pool = pool
        self.net = pool.net
        self.runs = pool.arrays([request])
        self.lanes = new_lanes(pool.net, self.runs.laws.shape[1])
        self.out = np.zeros(at.NO)
        self.shots = np.zeros((int(self.runs.events.shape[1]), at.NH))
        load(0, 0, self.net, self.runs, self.lanes, self.out)
        self.lanes.T[:, 1:] = self.lanes.T[:, :1]
        self.lanes.C[:, 1:] = self.lanes.C[:, :1]
        self.dy = np.empty(len(pool.topology.names))

    def advance(self, dt: float) -> None:
        """Integrate the temperatures over `dt` seconds with everything else held."""
        size = self.dy.size

        def slope(y: Floats, _: float) -> Floats:
            rates(self.net, self.lanes, self.runs.laws, y, self.dy)
            return self.dy

        start = self.lanes.T[:size, 0].copy()
        end = odeint(slope, start, [0.0, dt], rtol=RTOL, atol=ATOL_C, mxstep=5000)[-1]
        self.lanes.T[:size, 0] = end
        self.lanes.T1[:size, 0] = end

    def imposed(self, record: Floats) -> Course:
        """Follow a record of the kernel: its flows, powers, refill, steam and portafilter."""
        S, Q, roles = self.lanes.S, self.lanes.Q, self.net.roles
        rows: list[Floats] = []
        for row in record:
            for place, value in (
                (at.S_FLOW, at.R_FLOW_KG_S),
                (at.S_REFILL, at.R_REFILL_KG_S),
                (at.S_WAND, at.R_WAND_KG_S),
                (at.S_LEVEL, at.R_LEVEL),
                (at.S_SHARE, at.R_SHARE),
                (at.S_JOINED, at.R_JOINED),
            ):
                S[place, 0] = row[value]
            Q[roles[at.N_BREW_ELEMENT], 0] = row[at.R_BREW_W]
            Q[roles[at.N_GROUP], 0] = row[at.R_GROUP_W]
            Q[roles[at.N_STEAM_ELEMENT], 0] = row[at.R_STEAM_W]
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
            note_all(self.net, self.lanes, before)
            if S[at.S_MODE, 0] == at.MODE_SHOT:
                note_draw(0, self.net, self.lanes, before, self.out)
            end_step(0, self.net, self.lanes, self.out)
            times.append(S[at.S_TIME, 0] + S[at.S_SUB, 0] * S[at.S_DT, 0])
            rows.append(self.lanes.T[: self.dy.size, 0].copy())
