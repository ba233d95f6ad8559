"""A machine as a thermal network: nodes that store heat, links that carry it, one chain of flowing water.

The kernel knows nothing of boilers: it marches any network built from these kinds. What a link's
conductance depends on is its kind; the numbers behind it (areas, tables) come with each run.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import IntEnum

import numpy as np

from boilerfront.model.network.elimination import Elimination, plan
from boilerfront.shared.shapes import Ints


class Store(IntEnum):
    """How a node stores heat; the number that goes with it is the node's size."""

    SOLID = 0
    """Constant heat capacity; size [J/K]."""
    WATER = 1
    """Liquid that fills a volume, what expands leaves; size [m3]."""
    STEAM = 2
    """The two-phase vessel: heat capacity from temperature, mass and volume; size unused."""


class Carry(IntEnum):
    """How a link carries heat between its nodes a and b; its parameters p0, p1, p2."""

    FIXED = 0
    """Constant conductance p0 [W/K]."""
    FORCED = 1
    """Film inside a tube, a is the water; area p0 [m2], law of flow and temperature."""
    BATH = 2
    """Tube in the steam vessel, a is the tube: area p0 [m2], resistance of its wall p1 [K/W]; the immersed share
    of the helix by free convection, the rest by condensation."""
    HEADER = 3
    """As BATH, but it counts only where it is immersed, over the level's share of its length."""
    SHEATH = 4
    """Element to water, a is the sheath; area p0 [m2], boiling point p1 [°C], resistance p2 [K/W] of what lies on
    the sheath (scale), 0 for a clean one; two laws, free convection and boiling, from the outer surface."""
    LAYERS = 5
    """Between water layers, a the lower: p0 [W/K] + p1 (flow x heat capacity) + p2 [W/K2] x excess of a."""
    AIR = 6
    """Surface a to air b: area p0 [m2], free convection by law, radiation of emissivity p1."""
    JOINT = 7
    """The portafilter's joint: p0 [W/K] while it is locked in."""


NEWTON = (Carry.SHEATH, Carry.LAYERS)
"""Kinds whose conductance grows so fast with the difference that the step takes their slope."""
NO_LAW = -1
FLOW = "flow"
ALL_FLOW = "all flow"
"""What a film law may follow besides the temperature of a node: the pump's flow, or with it what circulates."""
ROOM = "room"
INLET = "inlet"
"""Boundaries: their temperatures are given."""


@dataclass
class Network:
    """Nodes, links and the flows; built by an architecture, then fixed by `topology`.

    `path`: the nodes that the pump's water passes, from INLET to the screen. `loop`: those that water circulates
    through by buoyancy, the first one again at the end. `layers`, `coil`, `held`, `block` are neighbouring nodes:
    the brew water, the coil's water, what the brew loop holds at its set-point, the metal of a thermoblock.
    """

    nodes: list[str] = field(default_factory=list)
    stores: list[Store] = field(default_factory=list)
    sizes: list[float] = field(default_factory=list)
    links: list[tuple[Carry, str, str, int]] = field(default_factory=list)
    numbers: list[tuple[float, float, float]] = field(default_factory=list)
    path: list[str] = field(default_factory=list)
    loop: list[str] = field(default_factory=list)
    laws: dict[str, str] = field(default_factory=dict)
    roles: dict[str, str] = field(default_factory=dict)
    layers: list[str] = field(default_factory=list)
    coil: list[str] = field(default_factory=list)
    held: list[str] = field(default_factory=list)
    block: list[str] = field(default_factory=list)

    def law(self, name: str, follows: str) -> int:
        """Add a film law and return its number; it `follows` FLOW or the temperature of a node."""
        self.laws[name] = follows
        return len(self.laws) - 1

    def node(self, name: str, store: Store, size: float) -> str:
        """Add a node and return its name."""
        self.nodes.append(name)
        self.stores.append(store)
        self.sizes.append(size)
        return name

    def link(self, carry: Carry, a: str, b: str, numbers: tuple[float, ...], *, law: int = NO_LAW) -> None:
        """Join nodes (or the boundary ROOM) `a` and `b`."""
        self.links.append((carry, a, b, law))
        p0, p1, p2 = (*numbers, 0.0, 0.0)[:3]
        self.numbers.append((p0, p1, p2))


