"""One implicit step of the whole network, exact in its coupling, for all lanes.

The network is linear once conductances are known: C dT/dt = K - M T. Two stages of a singly diagonally
implicit Runge-Kutta scheme with gamma = 1 - 1/sqrt(2) share one factorised matrix; the scheme is second order,
L-stable and stiffly accurate (R. Alexander, SIAM J. Numer. Anal. 14 (1977) 1006-1021), so a short coil at high
flow needs no small steps. Heat is conserved to rounding: what leaves one node enters the next.
"""

from __future__ import annotations

from boilerfront.model.kernel.layout import GAMMA, LANES, S_DT, Lanes, Net
from boilerfront.model.network.elimination import INVERT, SCALE
from boilerfront.model.props.compiled import compiled
from boilerfront.model.props.water import density, heat_capacity
from boilerfront.shared.shapes import Floats

SECOND = (1.0 - GAMMA) / GAMMA
WATER = 1


@compiled
def water_capacities(net: Net, lanes: Lanes) -> None:
    """Fill the capacities of water nodes at their present temperature; what expands leaves at it."""
    for node in range(net.stores.size):
        if net.stores[node] == WATER:
            for lane in range(LANES):
                t = lanes.T[node, lane]
                lanes.C[node, lane] = lanes.sizes[node, lane] * density(t) * heat_capacity(t)


@compiled
def assemble(net: Net, lanes: Lanes) -> None:
    """Fill the matrix A (without C/dt) and the steady right-hand side K from G, F and Q."""
    A = lanes.A
    K = lanes.K
    A[:, :] = 0.0
    K[:, :] = lanes.Q
    size = net.stores.size
    for i in range(net.links.shape[0]):
        a = net.links[i, 1]
        b = net.links[i, 2]
        aa = net.links[i, 4]
        bb = net.links[i, 5]
        if b >= size:
            for lane in range(LANES):
                g = lanes.G[i, lane]
                A[aa, lane] += g
                K[a, lane] += g * lanes.T[b, lane]
        else:
            ab = net.links[i, 6]
            ba = net.links[i, 7]
            for lane in range(LANES):
                g = lanes.G[i, lane]
                A[aa, lane] += g
                A[bb, lane] += g
                A[ab, lane] -= g
                A[ba, lane] -= g
    for i in range(net.flows.shape[0]):
        up = net.flows[i, 0]
        down = net.flows[i, 1]
        dd = net.flows[i, 2]
        du = net.flows[i, 3]
        for lane in range(LANES):
            A[dd, lane] += lanes.F[i, lane]
        if du >= 0:
            for lane in range(LANES):
                A[du, lane] -= lanes.F[i, lane]
        else:
            for lane in range(LANES):
                K[down, lane] += lanes.F[i, lane] * lanes.T[up, lane]


@compiled
def factorise(net: Net, A: Floats) -> None:
    """Carry out the planned elimination of the matrix."""
    for op in range(net.factor.shape[0]):
        x = net.factor[op, 1]
        y = net.factor[op, 2]
        if net.factor[op, 0] == INVERT:
            for lane in range(LANES):
                A[x, lane] = 1.0 / A[x, lane]
        elif net.factor[op, 0] == SCALE:
            for lane in range(LANES):
                A[x, lane] *= A[y, lane]
        else:
            z = net.factor[op, 3]
            for lane in range(LANES):
                A[x, lane] -= A[y, lane] * A[z, lane]


@compiled
def substitute(net: Net, A: Floats, b: Floats) -> None:
    """Solve for the right-hand side b in place."""
    for op in range(net.forward.shape[0]):
        i = net.forward[op, 0]
        slot = net.forward[op, 1]
        k = net.forward[op, 2]
        for lane in range(LANES):
            b[i, lane] -= A[slot, lane] * b[k, lane]
    for op in range(net.backward.shape[0]):
        i = net.backward[op, 0]
        slot = net.backward[op, 1]
        k = net.backward[op, 2]
        if i == k:
            for lane in range(LANES):
                b[i, lane] *= A[slot, lane]
        else:
            for lane in range(LANES):
                b[i, lane] -= A[slot, lane] * b[k, lane]


@compiled
def step(net: Net, lanes: Lanes) -> None:
    """Advance T by S_DT of each lane; T1 keeps the first stage for the heat accounts."""
    size = net.stores.size
    T = lanes.T
    T1 = lanes.T1
    b = lanes.b
    for node in range(size):
        slot = net.diagonal[node]
        for lane in range(LANES):
            inertia = lanes.C[node, lane] / (GAMMA * lanes.S[S_DT, lane])
            lanes.A[slot, lane] += inertia
            b[node, lane] = lanes.K[node, lane] + inertia * T[node, lane]
    factorise(net, lanes.A)
    substitute(net, lanes.A, b)
    for node in range(size):
        for lane in range(LANES):
            inertia = lanes.C[node, lane] / (GAMMA * lanes.S[S_DT, lane])
            first = b[node, lane]
            T1[node, lane] = first
            start = T[node, lane]
            b[node, lane] = lanes.K[node, lane] + inertia * (start + SECOND * (first - start))
    substitute(net, lanes.A, b)
    for node in range(size):
        for lane in range(LANES):
            T[node, lane] = b[node, lane]
