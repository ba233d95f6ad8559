"""The conductance of every link at the present temperatures and flow, for all lanes.

Correlations are not evaluated here: each design brings them as tables over x, which is slow (the flow or a bulk
temperature), of polynomials in y, which is fast (a local temperature, or the fourth root of a difference). The
polynomial at the present x is kept until x moves. Everything in a lane loop is free of branches and look-ups,
so that the compiler makes vector code of it. The polynomials are proven against the correlations in the tests.
"""

from __future__ import annotations

from math import sqrt

from boilerfront.model.kernel.arrays import Lanes, Net, Runs
from boilerfront.model.kernel.layout import (
    COEFFICIENTS,
    FLOW_TOP_KG_S,
    LANES,
    LEAST_ROOT,
    NX,
    PER_SUPERHEAT,
    PER_T,
    S_ALL_FLOW,
    S_FLOW,
    S_JOINED,
    S_LEVEL,
    S_LOOP,
    S_RUN,
    S_SHARE,
    S_TWO_PHASE,
    SUPERHEAT_TOP_K,
    T_TOP_C,
    V_ALL_FLOW,
    V_FLOW,
    V_JOINED,
    V_LEVEL,
    V_LOOP,
    V_MOVED,
    V_SHARE,
    V_TWO_PHASE,
)
from boilerfront.model.network.graph import Carry, Store
from boilerfront.model.props.compiled import compiled
from boilerfront.model.props.water import density, heat_capacity
from boilerfront.model.props.water_fits import HEAT_CAPACITY
from boilerfront.shared.shapes import Floats

FORCED, BATH, HEADER = int(Carry.FORCED), int(Carry.BATH), int(Carry.HEADER)
SHEATH, LAYERS, AIR, JOINT = int(Carry.SHEATH), int(Carry.LAYERS), int(Carry.AIR), int(Carry.JOINT)
WATER = int(Store.WATER)
SIGMA = 5.670374419e-8
"""Stefan-Boltzmann constant [W/m2K4]."""
LAST_X = NX - 1.000001
X_PER_T = (NX - 1) / T_TOP_C
X_PER_ROOT_FLOW = (NX - 1) / sqrt(FLOW_TOP_KG_S)
CP_NEAR_J_KGK = 4200.0
LEAST_W_K = 1e-9
STIRRED_W_K = 300.0
"""Exchange between the layers of a vessel that boils (our judgement): vapour stirs it through."""
SHOWN = (
    (V_FLOW, S_FLOW),
    (V_LOOP, S_LOOP),
    (V_ALL_FLOW, S_ALL_FLOW),
    (V_SHARE, S_SHARE),
    (V_LEVEL, S_LEVEL),
    (V_JOINED, S_JOINED),
    (V_TWO_PHASE, S_TWO_PHASE),
)
PUMP_FLOW = -1
PUMPED, CIRCULATING = 0, 1
CP_BEND_J_KGK3 = HEAT_CAPACITY[2] / 100.0**2 / 6.0
"""A twelfth of the second derivative of water's heat capacity: what the mean between two temperatures lies below
the mean of the ends, over the difference squared."""


@compiled
def coefficients(net: Net, lanes: Lanes, runs: Runs) -> None:
    """Fill G, J, F and C of all lanes for their present temperatures, flows and levels."""
    _show(lanes)
    _take_rows(net, lanes, runs)
    water_heat(net, lanes)
    conductances(net, lanes)


@compiled
def _show(lanes: Lanes) -> None:
    """Lay out for all lanes what was planned for each."""
    for lane in range(LANES):
        for shown, of in SHOWN:
            lanes.V[shown, lane] = lanes.S[of, lane]


@compiled
def _take_rows(net: Net, lanes: Lanes, runs: Runs) -> None:
    """Take the laws' polynomials at the present x: linear between the grid's points."""
    for lane in range(LANES):
        lanes.V[V_MOVED, lane] = 0.0
    for law in range(net.laws.size):
        _find_places(net.laws[law], law, lanes)
        for lane in range(LANES):
            beyond = abs(lanes.place[law, lane] - lanes.cell[law, lane] - 0.5)
            lanes.V[V_MOVED, lane] = max(lanes.V[V_MOVED, lane], beyond)
    for lane in range(LANES):
        if lanes.V[V_MOVED, lane] >= 0.5:
            _take_cells(lane, net, lanes, runs)
    for law in range(net.laws.size):
        for k in range(COEFFICIENTS):
            for lane in range(LANES):
                along = lanes.place[law, lane] - lanes.cell[law, lane]
                lanes.rows[law, k, lane] = lanes.first[law, k, lane] + along * lanes.step[law, k, lane]


