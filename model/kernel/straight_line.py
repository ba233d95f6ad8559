"""The implicit step of a network as straight-line code: its elimination written out, one line an operation.

Interpreted from tables the elimination takes five times as long: every operation has to find its operands
and the compiler cannot keep anything in registers. Written out for one topology it is compiled once, kept on
disk, and run for many machines side by side. All arrays lie in one flat buffer of rows of LANES numbers; each
row's place is known when the code is written, so that the compiler can see that no two rows overlap.

The network is linear once conductances are known: C dT/dt = K - M T. Two stages of a singly diagonally
implicit Runge-Kutta scheme with gamma = 1 - 1/sqrt(2) share one factorised matrix; the scheme is second order,
L-stable and stiffly accurate (R. Alexander, SIAM J. Numer. Anal. 14 (1977) 1006-1021), so a short coil at high
flow needs no small steps. Heat is conserved to rounding: what leaves one node enters the next.

Solved for are the changes of temperature, from the heat that flows at the step's beginning: they need fewer digits
than temperatures do. The code takes the precision of its buffer, single where it is compiled.
"""

from __future__ import annotations

from boilerfront.model.kernel.arrays import ROWS, row_places
from boilerfront.model.kernel.layout import (
    COEFFICIENTS,
    GAMMA,
    LANES,
    N_SCREEN,
    V_ALL_FLOW,
    V_COIL_C,
    V_FLOW,
    V_JOINED,
    V_LAYER_C,
    V_LEVEL,
    V_LOOP,
    V_LOSS_W,
    V_SHARE,
    V_TWO_PHASE,
)
from boilerfront.model.network.elimination import INVERT, SCALE
from boilerfront.model.network.graph import CIRCULATING, NEWTON, PUMPED, Carry, Topology

SECOND = (1.0 - GAMMA) / GAMMA
HEADER = '''"""Written by boilerfront.model.kernel.straight_line; changes here are lost."""

from math import inf

from numba import njit, types

from boilerfront.model.kernel.films import (
    air_W_K,
    bath_W_m2K,
    carried_W_K,
    forced_W_K,
    header_W_m2K,
    layers_W_K,
    sheath_W_K,
    tube_W_K,
)
from boilerfront.model.props.compiled import ARITHMETIC
'''


OF_SINGLE = "@njit(types.void(types.float32[::1]), cache=True, **ARITHMETIC)\n"
OF_ANY = "@njit(cache=True, **ARITHMETIC)\n"
NOT_COMPILED = ""
"""How a function is compiled: for a buffer of single precision, of any, or not."""


def write_step(topology: Topology) -> str:
    """Return the source of a module with `advance(w)`, a step of every lane of the buffer `w`, of single precision.

    It takes the conductances G and J at what `films.prepare` has laid out, fills D1 and D, and finds each lane's
    hottest layer and coil water, and what the step lost to the room.
    """
    lines = _Lines(topology)
    lines.take()
    lines.step()
    lines.look_over()
    return HEADER + lines.function("advance", OF_SINGLE)


def write_conductances(topology: Topology) -> str:
    """Return the source of a module with `conductances(w)`: G, J and F alone, for another solver of the network."""
    lines = _Lines(topology)
    lines.take()
    lines.keep_flows()
    return HEADER + lines.function("conductances", OF_ANY)


def write_solution(topology: Topology) -> str:
    """Return the source of the function `solve(w)`: the step alone, for a network with G, J and F given."""
    lines = _Lines(topology)
    lines.read()
    lines.step()
    lines.keep_first_stage()
    return lines.function("solve", NOT_COMPILED)


