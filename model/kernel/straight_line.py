"""The implicit step of a network as straight-line code: its elimination written out, one line an operation.

Interpreted from tables the elimination takes five times as long: every operation has to find its operands
and the compiler cannot keep anything in registers. Written out for one topology it is compiled once, kept on
disk, and run for many machines side by side. All arrays lie in one flat buffer of rows of LANES numbers; each
row's place is known when the code is written, so that the compiler can see that no two rows overlap.

The network is linear once conductances are known: C dT/dt = K - M T. Two stages of a singly diagonally
implicit Runge-Kutta scheme with gamma = 1 - 1/sqrt(2) share one factorised matrix; the scheme is second order,
L-stable and stiffly accurate (R. Alexander, SIAM J. Numer. Anal. 14 (1977) 1006-1021), so a short coil at high
flow needs no small steps. Heat is conserved to rounding: what leaves one node enters the next.
"""

from __future__ import annotations

from boilerfront.model.kernel.arrays import row_places
from boilerfront.model.kernel.layout import (
    GAMMA,
    LANES,
)
from boilerfront.model.network.elimination import INVERT, SCALE
from boilerfront.model.network.graph import NEWTON, Topology

HEADER = f'''"""Written by boilerfront.model.kernel.straight_line; changes here are lost."""

from numba import njit, types

from boilerfront.model.props.compiled import ARITHMETIC


@njit(types.void(types.float64[::1]), cache=True, **ARITHMETIC)
def advance(w):
    for lane in range({LANES}):
'''


def write_step(topology: Topology) -> str:
    """Return the source of a module with `advance(w)`, which advances every lane of the buffer `w` by one step."""
    lines = _Lines(topology)
    lines.load()
    lines.factorise()
    size = len(topology.names)
    for i in range(size):
        lines.add(f"b{i} = k{i} + c{i} * t{i}")
    lines.solve("b")
    second = (1.0 - GAMMA) / GAMMA
    for i in range(size):
        lines.add(f"{lines.place('T1', i)} = b{i}")
        lines.add(f"d{i} = k{i} + c{i} * (t{i} + {second!r} * (b{i} - t{i}))")
    lines.solve("d")
    for i in range(size):
        lines.add(f"{lines.place('T', i)} = d{i}")
    return HEADER + "".join(f"        {line}\n" for line in lines.lines)


class _Lines:
    """The lines of the step's body; variables are named by kind and number: g3 is the conductance of link 3."""

    def __init__(self, topology: Topology) -> None:
        self.topology = topology
        self.lines: list[str] = []
        sizes = len(topology.names), len(topology.links), len(topology.flows)
        self.rows = dict(zip(("T", "T1", "C", "G", "J", "F", "Q", "DT"), row_places(*sizes), strict=False))

    def add(self, line: str) -> None:
        self.lines.append(line)

    def place(self, array: str, row: int) -> str:
        return f"w[{(self.rows[array] + row) * LANES} + lane]"

    def load(self) -> None:
        """Read the buffer and sum up matrix (a), heat capacities over time (c) and steady right-hand side (k)."""
        topology = self.topology
        size = len(topology.names)
        slots = topology.elimination.slots
        matrix: dict[int, list[str]] = {slot: [] for slot in slots.values()}
        steady = {i: [self.place("Q", i)] for i in range(size)}
        self.add(f"h = 1.0 / ({GAMMA!r} * {self.place('DT', 0)})")
        for i, (carry, a, b, _, aa, bb, ab, ba) in enumerate(topology.links.tolist()):
            self.add(f"g{i} = {self.place('G', i)}")
            matrix[aa].append(f"+ g{i}")
            if b < size:
                matrix[bb].append(f"+ g{i}")
                matrix[ab].append(f"- g{i}")
                matrix[ba].append(f"- g{i}")
            else:
                steady[a].append(f"+ g{i} * {self.place('T', b)}")
            if carry in NEWTON:
                self.add(f"j{i} = {self.place('J', i)}")
                steady[a].append(f"+ j{i}")
                steady[b].append(f"- j{i}")
        for i, (up, down, dd, du, _) in enumerate(topology.flows.tolist()):
            self.add(f"f{i} = {self.place('F', i)}")
            matrix[dd].append(f"+ f{i}")
            if du >= 0:
                matrix[du].append(f"- f{i}")
            else:
                steady[down].append(f"+ f{i} * {self.place('T', up)}")
        for i in range(size):
            self.add(f"t{i} = {self.place('T', i)}")
            self.add(f"c{i} = {self.place('C', i)} * h")
            matrix[slots[i, i]].append(f"+ c{i}")
            self.add(f"k{i} = " + " ".join(steady[i]))
        for slot, terms in matrix.items():
            self.add(f"a{slot} = 0.0 " + " ".join(terms))

    def factorise(self) -> None:
        """Carry the planned elimination out."""
        for operation, x, y, z in self.topology.elimination.factor.tolist():
            if operation == INVERT:
                self.add(f"a{x} = 1.0 / a{x}")
            elif operation == SCALE:
                self.add(f"a{x} = a{x} * a{y}")
            else:
                self.add(f"a{x} = a{x} - a{y} * a{z}")

    def solve(self, name: str) -> None:
        """Substitute forwards and backwards for the right-hand side called `name`."""
        plan = self.topology.elimination
        for i, slot, k in plan.forward.tolist():
            self.add(f"{name}{i} = {name}{i} - a{slot} * {name}{k}")
        for i, slot, k in plan.backward.tolist():
            if i == k:
                self.add(f"{name}{i} = {name}{i} * a{slot}")
            else:
                self.add(f"{name}{i} = {name}{i} - a{slot} * {name}{k}")