@compiled
def _take_cells(lane: int, net: Net, lanes: Lanes, runs: Runs) -> None:
    """Take the grid's points on both sides of where a lane's laws are, where it has come to another cell."""
    design = runs.design[max(int(lanes.S[S_RUN, lane]), 0)]
    for law in range(net.laws.size):
        cell = int(lanes.place[law, lane])
        if cell != lanes.cell[law, lane]:
            for k in range(COEFFICIENTS):
                low = runs.laws[design, law, cell, k]
                lanes.first[law, k, lane] = low
                lanes.step[law, k, lane] = runs.laws[design, law, cell + 1, k] - low
            lanes.cell[law, lane] = cell


@compiled
def _find_places(node: int, law: int, lanes: Lanes) -> None:
    """Find where on the grid a law is; what is no number is at its beginning."""
    if node >= 0:
        for lane in range(LANES):
            place = lanes.T[node, lane] * X_PER_T
            place = place if place > 0.0 else 0.0
            lanes.place[law, lane] = place if place < LAST_X else LAST_X
    else:
        flow = V_FLOW if node == PUMP_FLOW else V_ALL_FLOW
        for lane in range(LANES):
            place = sqrt(lanes.V[flow, lane]) * X_PER_ROOT_FLOW
            place = place if place > 0.0 else 0.0
            lanes.place[law, lane] = place if place < LAST_X else LAST_X


@compiled
def conductances(net: Net, lanes: Lanes) -> None:
    """Fill G [W/K], J [W] and F (flow times mean heat capacity) [W/K].

    The mean between two temperatures is that of a heat capacity which is a parabola with the ends' values.
    """
    T = lanes.T
    V = lanes.V
    for i in range(net.links.shape[0]):
        carry = net.links[i, 0]
        a = net.links[i, 1]
        b = net.links[i, 2]
        law = net.links[i, 3]
        if carry == FORCED:
            _forced(lanes, i, a, law)
        elif carry in (BATH, HEADER):
            _bath(lanes, i, a, b, law, carry == HEADER)
        elif carry == SHEATH:
            _sheath(lanes, i, a, b, law)
        elif carry == LAYERS:
            _layers(lanes, i, a, b)
        elif carry == AIR:
            _air(lanes, i, a, b, law)
        elif carry == JOINT:
            for lane in range(LANES):
                lanes.G[i, lane] = lanes.numbers[i, 0, lane] * V[V_JOINED, lane]
    for i in range(net.flows.shape[0]):
        up = net.flows[i, 0]
        down = net.flows[i, 1]
        what = net.flows[i, 4]
        carried = V_FLOW if what == PUMPED else (V_LOOP if what == CIRCULATING else V_ALL_FLOW)
        for lane in range(LANES):
            between = T[up, lane] - T[down, lane]
            mean = 0.5 * (lanes.cp[up, lane] + lanes.cp[down, lane]) - CP_BEND_J_KGK3 * between * between
            lanes.F[i, lane] = V[carried, lane] * mean


@compiled
def _at(rows: Floats, law: int, lane: int, y: float) -> float:
    """Return a law's polynomial at y."""
    value: float = rows[law, COEFFICIENTS - 1, lane]
    for k in range(COEFFICIENTS - 2, -1, -1):
        value = rows[law, k, lane] + y * value
    return value


@compiled
def _slope(rows: Floats, law: int, lane: int, y: float) -> float:
    """Return the slope of a law's polynomial at y."""
    value: float = (COEFFICIENTS - 1) * rows[law, COEFFICIENTS - 1, lane]
    for k in range(COEFFICIENTS - 2, 0, -1):
        value = k * rows[law, k, lane] + y * value
    return value


@compiled
def _root(difference_K: float) -> float:
    return max(sqrt(sqrt(abs(difference_K))), LEAST_ROOT)


@compiled
def _forced(lanes: Lanes, i: int, water: int, law: int) -> None:
    for lane in range(LANES):
        y = min(max(lanes.T[water, lane], 0.0), T_TOP_C) * PER_T
        lanes.G[i, lane] = lanes.numbers[i, 0, lane] * _at(lanes.rows, law, lane, y)


@compiled
def _bath(lanes: Lanes, i: int, wall: int, bath: int, law: int, header: bool) -> None:
    """Law `law` is free convection in the liquid, the next one condensation, kept as film times root."""
    for lane in range(LANES):
        root = _root(lanes.T[bath, lane] - lanes.T[wall, lane])
        wet = _at(lanes.rows, law, lane, root)
        immersed = lanes.V[V_SHARE, lane]
        film = immersed * wet + (1.0 - immersed) * _at(lanes.rows, law + 1, lane, root) / root
        film = lanes.V[V_LEVEL, lane] * wet if header else film
        outside = lanes.numbers[i, 0, lane] * film
        outside /= 1.0 + outside * lanes.numbers[i, 1, lane]
        # The link before is the film inside the same piece of tube. A mixed cell exchanges less than a tube
        # does: F / (F + G) = exp(-NTU) of both in series asks for G = F (exp(NTU) - 1), by its series. Beyond an
        # NTU of 1 in one piece the water comes to the bath within a few of them anyway: the correction goes back
        # with the flow, to none at rest.
        inside = lanes.G[i - 1, lane]
        flow = lanes.V[V_ALL_FLOW, lane] * CP_NEAR_J_KGK
        both = outside * inside / (outside + inside)
        units = min(both, flow) / max(both, flow, LEAST_W_K)
        more = 1.0 + units * (0.5 + units * (1.0 / 6.0 + units / 24.0))
        lanes.G[i - 1, lane] = inside * more
        lanes.G[i, lane] = outside * more


