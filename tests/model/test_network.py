"""The planned elimination and the written-out step, against dense linear algebra and by their order."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boilerfront.model.kernel.layout import GAMMA, LANES
from boilerfront.model.network.elimination import INVERT, SCALE, plan
from boilerfront.model.network.graph import INLET, NEWTON, ROOM, Carry, Network, Store
from boilerfront.shared.shapes import Floats
from tests.model.small_networks import Small


def solve_by_plan(matrix: Floats, right: Floats) -> Floats:
    """Carry a plan out, number by number."""
    size = len(right)
    entries = [(int(i), int(j)) for i, j in np.argwhere(matrix != 0.0) if i != j]
    made = plan(size, entries)
    a = np.zeros(len(made.slots))
    for (i, j), slot in made.slots.items():
        a[slot] = matrix[i, j]
    for operation, x, y, z in made.factor.tolist():
        if operation == INVERT:
            a[x] = 1.0 / a[x]
        elif operation == SCALE:
            a[x] *= a[y]
        else:
            a[x] -= a[y] * a[z]
    b = right.copy()
    for i, slot, k in made.forward.tolist():
        b[i] -= a[slot] * b[k]
    for i, slot, k in made.backward.tolist():
        b[i] = b[i] * a[slot] if i == k else b[i] - a[slot] * b[k]
    return b


@given(st.integers(1, 14), st.integers(0, 10_000), st.floats(0.0, 1.0))
def test_planned_elimination_solves_what_numpy_solves(size: int, seed: int, filled: float) -> None:
    rng = np.random.default_rng(seed)
    matrix = np.where(rng.random((size, size)) < filled, -(10.0 ** rng.uniform(-3, 3, (size, size))), 0.0)
    np.fill_diagonal(matrix, 0.0)
    np.fill_diagonal(matrix, -matrix.sum(axis=1) + 10.0 ** rng.uniform(-3, 3, size))
    right = rng.normal(size=size)
    here, there = solve_by_plan(matrix, right), np.linalg.solve(matrix, right)
    assert np.allclose(here, there, rtol=1e-9, atol=1e-12 * np.max(np.abs(there)))


def random_network(seed: int) -> Small:
    """A random network of solids with links of every slope, a flow path, a room and an inlet."""
    rng = np.random.default_rng(seed)
    net = Network()
    names = [
        net.node(f"n{i}", Store.SOLID, float(10.0 ** rng.uniform(0, 4))) for i in range(rng.integers(2, 9))
    ]
    for a, b in pairwise(names):
        carry = Carry(int(rng.choice([Carry.FIXED, *NEWTON])))
        net.link(carry, a, b, (float(10.0 ** rng.uniform(-2, 3)),))
    for _ in range(int(rng.integers(0, 5))):
        a, b = rng.choice(names, 2, replace=False)
        net.link(Carry.FIXED, str(a), str(b), (float(10.0 ** rng.uniform(-2, 3)),))
    net.link(Carry.FIXED, names[-1], ROOM, (float(10.0 ** rng.uniform(-2, 2)),))
    net.path = [
        INLET,
        *(str(name) for name in rng.permutation(names)[: int(rng.integers(1, len(names) + 1))]),
    ]
    small = Small(net)
    small["T"][:] = rng.uniform(0.0, 140.0, (len(small["T"]), 1))
    small["Q"][:] = rng.uniform(0.0, 1000.0, (len(small["Q"]), 1))
    small["F"][:] = float(rng.choice([0.0, 10.0 ** rng.uniform(0, 2)]))
    slopes = [carry in NEWTON for carry, *_ in net.links]
    small["J"][:] = np.where(slopes, rng.uniform(-50.0, 50.0, len(slopes)), 0.0)[:, None]
    return small


@settings(max_examples=40)
@given(st.integers(0, 10_000), st.floats(-2.0, 3.0))
def test_a_step_is_the_two_stages_solved_densely(seed: int, decades: float) -> None:
    small = random_network(seed)
    dt = 10.0**decades
    matrix, steady = small.dense()
    C, start = np.diag(small["C"][:, 0]), small.state
    # stages of R. Alexander (1977): C (y - base) / (gamma dt) = K - M y
    left = C / (GAMMA * dt) + matrix
    first = np.linalg.solve(left, steady + C @ start / (GAMMA * dt))
    base = start + (1.0 - GAMMA) / GAMMA * (first - start)
    second = np.linalg.solve(left, steady + C @ base / (GAMMA * dt))
    end = small.march(dt, 1)[-1]
    assert np.allclose(small["T1"][:, 0], first, rtol=1e-9, atol=1e-8)
    assert np.allclose(end, second, rtol=1e-9, atol=1e-8)
    assert np.all(small["T"] == small["T"][:, :1]), "lanes with the same numbers agree to the bit"


@settings(max_examples=40)
@given(st.integers(0, 10_000), st.floats(-2.0, 3.0))
def test_heat_is_conserved_to_rounding(seed: int, decades: float) -> None:
    small = random_network(seed)
    dt = 10.0**decades
    start = small.state
    end = small.march(dt, 1)[-1]
    mean = (1.0 - GAMMA) * small["T1"][:, 0] + GAMMA * end
    size = len(start)
    everywhere = np.array([*mean, *small["T"][size:, 0]])
    gain = small["Q"][:, 0].sum()
    for i, (_, a, b, *_) in enumerate(small.topology.links.tolist()):
        if b >= size:
            gain -= small["G"][i, 0] * (everywhere[a] - everywhere[b])
    for i, (up, down, *_) in enumerate(small.topology.flows.tolist()):
        # a downwind node gains F (T_up - T_down) of heat: the chain telescopes
        gain += small["F"][i, 0] * (everywhere[up] - everywhere[down])
    stored = float(small["C"][:, 0] @ (end - start))
    turned_over = float(small["C"][:, 0] @ np.abs(end - start)) + dt * small["Q"][:, 0].sum()
    assert stored == pytest.approx(dt * gain, abs=1e-9 * turned_over)


@settings(max_examples=40)
@given(st.integers(0, 10_000))
def test_a_huge_step_ends_in_the_steady_state(seed: int) -> None:
    # L-stability (E. Hairer and G. Wanner, Solving ODEs II, IV.3): no oscillation is left over
    small = random_network(seed)
    matrix, steady = small.dense()
    rest = np.linalg.solve(matrix, steady)
    end = small.march(1e14, 1)[-1]
    assert np.allclose(end, rest, rtol=1e-6, atol=1e-6)


def test_a_stiff_cell_is_damped_without_sign_change() -> None:
    net = Network()
    net.node("cell", Store.SOLID, 1.0)
    net.link(Carry.FIXED, "cell", ROOM, (1e6,))
    small = Small(net)
    small["T"][0] = 1.0
    assert abs(small.march(1.0, 1)[-1, 0]) < 1e-4


def test_convergence_is_of_second_order() -> None:
    net = Network()
    for name, size in (("water", 1500.0), ("wall", 300.0), ("group", 900.0)):
        net.node(name, Store.SOLID, size)
    net.link(Carry.FIXED, "water", "wall", (20.0,))
    net.link(Carry.FIXED, "wall", "group", (8.0,))
    net.link(Carry.FIXED, "group", ROOM, (0.6,))
    net.path = [INLET, "water", "group"]

    def end(dt_s: float) -> Floats:
        small = Small(net)
        small["T"][:] = 20.0
        small["Q"][0] = 1200.0
        small["F"][:] = 6.0
        course = small.march(dt_s, round(64.0 / dt_s))
        last: Floats = course[-1]
        return last

    small = Small(net)
    small["T"][:] = 20.0
    small["Q"][0] = 1200.0
    small["F"][:] = 6.0
    matrix, steady = small.dense()
    C = small["C"][:, 0]
    values, vectors = np.linalg.eig(matrix / C[:, None])
    rest = np.linalg.solve(matrix, steady)
    decay = vectors @ np.diag(np.exp(-values * 64.0)) @ np.linalg.inv(vectors)
    exact = np.real(rest + decay @ (np.full(3, 20.0) - rest))
    errors = [float(np.max(np.abs(end(dt) - exact))) for dt in (8.0, 4.0, 2.0, 1.0, 0.5)]
    orders = [float(np.log2(coarse / fine)) for coarse, fine in pairwise(errors)]
    print(f"errors {errors}, observed orders {orders}")
    assert orders[-1] == pytest.approx(2.0, abs=0.05)
    assert all(1.7 < order < 2.4 for order in orders)


def test_every_lane_takes_its_own_step() -> None:
    net = Network()
    net.node("tank", Store.SOLID, 1000.0)
    net.link(Carry.FIXED, "tank", ROOM, (5.0,))
    small = Small(net)
    small["T"][0] = 90.0
    small["DT"][0] = np.linspace(0.1, 10.0, LANES)
    small.take_step()
    exact = 90.0 * np.exp(-5.0 * small["DT"][0] / 1000.0)
    assert np.allclose(small["T"][0], exact, rtol=1e-5)
