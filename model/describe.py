"""A design in the words of a workshop: bodies, heaters, loops and the way of the water, in mm, mL, W and bar.

What is said here is what the architecture built, so that a drawing or a bill never differs from what was simulated.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.assemblies.plant import CIRCUITS, Plant
from boilerfront.model.brief import Brief
from boilerfront.model.built import steam_gauge_bar
from boilerfront.model.cost import Line, assembly_line, part_lines
from boilerfront.model.design import read_design
from boilerfront.model.kernel import layout as at
from boilerfront.model.parts.element import power_band
from boilerfront.model.parts.tuning import SAMPLE_S
from boilerfront.model.runs import default_user_C
from boilerfront.model.variables import Value

WAY = {
    "inlet": "inlet",
    "coil": "coil",
    "brew": "brew",
    "channel": "block",
    "riser": "riser",
    "passage": "group",
}
"""What the water passes, by the first word of a node's name."""


@dataclass(frozen=True)
class Body:
    """A vessel; sizes inside unless named outer, `height_mm` that of the flat-ended cylinder of its volume."""

    name: str
    steams: bool
    volume_mL: float
    diameter_mm: float
    height_mm: float
    wall_mm: float
    required_wall_mm: float
    end_wall_mm: float
    required_end_wall_mm: float
    ends: str
    material: str
    insulation_mm: float
    outer_diameter_mm: float
    outer_height_mm: float
    mass_kg: float
    valve_bar: float


@dataclass(frozen=True)
class Tube:
    """A helix wound into the steam boiler, with its two straight headers."""

    length_mm: float
    bore_mm: float
    outer_mm: float
    turns: float
    centreline_mm: float
    """Diameter of the helix at the middle of the tube."""
    pitch_mm: float
    height_mm: float
    header_mm: float
    material: str
    mass_kg: float


@dataclass(frozen=True)
class Block:
    """A thermoblock; sizes outside, insulated."""

    mass_kg: float
    channel_mm: float
    bore_mm: float
    width_mm: float
    depth_mm: float
    height_mm: float


@dataclass(frozen=True)
class Loop:
    """The pipes through which water circulates by buoyancy between a heat exchanger and its group."""

    pipe_mm: float
    bore_mm: float
    height_mm: float
    restrictor_mm: float


@dataclass(frozen=True)
class Heater:
    """An element at its rated voltage; `length_mm` and the surface loads are None where it is no immersed sheath.

    The highest current and load are those of the largest power that the element's tolerance allows, at the highest
    mains voltage.
    """

    name: str
    power_W: float
    resistance_ohm: float
    current_A: float
    highest_current_A: float
    sheath_mm: float | None
    length_mm: float | None
    load_W_cm2: float | None
    highest_load_W_cm2: float | None


@dataclass(frozen=True)
class Control:
    """One loop: I-PD, the integral tracking the clamped output; `priority` 1 is served first at the socket."""

    name: str
    priority: int
    set_point_C: float
    gain_W_K: float
    reset_s: float
    tracking_s: float
    dead_time_s: float
    sensor_lag_s: float
    sample_s: float
    window_s: float
    power_W: float
    feed_forward: bool

    @property
    def gain_percent_K(self) -> float:
        """Return the gain in percent of the element's power for a kelvin."""
        return 100.0 * self.gain_W_K / self.power_W


@dataclass(frozen=True)
class Description:
    """A design, described; `way` is what brew water passes, in order. `lines` are parts, `assembly` its labour.

    `trimmed` is the circuit to whose set-point the factory adds `offset_K`; `swings_to_C` the set-point for steam of
    a machine that steams with its brewing heater, `vented_level` the part of its vessel that stays water then,
    `flush_mL` the most that one flush takes, before a shot or after steaming; None where there is no such thing.
    """

    architecture: str
    way: tuple[str, ...]
    bodies: tuple[Body, ...]
    tube: Tube | None
    block: Block | None
    loop: Loop | None
    heaters: tuple[Heater, ...]
    controls: tuple[Control, ...]
    trimmed: str
    swings_to_C: float | None
    vented_level: float | None
    flush_mL: float | None
    user_set_point_C: float
    offset_K: float
    steam_gauge_bar: float | None
    saturated: bool
    lines: tuple[Line, ...]
    assembly: Line
    mass_kg: float

    def body(self, name: str) -> Body | None:
        """Return the vessel of that name, None where there is none."""
        return next((body for body in self.bodies if body.name == name), None)


def describe(design: Mapping[str, Value], brief: Brief, *, offset_K: float) -> Description:
    """Return a design, trimmed by an offset, in words for a workshop; raises `InputError` for a bad design."""
    read = read_design(design, brief.machine)
    plant = ARCHITECTURES[read.architecture].build(read, brief)
    return Description(
        architecture=read.architecture,
        way=_way(plant),
        bodies=tuple(_body(name, plant, brief) for name in plant.vessels),
        tube=_tube(plant, brief),
        block=_block(plant, brief),
        loop=_loop(plant, brief),
        heaters=tuple(_heater(name, plant, brief) for name in CIRCUITS if name in plant.circuits),
        controls=tuple(_control(name, plant, brief, offset_K) for name in CIRCUITS if name in plant.circuits),
        trimmed=plant.setting.circuit,
        swings_to_C=None if "steam" in plant.circuits else plant.parameters.get(at.P_STEAM_SET_C),
        vented_level=plant.parameters.get(at.P_SWING_LEVEL),
        flush_mL=1e6 * plant.parameters[at.P_FLUSH_M3] if at.P_FLUSH_M3 in plant.parameters else None,
        user_set_point_C=default_user_C(brief),
        offset_K=offset_K,
        steam_gauge_bar=steam_gauge_bar(plant, brief, offset_K),
        saturated=read.saturated,
        lines=tuple(part_lines(plant, brief.prices)),
        assembly=assembly_line(plant, brief.prices),
        mass_kg=plant.mass_kg,
    )


