"""A network small enough to check by hand, advanced by the kernel's own written-out step in plain Python."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from boilerfront.model.kernel.arrays import ROWS, row_places
from boilerfront.model.kernel.layout import (
    LANES,
)
from boilerfront.model.kernel.straight_line import write_solution
from boilerfront.model.network.graph import ROLES, Network, Topology, topology
from boilerfront.shared.shapes import Floats

Advance = Callable[[Floats], None]


def fixed(network: Network) -> Topology:
    """Return the topology; every role is played by the first node."""
    network.roles = dict.fromkeys(ROLES, network.nodes[0])
    return topology(network)


def plain_solution(made: Topology) -> Advance:
    """Return the written-out solution of a step without the compiler."""
    names: dict[str, Any] = {}
    exec(write_solution(made), names)
    solve: Advance = names["solve"]
    return solve


class Small:
    """One network with constant conductances; every lane holds the same numbers."""

    def __init__(self, network: Network) -> None:
        self.topology = fixed(network)
        self.advance = plain_solution(self.topology)
        sizes = len(network.nodes), len(network.links), len(self.topology.flows), len(self.topology.laws)
        *places, end = row_places(*sizes)
        self.buffer: Floats = np.zeros(end * LANES)  # in double precision, as the written-out step takes it
        rows = self.buffer.reshape(end, LANES)
        bounds = [*places, end]
        self.rows = {name: rows[low:high] for name, low, high in zip(ROWS, places, bounds[1:], strict=True)}
        self.rows["T"] = self.rows["t"]
        self.rows["T1"] = np.zeros((sizes[0], LANES))
        self.rows["C"][:] = np.array(network.sizes)[:, None]
        self.rows["G"][:] = np.array([numbers[0] for numbers in network.numbers]).reshape(-1, 1)

    def __getitem__(self, name: str) -> Floats:
        """Return the rows of one array [rows, LANES]."""
        return self.rows[name]

    @property
    def state(self) -> Floats:
        """Return the nodes' temperatures on the first lane."""
        return self.rows["T"][: len(self.topology.names), 0].copy()

    def take_step(self) -> None:
        """Take a step of the length that DT says."""
        self.advance(self.buffer)
        T = self.rows["T"][: len(self.topology.names)]
        self.rows["T1"][:] = T + self.rows["D1"]
        T += self.rows["D"]

    def march(self, dt_s: float, steps: int) -> Floats:
        """Take steps; return the temperatures after each [steps, nodes]."""
        self.rows["DT"][:] = dt_s
        course = []
        for _ in range(steps):
            self.take_step()
            course.append(self.state)
        return np.array(course)

    def dense(self) -> tuple[Floats, Floats]:
        """Return M [nodes, nodes] and K [nodes] of C dT/dt = K - M T, assembled term by term."""
        size = len(self.topology.names)
        matrix = np.zeros((size, size))
        steady = self.rows["Q"][:, 0].copy()
        T = self.rows["T"][:, 0]
        for i, (_, a, b, *_) in enumerate(self.topology.links.tolist()):
            g, j = self.rows["G"][i, 0], self.rows["J"][i, 0]
            for one, other, sign in ((a, b, 1.0), (b, a, -1.0)):
                if one < size:
                    matrix[one, one] += g
                    steady[one] += sign * j
                    if other < size:
                        matrix[one, other] -= g
                    else:
                        steady[one] += g * T[other]
        for i, (up, down, *_) in enumerate(self.topology.flows.tolist()):
            f = self.rows["F"][i, 0]
            matrix[down, down] += f
            if up < size:
                matrix[down, up] -= f
            else:
                steady[down] += f * T[up]
        return matrix, steady
