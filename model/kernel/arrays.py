"""The arrays that the kernel is given and works on; what stands where in them says `layout`."""

from __future__ import annotations

from typing import NamedTuple

from boilerfront.model.kernel.layout import COEFFICIENTS, NV
from boilerfront.model.props.compiled import compiled
from boilerfront.shared.shapes import Floats, Ints

ROWS = ("t", "D1", "D", "C", "G", "J", "F", "Q", "DT", "V", "cp", "numbers", "place", "cell", "first", "step")
"""What the step's buffer holds, in this order; see `Lanes`."""


@compiled
def row_places(
    nodes: int, links: int, path: int, laws: int
) -> tuple[int, int, int, int, int, int, int, int, int, int, int, int, int, int, int, int, int]:
    """Return where each of ROWS begins in the step's buffer, in rows, and how many rows there are in all."""
    d1 = nodes + 2
    d = d1 + nodes
    c = d + nodes
    g = c + nodes
    j = g + links
    f = j + links
    q = f + path
    dt = q + nodes
    v = dt + 1
    cp = v + NV
    numbers = cp + nodes + 2
    place = numbers + 3 * links
    cell = place + laws
    first = cell + laws
    step = first + COEFFICIENTS * laws
    return 0, d1, d, c, g, j, f, q, dt, v, cp, numbers, place, cell, first, step, step + COEFFICIENTS * laws


class Net(NamedTuple):
    """What the kernel needs of a topology (see `network.graph.Topology`), as bare arrays."""

    stores: Ints
    links: Ints
    flows: Ints
    roles: Ints
    laws: Ints
    ranges: Ints  # first, last + 1 of: layers, coil, held, block


class Runs(NamedTuple):
    """All runs of a pool, run first. `design` [runs] picks tables and sizes; `queue` [runs] the events."""

    design: Ints
    queue: Ints
    parameters: Floats  # [runs, NP]
    numbers: Floats  # [runs, links, 3]
    sizes: Floats  # [designs, nodes]
    laws: Floats  # [designs, laws, NX, COEFFICIENTS]
    refill_C: Floats  # [designs, NX]: refill temperature that the feed-forward expects, over the flow grid
    events: Floats  # [queues, events, NE]
    event_counts: Ints  # [queues]
    start_C: Floats  # [runs, nodes] where a run that is switched on begins


class Lanes(NamedTuple):
    """Working arrays of the lanes, lane last; t to step are views of the step's buffer.

    Temperatures T, state S and parameters P are in double precision. All else is in single: what moves a
    temperature within a step needs no more digits, and twice as many lanes fit into a vector and into the cache.
    """

    T: Floats  # [nodes + 2, LANES]
    S: Floats  # [NS, LANES], field by field in memory
    P: Floats  # [NP, LANES], likewise
    start_C: Floats  # [nodes, LANES] where the run begins
    sizes: Floats  # [nodes, LANES]
    buffer: Floats  # [rows x LANES]
    t: Floats  # [nodes + 2, LANES] T, in single precision
    D1: Floats  # [nodes, LANES] what the first stage adds to T, at the screen
    D: Floats  # [nodes, LANES] what the step adds to T
    C: Floats  # [nodes, LANES] J/K
    G: Floats  # [links, LANES] W/K
    J: Floats  # [links, LANES] W: a link carries G (Ta - Tb) - J
    F: Floats  # [path, LANES] flow x heat capacity, W/K
    Q: Floats  # [nodes, LANES] W
    DT: Floats  # [1, LANES] s
    V: Floats  # [NV, LANES]
    cp: Floats  # [nodes + 2, LANES] heat capacity of what flows, J/kgK
    numbers: Floats  # [links, 3, LANES]
    place: Floats  # [laws, LANES] where on its grid a film law is
    cell: Floats  # [laws, LANES] the grid's point below, of which `first` and `step` are
    first: Floats  # [laws, COEFFICIENTS, LANES] film laws at the grid's point below
    step: Floats  # [laws, COEFFICIENTS, LANES] from there to the next point


class Results(NamedTuple):
    """What a pool returns: `out` [runs, NO], `shots` [runs, shots, NH], `record` [rows, NR + nodes]."""

    out: Floats
    shots: Floats
    final_C: Floats  # [runs, nodes] temperatures at the end
    record: Floats
    record_rows: Ints  # [1]