def _way(plant: Plant) -> tuple[str, ...]:
    words = (WAY.get(node.partition("_")[0], node) for node in plant.network.path)
    return tuple(dict.fromkeys(words))


def _body(name: str, plant: Plant, brief: Brief) -> Body:
    vessel = plant.vessels[name]
    return Body(
        name=name,
        steams=name in plant.steaming,
        volume_mL=1e6 * vessel.volume_m3,
        diameter_mm=1e3 * vessel.diameter_m,
        height_mm=1e3 * vessel.height_m,
        wall_mm=1e3 * vessel.wall_m,
        required_wall_mm=1e3 * vessel.required_wall_m,
        end_wall_mm=1e3 * vessel.end_wall_m,
        required_end_wall_mm=1e3 * vessel.required_end_wall_m,
        ends=brief.machine.vessels.ends,
        material=plant.design.material,
        insulation_mm=1e3 * plant.design.insulation_m,
        outer_diameter_mm=1e3 * vessel.outer_diameter_m,
        outer_height_mm=1e3 * vessel.outer_height_m,
        mass_kg=vessel.mass_kg,
        valve_bar=1e-5 * vessel.valve_Pa,
    )


def _tube(plant: Plant, brief: Brief) -> Tube | None:
    helix = plant.helix
    if helix is None:
        return None
    return Tube(
        length_mm=1e3 * helix.length_m,
        bore_mm=1e3 * helix.bore_m,
        outer_mm=1e3 * helix.outer_m,
        turns=helix.turns,
        centreline_mm=1e3 * helix.mean_diameter_m,
        pitch_mm=1e3 * helix.outer_m * brief.machine.coil.pitch_to_outer,
        height_mm=1e3 * helix.height_m,
        header_mm=1e3 * helix.header_m,
        material=plant.design.coil_material,
        mass_kg=helix.mass_kg,
    )


def _block(plant: Plant, brief: Brief) -> Block | None:
    if plant.design.block_kg <= 0.0 or "block" not in _way(plant):
        return None
    (packed,) = plant.packed
    return Block(
        mass_kg=plant.design.block_kg,
        channel_mm=1e3 * plant.design.channel_m,
        bore_mm=brief.machine.block.bore_mm,
        width_mm=1e3 * packed.width_m,
        depth_mm=1e3 * packed.depth_m,
        height_mm=1e3 * packed.height_m,
    )


def _loop(plant: Plant, brief: Brief) -> Loop | None:
    if "riser" not in _way(plant):
        return None
    data = brief.machine.circulation
    return Loop(1e3 * data.pipe_m, data.bore_mm, 1e3 * data.height_m, 1e3 * plant.design.restrictor_m)


def _heater(name: str, plant: Plant, brief: Brief) -> Heater:
    power, volts = plant.circuits[name].power_W, brief.site.voltage_V
    element = plant.elements.get(name)
    above = power_band(power)[1] * (1.0 + brief.site.mains_tolerance)
    load = None if element is None else 1e-4 * power / element.area_m2
    return Heater(
        name=name,
        power_W=power,
        resistance_ohm=volts**2 / power,
        current_A=power / volts,
        highest_current_A=power / volts * above,
        sheath_mm=None if element is None else brief.machine.elements.sheath_mm,
        length_mm=None if element is None else 1e3 * element.length_m,
        load_W_cm2=load,
        highest_load_W_cm2=None if load is None else load * above * (1.0 + brief.site.mains_tolerance),
    )


def _control(name: str, plant: Plant, brief: Brief, offset_K: float) -> Control:
    circuit = plant.circuits[name]
    data = brief.machine.control
    return Control(
        name=name,
        priority=1 + CIRCUITS.index(name),
        set_point_C=_set_point_C(name, plant, brief, offset_K),
        gain_W_K=circuit.loop.gain_W_K,
        reset_s=circuit.loop.reset_s,
        tracking_s=data.tracking_to_reset * circuit.loop.reset_s,
        dead_time_s=circuit.loop.dead_time_s,
        sensor_lag_s=circuit.sensor_lag_s,
        sample_s=SAMPLE_S,
        window_s=circuit.window_s,
        power_W=circuit.power_W,
        feed_forward=name == "brew" and plant.design.feed_forward,
    )


def _set_point_C(name: str, plant: Plant, brief: Brief, offset_K: float) -> float:
    """Return the set-point of a circuit at the user's default; the factory trims one of them."""
    user_C = default_user_C(brief)
    if name == plant.setting.circuit:
        return user_C + offset_K
    return user_C + brief.machine.group.offset_K if name == "group" else plant.parameters[at.P_STEAM_SET_C]
