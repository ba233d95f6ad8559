"""The architectures that the model knows: one file each, named in `variables.FAMILIES`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from importlib import import_module

from boilerfront.model.assemblies.plant import Plant
from boilerfront.model.brief import Brief
from boilerfront.model.design import Design
from boilerfront.model.variables import FAMILIES, VARIABLES

Build = Callable[[Design, Brief], Plant]


@dataclass(frozen=True)
class Architecture:
    """How a kind of machine is built from a design, and the variables that it has."""

    name: str
    build: Build

    @property
    def variables(self) -> tuple[str, ...]:
        """Return the names of the variables that this kind of machine has."""
        return FAMILIES[self.name]


ARCHITECTURES: dict[str, Architecture] = {
    name: Architecture(name, import_module(f"{__name__}.{name}").build) for name in FAMILIES
}


def register(name: str, build: Build, variables: tuple[str, ...]) -> None:
    """Make one more architecture known to this process, under a new name."""
    FAMILIES[name] = variables
    VARIABLES["architecture"] = replace(VARIABLES["architecture"], choices=tuple(FAMILIES))
    ARCHITECTURES[name] = Architecture(name, build)