ROLES = (
    "brew_sensor",
    "brew_outlet",
    "brew_inlet",
    "brew_element",
    "steam",
    "steam_element",
    "group",
    "portafilter",
    "screen",
    "refill",
    "loop_hot",
    "loop_cold",
)
"""What the duty, control and figures ask of a network: one node each; refill feeds brew_inlet."""

PUMPED, CIRCULATING, BOTH = range(3)
"""What flows from one node to the next: the pump's water, the loop's, or either."""


@dataclass(frozen=True)
class Topology:
    """All that is the same for every machine of an architecture.

    Node indices count the network's nodes, then ROOM, then INLET. `links` [links, 8]: carry, a, b, law and
    the slots (aa, bb, ab, ba), -1 at a boundary. `flows` [flows, 5]: upstream, downstream, the slots (down, down)
    and (down, up), what flows. `layers`, `coil`, `held`, `block` (first, last + 1): ranges of nodes. `roles` as in
    ROLES. `laws` [laws]: the node whose temperature a law follows, -1 for the pump's flow, -2 for all flow.
    """

    names: tuple[str, ...]
    stores: Ints
    links: Ints
    flows: Ints
    roles: Ints
    laws: Ints
    layers: tuple[int, int]
    coil: tuple[int, int]
    held: tuple[int, int]
    block: tuple[int, int]
    elimination: Elimination

    @property
    def room(self) -> int:
        """Return the index of the room."""
        return len(self.names)

    @property
    def inlet(self) -> int:
        """Return the index of the inlet."""
        return len(self.names) + 1


def topology(network: Network) -> Topology:
    """Fix a network."""
    index = {name: i for i, name in enumerate((*network.nodes, ROOM, INLET))}
    size = len(network.nodes)
    pairs = [(index[a], index[b]) for _, a, b, _ in network.links]
    carried = _flows(network)
    flow = [(index[up], index[down]) for up, down in carried]
    inner = [(a, b) for a, b in pairs if a < size and b < size]
    upwind = [(down, up) for up, down in flow if up < size]
    elimination = plan(size, [*inner, *((b, a) for a, b in inner), *upwind])
    slot = elimination.slots

    def slots(a: int, b: int) -> tuple[int, int, int, int]:
        return slot.get((a, a), -1), slot.get((b, b), -1), slot.get((a, b), -1), slot.get((b, a), -1)

    links = [
        (carry, a, b, law, *slots(a, b))
        for (carry, _, _, law), (a, b) in zip(network.links, pairs, strict=True)
    ]
    flows = [
        (up, down, slot[down, down], slot.get((down, up), -1), what)
        for (up, down), what in zip(flow, carried.values(), strict=True)
    ]
    follow = {FLOW: -1, ALL_FLOW: -2}
    roles = _all_roles(network)
    return Topology(
        names=tuple(network.nodes),
        stores=np.array(network.stores, dtype=np.int64),
        links=np.array(links, dtype=np.int64),
        flows=np.array(flows, dtype=np.int64),
        roles=np.array([index[roles[role]] for role in ROLES], dtype=np.int64),
        laws=np.array(
            [follow[node] if node in follow else index[node] for node in network.laws.values()],
            dtype=np.int64,
        ),
        layers=_range(index, network.layers),
        coil=_range(index, network.coil),
        held=_range(index, network.held),
        block=_range(index, network.block),
        elimination=elimination,
    )


def _flows(network: Network) -> dict[tuple[str, str], int]:
    """Return what flows between which nodes."""
    flows = dict.fromkeys(zip(network.path, network.path[1:], strict=False), PUMPED)
    for pair in zip(network.loop, network.loop[1:], strict=False):
        flows[pair] = BOTH if pair in flows else CIRCULATING
    return flows


def _all_roles(network: Network) -> dict[str, str]:
    """Return a node for every role; what a machine has not is played by one that does no harm.

    An element that is not there has no power; a steam sensor that is not there reads what the brew sensor reads.
    """
    idle = network.nodes[-1]
    sensor = network.roles.get("brew_sensor", idle)
    absent = dict.fromkeys(ROLES, idle) | {"steam": sensor, "refill": INLET}
    return absent | network.roles


def _range(index: dict[str, int], names: list[str]) -> tuple[int, int]:
    return (index[names[0]], index[names[-1]] + 1) if names else (0, 0)