class _Lines:
    """The lines of a loop's body; variables are named by kind and number: g3 is the conductance of link 3."""

    def __init__(self, topology: Topology) -> None:
        self.topology = topology
        self.lines: list[str] = []
        sizes = len(topology.names), len(topology.links), len(topology.flows), len(topology.laws)
        self._places = dict(zip(ROWS, row_places(*sizes), strict=False))
        self._read: set[str] = set()

    def function(self, name: str, decorator: str) -> str:
        """Return the source of a function with these lines for every lane."""
        head = f"def {name}(w):\n    number = w.dtype.type\n    for lane in range({LANES}):\n"
        return f"\n\n{decorator}{head}" + "".join(f"        {line}\n" for line in self.lines)

    def add(self, line: str) -> None:
        self.lines.append(line)

    def row(self, array: str, row: int) -> str:
        return f"w[{(self._places[array] + row) * LANES} + lane]"

    def once(self, name: str, value: str) -> str:
        """Give a value its name where it has none yet; return the name."""
        if name not in self._read:
            self._read.add(name)
            self.add(f"{name} = {value}")
        return name

    def t(self, node: int) -> str:
        """Name a node's temperature at the step's beginning."""
        return self.once(f"t{node}", self.row("t", node))

    def v(self, place: int) -> str:
        return self.once(f"v{place}", self.row("V", place))

    def law(self, law: int) -> str:
        """Name a film law's coefficients at the present x: linear between the grid's points."""
        along = self.once(f"x{law}", f"{self.row('place', law)} - {self.row('cell', law)}")
        rows = range(COEFFICIENTS * law, COEFFICIENTS * (law + 1))
        terms = [f"{self.row('first', k)} + {along} * {self.row('step', k)}" for k in rows]
        return self.once(f"l{law}", f"({', '.join(terms)})")

    def numbers(self, link: int) -> list[str]:
        return [self.row("numbers", 3 * link + k) for k in range(3)]

    def take(self) -> None:
        """Take each link's conductance (g) and, where its kind has one, offset (j), and keep them; take flows (f)."""
        for i, (carry, a, b, law, *_) in enumerate(self.topology.links.tolist()):
            self._take_link(i, Carry(carry), a, b, law)
        self._take_flows()
        self._keep()

    def _take_link(self, i: int, carry: Carry, a: int, b: int, law: int) -> None:
        p0, p1, p2 = self.numbers(i)
        if carry == Carry.FORCED:
            self.add(f"g{i} = forced_W_K(number, {self.law(law)}, {p0}, {self.t(a)})")
        elif carry in (Carry.BATH, Carry.HEADER):
            difference = f"{self.t(b)} - {self.t(a)}"
            if carry == Carry.BATH:
                laws = f"{self.law(law)}, {self.law(law + 1)}"
                film = f"bath_W_m2K(number, {laws}, {self.v(V_SHARE)}, {difference})"
            else:
                film = f"header_W_m2K(number, {self.law(law)}, {self.v(V_LEVEL)}, {difference})"
            # The link before is the film inside the same piece of tube.
            flow = self.v(V_ALL_FLOW)
            self.add(f"g{i - 1}, g{i} = tube_W_K(number, {p0} * {film}, g{i - 1}, {p1}, {flow})")
        elif carry == Carry.SHEATH:
            laws = f"{self.law(law)}, {self.law(law + 1)}"
            last = f"({self.row('G', i)}, {self.row('J', i)})"
            ends = f"({self.t(a)}, {self.t(b)})"
            self.add(f"g{i}, j{i} = sheath_W_K(number, {laws}, ({p0}, {p1}, {p2}), {ends}, {last})")
        elif carry == Carry.LAYERS:
            jet = f"{self.v(V_FLOW)} * {self.row('cp', a)}"
            excess = f"{self.t(a)} - {self.t(b)}"
            numbers = f"({p0}, {p1}, {p2})"
            self.add(f"g{i}, j{i} = layers_W_K(number, {numbers}, {excess}, {jet}, {self.v(V_TWO_PHASE)})")
        elif carry == Carry.AIR:
            self.add(f"g{i} = air_W_K(number, {self.law(law)}, {p0}, {p1}, {self.t(a)}, {self.t(b)})")
        elif carry == Carry.JOINT:
            self.add(f"g{i} = {p0} * {self.v(V_JOINED)}")
        else:
            self.add(f"g{i} = {self.row('G', i)}")

    def _take_flows(self) -> None:
        """Take flow times heat capacity (f) of each flow."""
        for i, (up, down, _, _, what) in enumerate(self.topology.flows.tolist()):
            carried = {PUMPED: V_FLOW, CIRCULATING: V_LOOP}.get(what, V_ALL_FLOW)
            heat = f"{self.row('cp', up)}, {self.row('cp', down)}, {self.t(up)} - {self.t(down)}"
            self.add(f"f{i} = carried_W_K(number, {self.v(carried)}, {heat})")

    def read(self) -> None:
        """Read conductances, offsets and flows from the buffer."""
        for i, (carry, *_) in enumerate(self.topology.links.tolist()):
            self.add(f"g{i} = {self.row('G', i)}")
            if carry in NEWTON:
                self.add(f"j{i} = {self.row('J', i)}")
        for i in range(len(self.topology.flows)):
            self.add(f"f{i} = {self.row('F', i)}")

    def _keep(self) -> None:
        """Write the links' conductances and offsets into the buffer."""
        for i, (carry, *_) in enumerate(self.topology.links.tolist()):
            if carry != Carry.FIXED:
                self.add(f"{self.row('G', i)} = g{i}")
            if carry in NEWTON:
                self.add(f"{self.row('J', i)} = j{i}")

    def keep_flows(self) -> None:
        """Write the flows' heat capacities into the buffer."""
        for i in range(len(self.topology.flows)):
            self.add(f"{self.row('F', i)} = f{i}")

    def step(self) -> None:
        """Solve for the changes of temperature: of the first stage, b, and of the step, d."""
        self._sum_up()
        self._factorise()
        size = len(self.topology.names)
        for i in range(size):
            self.add(f"b{i} = k{i}")
        self._solve("b")
        for i in range(size):
            self.add(f"d{i} = k{i} + c{i} * number({SECOND!r}) * b{i}")
        self._solve("d")
        for i in range(size):
            self.add(f"{self.row('D', i)} = d{i}")

    def keep_first_stage(self) -> None:
        """Write what the first stage adds to every node into the buffer."""
        for i in range(len(self.topology.names)):
            self.add(f"{self.row('D1', i)} = b{i}")

    def look_over(self) -> None:
        """Note what the accounts ask of a step: first stage at the screen, hottest water, heat lost to the room."""
        topology = self.topology
        screen = int(topology.roles[N_SCREEN])
        self.add(f"{self.row('D1', screen)} = b{screen}")
        for place, nodes in ((V_LAYER_C, topology.layers), (V_COIL_C, topology.coil)):
            hottest = "number(-inf)"
            for node in range(*nodes):
                hottest = f"max({hottest}, {self.t(node)} + d{node})"
            self.add(f"{self.row('V', place)} = {hottest}")
        lost = ["number(0.0)"]
        for i, (_, a, b, *_) in enumerate(topology.links.tolist()):
            if b == topology.room:
                mean = f"number({1.0 - GAMMA!r}) * b{a} + number({GAMMA!r}) * d{a}"
                lost.append(f"g{i} * ({self.t(a)} - {self.t(b)} + {mean})")
        self.add(f"{self.row('V', V_LOSS_W)} = " + " + ".join(lost))

    def _sum_up(self) -> None:
        """Sum up matrix (a), heat capacities over time (c) and the heat that each node gains (k)."""
        topology = self.topology
        size = len(topology.names)
        slots = topology.elimination.slots
        matrix: dict[int, list[str]] = {slot: [] for slot in slots.values()}
        gained = {i: [self.row("Q", i)] for i in range(size + 2)}
        self.add(f"h = number(1.0) / (number({GAMMA!r}) * {self.row('DT', 0)})")
        for i, (carry, a, b, _, aa, bb, ab, ba) in enumerate(topology.links.tolist()):
            matrix[aa].append(f"+ g{i}")
            if b < size:
                matrix[bb].append(f"+ g{i}")
                matrix[ab].append(f"- g{i}")
                matrix[ba].append(f"- g{i}")
            offset = f" - j{i}" if carry in NEWTON else ""
            self.add(f"q{i} = g{i} * ({self.t(a)} - {self.t(b)}){offset}")
            gained[a].append(f"- q{i}")
            gained[b].append(f"+ q{i}")
        for i, (up, down, dd, du, _) in enumerate(topology.flows.tolist()):
            matrix[dd].append(f"+ f{i}")
            if du >= 0:
                matrix[du].append(f"- f{i}")
            gained[down].append(f"+ f{i} * ({self.t(up)} - {self.t(down)})")
        for i in range(size):
            self.add(f"c{i} = {self.row('C', i)} * h")
            matrix[slots[i, i]].append(f"+ c{i}")
            self.add(f"k{i} = " + " ".join(gained[i]))
        for slot, terms in matrix.items():
            self.add(f"a{slot} = " + " ".join(terms or ["number(0.0)"]))

    def _factorise(self) -> None:
        """Carry the planned elimination out."""
        for operation, x, y, z in self.topology.elimination.factor.tolist():
            if operation == INVERT:
                self.add(f"a{x} = number(1.0) / a{x}")
            elif operation == SCALE:
                self.add(f"a{x} = a{x} * a{y}")
            else:
                self.add(f"a{x} = a{x} - a{y} * a{z}")

    def _solve(self, name: str) -> None:
        """Substitute forwards and backwards for the right-hand side called `name`."""
        plan = self.topology.elimination
        for i, slot, k in plan.forward.tolist():
            self.add(f"{name}{i} = {name}{i} - a{slot} * {name}{k}")
        for i, slot, k in plan.backward.tolist():
            if i == k:
                self.add(f"{name}{i} = {name}{i} * a{slot}")
            else:
                self.add(f"{name}{i} = {name}{i} - a{slot} * {name}{k}")
