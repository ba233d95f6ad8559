"""The arrays that the kernel is given and works on; what stands where in them says `layout`."""

from __future__ import annotations

from typing import NamedTuple

from boilerfront.model.props.compiled import compiled
from boilerfront.shared.shapes import Floats, Ints


@compiled
def row_places(nodes: int, links: int, path: int) -> tuple[int, int, int, int, int, int, int, int, int]:
    """Return where T, T1, C, G, J, F, Q and DT begin in the step's buffer, in rows, and how many rows it has."""
    t1 = nodes + 2
    c = t1 + nodes
    g = c + nodes
    j = g + links
    f = j + links
    q = f + path
    dt = q + nodes
    return 0, t1, c, g, j, f, q, dt, dt + 1


class Net(NamedTuple):
    """What the kernel needs of a topology (see `network.graph.Topology`), as bare arrays."""

    stores: Ints
    links: Ints
    flows: Ints
    roles: Ints
    laws: Ints
    ranges: Ints  # first, last + 1 of: layers, coil, held, block
    to_room: Ints  # links that end at the room


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
    """Working arrays of the lanes, lane last; T to DT are views of the step's buffer."""

    buffer: Floats  # [rows x LANES]
    T: Floats  # [nodes + 2, LANES]
    T1: Floats  # [nodes, LANES] first stage
    C: Floats  # [nodes, LANES] J/K
    G: Floats  # [links, LANES] W/K
    J: Floats  # [links, LANES] W: a link carries G (Ta - Tb) - J
    F: Floats  # [path, LANES] flow x heat capacity, W/K
    Q: Floats  # [nodes, LANES] W
    DT: Floats  # [1, LANES] s
    S: Floats  # [NS, LANES], field by field in memory
    P: Floats  # [NP, LANES], likewise
    V: Floats  # [NV, LANES]
    numbers: Floats  # [links, 3, LANES]
    sizes: Floats  # [nodes, LANES]
    start_C: Floats  # [nodes, LANES] where the run begins
    rows: Floats  # [laws, COEFFICIENTS, LANES] film laws at the present flow or temperature
    first: Floats  # [laws, COEFFICIENTS, LANES] film laws at the grid's point below
    step: Floats  # [laws, COEFFICIENTS, LANES] from there to the next point
    place: Floats  # [laws, LANES] where on the grid
    cell: Floats  # [laws, LANES] the grid's point below, of which `first` and `step` are
    cp: Floats  # [nodes + 2, LANES] heat capacity of what flows, J/kgK


class Results(NamedTuple):
    """What a pool returns: `out` [runs, NO], `shots` [runs, shots, NH], `record` [rows, NR + nodes]."""

    out: Floats
    shots: Floats
    final_C: Floats  # [runs, nodes] temperatures at the end
    record: Floats
    record_rows: Ints  # [1]
