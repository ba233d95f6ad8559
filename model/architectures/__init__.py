"""The architectures that the model knows: one file each, registered here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from boilerfront.model.architectures import dual_boiler
from boilerfront.model.architectures.plant import Plant
from boilerfront.model.brief import Brief
from boilerfront.model.design import Design
from boilerfront.model.network.graph import Network, Topology
from boilerfront.model.variables import VARIABLES


@dataclass(frozen=True)
class Architecture:
    """How a kind of machine is built from a design, and the topology of its network."""

    name: str
    build: Callable[[Design, Brief], Plant]
    topology: Callable[[Network], Topology]

    @property
    def variables(self) -> tuple[str, ...]:
        """Return the names of the variables that this kind of machine has."""
        return tuple(name for name, variable in VARIABLES.items() if self.name in variable.architectures)


ARCHITECTURES: dict[str, Architecture] = {
    architecture.name: architecture
    for architecture in (
        Architecture("dual_boiler", dual_boiler.build, partial(dual_boiler.make_topology, coil=False)),
        Architecture("dual_boiler_coil", dual_boiler.build, partial(dual_boiler.make_topology, coil=True)),
    )
}