@compiled
def _sheath(lanes: Lanes, i: int, sheath: int, water: int, law: int) -> None:
    """Law `law` is free convection, the next one the root of boiling's film, over the surface's superheat.

    Water boils at p1 [°C] or at its own temperature, whichever is higher. The link is taken with its slope,
    because boiling grows with the cube of the superheat: G = d(heat)/d(difference), J such that
    heat = G x difference - J.

    A resistance R = p2 lies between sheath and surface. With g and j of the surface's own difference x_s the
    link as a whole has G = g / (1 + R g) and J = j / (1 + R g); x_s + R heat(x_s) = the link's difference is
    solved by one step of Newton from the link's last G and J.
    """
    for lane in range(LANES):
        difference = lanes.T[sheath, lane] - lanes.T[water, lane]
        resistance = lanes.numbers[i, 2, lane]
        slope = lanes.G[i, lane] / (1.0 - resistance * lanes.G[i, lane])
        offset = lanes.J[i, lane] * (1.0 + resistance * slope)
        # R = 0: nothing drops, to the bit
        drop = resistance * (slope * difference - offset) / (1.0 + resistance * slope)
        difference -= drop
        y = _root(difference)
        boils = max(lanes.numbers[i, 1, lane], lanes.T[water, lane])
        superheat = lanes.T[sheath, lane] - drop - boils
        z = min(max(superheat, 0.0), SUPERHEAT_TOP_K) * PER_SUPERHEAT
        free = _at(lanes.rows, law, lane, y)
        root = _at(lanes.rows, law + 1, lane, z)
        # d(film)/d(difference) x difference: y goes with the fourth root, boiling with root squared
        growth = _slope(lanes.rows, law + 1, lane, z) * PER_SUPERHEAT if superheat > 0.0 else 0.0
        steeper = 0.25 * y * _slope(lanes.rows, law, lane, y) + 2.0 * root * growth * difference
        area = lanes.numbers[i, 0, lane]
        slope = area * (free + root * root + steeper)
        behind = 1.0 + resistance * slope
        lanes.G[i, lane] = slope / behind
        lanes.J[i, lane] = area * steeper * difference / behind


@compiled
def _layers(lanes: Lanes, i: int, lower: int, upper: int) -> None:
    """As `_sheath`: overturning carries heat with the square of the excess."""
    for lane in range(LANES):
        excess = max(lanes.T[lower, lane] - lanes.T[upper, lane], 0.0)
        jet = lanes.V[V_FLOW, lane] * lanes.cp[lower, lane]
        overturning = lanes.numbers[i, 2, lane] * excess
        still = lanes.numbers[i, 0, lane] + STIRRED_W_K * lanes.V[V_TWO_PHASE, lane]
        lanes.G[i, lane] = still + lanes.numbers[i, 1, lane] * jet + 2.0 * overturning
        lanes.J[i, lane] = overturning * excess


@compiled
def _air(lanes: Lanes, i: int, surface: int, air: int, law: int) -> None:
    for lane in range(LANES):
        hot = lanes.T[surface, lane] + 273.15
        cold = lanes.T[air, lane] + 273.15
        film = _at(lanes.rows, law, lane, _root(hot - cold))
        radiation = lanes.numbers[i, 1, lane] * SIGMA * (hot * hot + cold * cold) * (hot + cold)
        lanes.G[i, lane] = lanes.numbers[i, 0, lane] * (film + radiation)


@compiled
def water_heat(net: Net, lanes: Lanes) -> None:
    """Fill the heat capacity of what flows, and of water nodes at their present temperature.

    What expands leaves a node at its temperature.
    """
    for node in range(net.stores.size):
        if net.stores[node] == WATER:
            for lane in range(LANES):
                t = lanes.T[node, lane]
                cp = heat_capacity(t)
                lanes.cp[node, lane] = cp
                lanes.C[node, lane] = lanes.sizes[node, lane] * density(t) * cp
    inlet = net.stores.size + 1
    for lane in range(LANES):
        lanes.cp[inlet, lane] = heat_capacity(lanes.T[inlet, lane])
