"""What the conductance of each kind of link is at the present temperatures and flow.

Correlations are not evaluated here: each design brings them as tables over x, which is slow (the flow or a bulk
temperature), of polynomials in y, which is fast (a local temperature, or the fourth root of a difference). What a law
has between two points of the grid is linear; the points on both sides are kept until x leaves them (`prepare`). The
polynomials are proven against the correlations in the tests.

The functions of single links are called by the written-out step of each topology (`straight_line`), in a loop over
the lanes: they are free of branches and look-ups, so that the compiler makes vector code of it. Numbers have the
precision of the lanes' arrays: every constant is made a `number` of that kind, as one of double precision would make
each operation with it double.
"""

from __future__ import annotations

from collections.abc import Callable
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
    V_ALL_FLOW_PLACE,
    V_FLOW,
    V_FLOW_PLACE,
    V_JOINED,
    V_LEVEL,
    V_LOOP,
    V_MOVED,
    V_SHARE,
    V_TWO_PHASE,
)
from boilerfront.model.network.graph import Store
from boilerfront.model.props.compiled import compiled
from boilerfront.model.props.water import T_HIGH_C, T_LOW_C
from boilerfront.model.props.water_fits import DENSITY, HEAT_CAPACITY
from boilerfront.shared.shapes import Floats

WATER = int(Store.WATER)
Number = Callable[[float], float]
"""What makes a constant one of the lanes' precision."""
Law = tuple[float, float, float, float, float, float]
"""A film law at the present x: its polynomial's coefficients."""
SIGMA = 5.670374419e-8
"""Stefan-Boltzmann constant [W/m2K4]."""
LAST_X = NX - 1.0001
"""Just within the last cell, in single precision as well, which would round a closer number to the grid's end."""
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
CP_BEND_J_KGK3 = HEAT_CAPACITY[2] / 100.0**2 / 6.0
"""A twelfth of the second derivative of water's heat capacity: what the mean between two temperatures lies below
the mean of the ends, over the difference squared."""


@compiled
def prepare(net: Net, lanes: Lanes, runs: Runs) -> None:
    """Lay out what the written-out step reads, for the present temperatures, flows and levels; fill C of water."""
    _show(lanes)
    _stay_in_cells(net, lanes, runs)
    water_heat(net, lanes)


@compiled
def _show(lanes: Lanes) -> None:
    """Lay out for all lanes what was planned for each."""
    for lane in range(LANES):
        for shown, of in SHOWN:
            lanes.V[shown, lane] = lanes.S[of, lane]
    # LANES, but the compiler does not know: so short a loop of known length it would unroll, not make vector code of.
    width = lanes.t.shape[1]
    for node in range(lanes.t.shape[0]):
        for lane in range(width):
            lanes.t[node, lane] = lanes.T[node, lane]
    number = lanes.t.dtype.type
    for flow, place in ((V_FLOW, V_FLOW_PLACE), (V_ALL_FLOW, V_ALL_FLOW_PLACE)):
        for lane in range(width):
            lanes.V[place, lane] = _on_grid(number, sqrt(lanes.V[flow, lane]) * number(X_PER_ROOT_FLOW))


@compiled
def _on_grid(number: Number, place: float) -> float:
    """Return a place within the grid; what is no number is at its beginning."""
    inside = place if place > number(0.0) else number(0.0)
    return inside if inside < number(LAST_X) else number(LAST_X)


