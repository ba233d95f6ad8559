"""A machine while it is put together: components add to it, `finish` makes the plant of it."""

from __future__ import annotations

import numpy as np

from boilerfront.model.assemblies.plant import Circuit, Part, Plant, Setting, Waterline
from boilerfront.model.brief import Brief
from boilerfront.model.design import Design
from boilerfront.model.kernel.layout import NX
from boilerfront.model.network.graph import INLET, NO_LAW, ROOM, Carry, Network, Store
from boilerfront.model.parts.element import Element
from boilerfront.model.parts.envelope import Packed
from boilerfront.model.parts.helix import Helix
from boilerfront.model.parts.vessel import Vessel
from boilerfront.shared.shapes import Floats

CASING = "casing"
FRAME_MINUTES = 14.0
"""Assembly of what every machine has: frame, pump, wiring, wand (our judgement)."""
CASING_PARTS = (("controller", ""), ("valve", "group"), ("wand", ""))
"""What every machine has, and what it belongs to; the valve is the group's."""
PUMPS = {"vibration": "pump", "rotary": "pump_rotary"}
"""The price book's item of each kind of pump."""


class Assembly:
    """The design, its surroundings and all that components have added so far."""

    def __init__(self, design: Design, brief: Brief) -> None:
        self.design = design
        self.brief = brief
        self.machine = brief.machine
        self.net = Network()
        self.net.path.append(INLET)
        self.tables: list[Floats] = []
        self.vessels: dict[str, Vessel] = {}
        self.elements: dict[str, Element] = {}
        self.circuits: dict[str, Circuit] = {}
        self.parameters: dict[int, float] = {}
        self.helix: Helix | None = None
        self.fit_m: float | None = None
        self.packed: list[Packed] = []
        self.steaming: set[str] = set()
        self.waterline: Waterline | None = None
        self.refill_C: Floats = np.full(NX, brief.site.inlet_C)
        self.minutes = FRAME_MINUTES
        self.mass_kg = 0.0
        self._bill: dict[tuple[str, str], float] = {}
        for item, of in CASING_PARTS:
            self.buy(item, 1.0, of=of)
        self.buy(PUMPS[brief.machine.pump.kind], 1.0)

    def law(self, name: str, follows: str, table: Floats) -> int:
        """Add a film law with its table [NX, COEFFICIENTS], once for each name; return its number."""
        if name in self.net.laws:
            return list(self.net.laws).index(name)
        self.tables.append(table)
        return self.net.law(name, follows)

    def node(self, name: str, store: Store, size: float) -> str:
        """Add a node."""
        return self.net.node(name, store, size)

    def link(self, carry: Carry, a: str, b: str, *numbers: float, law: int = NO_LAW) -> None:
        """Join two nodes (or ROOM)."""
        self.net.link(carry, a, b, numbers, law=law)

    def buy(self, item: str, quantity: float, *, of: str = "") -> None:
        """Add to the bill of parts; `of` is the circuit, vessel or coil that it belongs to, empty for the machine."""
        self._bill[item, of] = self._bill.get((item, of), 0.0) + quantity

    def heat(self, name: str, circuit: Circuit) -> None:
        """Heat a body: its circuit, and on the bill its watts, its sensor and the cut-out that it never lacks."""
        self.circuits[name] = circuit
        self.buy("element", circuit.power_W, of=name)
        self.buy("sensor", 1.0, of=name)
        self.buy("thermal_cut_out", 1.0, of=name)

    def finish(self, setting: Setting) -> Plant:
        """Close the casing and return the plant."""
        casing = self.machine.casing
        self.node(CASING, Store.SOLID, casing.heat_capacity_J_K)
        self.link(Carry.FIXED, CASING, ROOM, casing.to_room_W_K)
        return Plant(
            design=self.design,
            network=self.net,
            laws=np.array(self.tables),
            refill_C=self.refill_C,
            vessels=self.vessels,
            elements=self.elements,
            circuits=self.circuits,
            helix=self.helix,
            fit_m=self.fit_m,
            setting=setting,
            parameters=self.parameters,
            packed=tuple(self.packed),
            steaming=frozenset(self.steaming),
            waterline=self.waterline,
            parts=tuple(Part(item, quantity, of) for (item, of), quantity in self._bill.items()),
            assembly_minutes=self.minutes,
            mass_kg=self.mass_kg,
        )