@compiled
def _stay_in_cells(net: Net, lanes: Lanes, runs: Runs) -> None:
    """Find where on the grid each law is; where one has left its cell, take the points around it."""
    half = lanes.t.dtype.type(0.5)
    width = lanes.t.shape[1]
    for lane in range(LANES):
        lanes.V[V_MOVED, lane] = 0.0
    for law in range(net.laws.size):
        _find_places(net.laws[law], law, lanes)
        for lane in range(width):
            beyond = abs(lanes.place[law, lane] - lanes.cell[law, lane] - half)
            lanes.V[V_MOVED, lane] = max(lanes.V[V_MOVED, lane], beyond)
    for lane in range(LANES):
        if lanes.V[V_MOVED, lane] > half:
            _take_cells(lane, net, lanes, runs)


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
    """Find where on the grid a law is."""
    number = lanes.t.dtype.type
    width = lanes.t.shape[1]
    if node >= 0:
        for lane in range(width):
            lanes.place[law, lane] = _on_grid(number, lanes.t[node, lane] * number(X_PER_T))
    else:
        followed = V_FLOW_PLACE if node == PUMP_FLOW else V_ALL_FLOW_PLACE
        for lane in range(width):
            lanes.place[law, lane] = lanes.V[followed, lane]


@compiled
def carried_W_K(number: Number, flow: float, up_cp: float, down_cp: float, difference_K: float) -> float:
    """Return flow times mean heat capacity: the mean of one that is a parabola with the values of both ends."""
    mean = number(0.5) * (up_cp + down_cp) - number(CP_BEND_J_KGK3) * difference_K * difference_K
    return flow * mean


@compiled
def _at(law: Law, y: float) -> float:
    """Return a law's polynomial at y."""
    return law[0] + y * (law[1] + y * (law[2] + y * (law[3] + y * (law[4] + y * law[5]))))


@compiled
def _slope(number: Number, law: Law, y: float) -> float:
    """Return the slope of a law's polynomial at y."""
    two, three, four, five = number(2.0), number(3.0), number(4.0), number(5.0)
    return law[1] + y * (two * law[2] + y * (three * law[3] + y * (four * law[4] + y * (five * law[5]))))


@compiled
def _root(number: Number, difference_K: float) -> float:
    return max(sqrt(sqrt(abs(difference_K))), number(LEAST_ROOT))


@compiled
def forced_W_K(number: Number, law: Law, area_m2: float, water_C: float) -> float:
    """Return the conductance of a film inside a tube."""
    y = min(max(water_C, number(0.0)), number(T_TOP_C)) * number(PER_T)
    return area_m2 * _at(law, y)


@compiled
def bath_W_m2K(number: Number, free: Law, condensing: Law, immersed: float, difference_K: float) -> float:
    """Return the film around a tube of which a part is immersed; condensation is kept as film times root."""
    root = _root(number, difference_K)
    return immersed * _at(free, root) + (number(1.0) - immersed) * _at(condensing, root) / root


@compiled
def header_W_m2K(number: Number, free: Law, level: float, difference_K: float) -> float:
    """Return the film around a tube that counts only over the level's share of its length."""
    return level * _at(free, _root(number, difference_K))


@compiled
def tube_W_K(
    number: Number, outside: float, inside: float, resistance: float, flow: float
) -> tuple[float, float]:
    """Return the conductances inside and outside of a piece of tube, whose wall's resistance counts outside.

    A mixed cell exchanges less than a tube does: F / (F + G) = exp(-NTU) of both in series asks for
    G = F (exp(NTU) - 1), by its series. Beyond an NTU of 1 in one piece the water comes to the bath within a few of
    them anyway: the correction goes back with the flow, to none at rest.
    """
    one, half, sixth, quarter = number(1.0), number(0.5), number(1.0 / 6.0), number(0.25)
    behind = outside / (one + outside * resistance)
    capacity = flow * number(CP_NEAR_J_KGK)
    both = behind * inside / (behind + inside)
    units = min(both, capacity) / max(both, capacity, number(LEAST_W_K))
    more = one + units * (half + units * sixth * (one + units * quarter))
    return inside * more, behind * more


@compiled
def sheath_W_K(
    number: Number, free: Law, boiling: Law, numbers: tuple[float, float, float], ends_C: tuple[float, float],
    last: tuple[float, float],
) -> tuple[float, float]:  # fmt: skip
    """Return G and J of an element's sheath, a, in water, b; `boiling` is the root of its film over the superheat.

    Water boils at p1 [°C] or at its own temperature, whichever is higher. The link is taken with its slope,
    because boiling grows with the cube of the superheat: G = d(heat)/d(difference), J such that
    heat = G x difference - J.

    A resistance R = p2 lies between sheath and surface. With g and j of the surface's own difference x_s the
    link as a whole has G = g / (1 + R g) and J = j / (1 + R g); x_s + R heat(x_s) = the link's difference is
    solved by one step of Newton from the link's `last` G and J.
    """
    zero, quarter, one, two = number(0.0), number(0.25), number(1.0), number(2.0)
    area, boils_C, resistance = numbers
    difference = ends_C[0] - ends_C[1]
    slope = last[0] / (one - resistance * last[0])
    offset = last[1] * (one + resistance * slope)
    # R = 0: nothing drops, to the bit
    drop = resistance * (slope * difference - offset) / (one + resistance * slope)
    difference -= drop
    y = _root(number, difference)
    superheat = ends_C[0] - drop - max(boils_C, ends_C[1])
    z = min(max(superheat, zero), number(SUPERHEAT_TOP_K)) * number(PER_SUPERHEAT)
    root = _at(boiling, z)
    # d(film)/d(difference) x difference: y goes with the fourth root, boiling with root squared
    growth = _slope(number, boiling, z) * number(PER_SUPERHEAT) if superheat > zero else zero
    steeper = quarter * y * _slope(number, free, y) + two * root * growth * difference
    slope = area * (_at(free, y) + root * root + steeper)
    behind = one + resistance * slope
    return slope / behind, area * steeper * difference / behind


@compiled
def layers_W_K(
    number: Number, numbers: tuple[float, float, float], excess_K: float, jet_W_K: float, two_phase: float
) -> tuple[float, float]:
    """Return G and J between water layers, as of a sheath: overturning carries heat with the square of the excess."""
    excess = max(excess_K, number(0.0))
    overturning = numbers[2] * excess
    still = numbers[0] + number(STIRRED_W_K) * two_phase
    return still + numbers[1] * jet_W_K + number(2.0) * overturning, overturning * excess


@compiled
def air_W_K(
    number: Number, law: Law, area_m2: float, emissivity: float, surface_C: float, air_C: float
) -> float:
    """Return the conductance of free convection and radiation from a surface."""
    film = _at(law, _root(number, surface_C - air_C))
    hot, cold = surface_C + number(273.15), air_C + number(273.15)
    radiation = emissivity * number(SIGMA) * (hot * hot + cold * cold) * (hot + cold)
    return area_m2 * (film + radiation)


@compiled
def water_heat(net: Net, lanes: Lanes) -> None:
    """Fill the heat capacity of what flows, and of water nodes at their present temperature.

    What expands leaves a node at its temperature.
    """
    for node in range(net.stores.size):
        if net.stores[node] == WATER:
            for lane in range(LANES):
                cp = _fit(HEAT_CAPACITY, lanes.t, node, lane)
                lanes.cp[node, lane] = cp
                lanes.C[node, lane] = lanes.sizes[node, lane] * _fit(DENSITY, lanes.t, node, lane) * cp
    inlet = net.stores.size + 1
    for lane in range(LANES):
        lanes.cp[inlet, lane] = _fit(HEAT_CAPACITY, lanes.t, inlet, lane)


@compiled
def _fit(fit: tuple[float, ...], t: Floats, node: int, lane: int) -> float:
    """Return what `props.water` has from a fit, in the precision of `t`."""
    number = t.dtype.type
    clamped = min(max(t[node, lane], number(T_LOW_C)), number(T_HIGH_C))
    x = clamped * number(0.01) - number(1.0)
    value: float = number(fit[len(fit) - 1])
    for k in range(len(fit) - 2, -1, -1):
        value = number(fit[k]) + x * value
    return value
