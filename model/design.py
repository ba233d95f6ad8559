"""One design: a value for every variable that its architecture has, checked and in SI."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from boilerfront.model.machine import Machine
from boilerfront.model.variables import VARIABLES, Value, Variable
from boilerfront.shared.errors import Fault, InputError


@dataclass(frozen=True)
class Design:
    """A design in SI; the size of what its architecture lacks is zero."""

    architecture: str
    brew_m3: float
    steam_m3: float
    brew_W: float
    steam_W: float
    group_W: float
    coil_m: float
    coil_bore_m: float
    coil_outer_m: float
    coil_material: str
    block_kg: float
    channel_m: float
    restrictor_m: float
    insulation_m: float
    steam_set_C: float
    feed_forward: bool
    saturated: bool
    material: str

    @property
    def heated(self) -> bool:
        """Return whether the group has a heater."""
        return self.group_W > 0.0


def design_faults(values: Mapping[str, Value]) -> list[Fault]:
    """Return what is wrong with a design given by public names."""
    faults = [
        Fault(name, "an unknown variable", "one of " + ", ".join(VARIABLES))
        for name in values
        if name not in VARIABLES
    ]
    faults += [
        fault
        for name, variable in VARIABLES.items()
        if values.get(name) is not None and (fault := _value_fault(variable, values[name]))
    ]
    return faults


def _value_fault(variable: Variable, value: Value) -> Fault | None:
    if variable.kind == "choice":
        allowed = ", ".join(variable.choices)
        return None if value in variable.choices else Fault(variable.name, repr(value), f"one of {allowed}")
    inside = isinstance(value, int | float) and variable.low <= value <= variable.high
    return (
        None
        if inside
        else Fault(variable.name, repr(value), f"{variable.low:g} to {variable.high:g} {variable.unit}")
    )


def read_design(values: Mapping[str, Value], machine: Machine) -> Design:
    """Return the design with every default filled in; raises `InputError` with all faults."""
    faults = design_faults(values)
    if faults:
        raise InputError(faults)

    def number(name: str) -> float:
        if architecture not in VARIABLES[name].architectures:
            return 0.0
        value = values.get(name)
        default = VARIABLES[name].default
        return float(default if value is None else value)  # type: ignore[arg-type]

    def choice(name: str) -> str:
        return str(values.get(name) or VARIABLES[name].default)

    architecture = choice("architecture")
    has_coil = architecture in VARIABLES["coil_length_m"].architectures
    bore_m = number("coil_bore_mm") * 1e-3
    outer = values.get("coil_outer_mm")
    tube = choice("coil_material")
    outer_m = bore_m + 2e-3 * machine.coil.tube_wall_mm(tube) if outer is None else float(outer) * 1e-3
    if has_coil and outer_m < bore_m + 0.6e-3:
        allowed = f"at least the bore and 0.6 mm, {1e3 * bore_m + 0.6:.1f} mm"
        raise InputError([Fault("coil_outer_mm", f"{1e3 * outer_m:g}", allowed)])
    return Design(
        architecture=architecture,
        brew_m3=number("brew_volume_mL") * 1e-6,
        steam_m3=number("steam_volume_mL") * 1e-6,
        brew_W=number("brew_power_W"),
        steam_W=number("steam_power_W"),
        group_W=number("group_power_W"),
        coil_m=number("coil_length_m"),
        coil_bore_m=bore_m,
        coil_outer_m=outer_m if has_coil else 0.0,
        coil_material=tube if has_coil else "",
        block_kg=number("block_mass_kg"),
        channel_m=number("channel_length_m"),
        restrictor_m=number("restrictor_mm") * 1e-3,
        insulation_m=number("insulation_mm") * 1e-3,
        steam_set_C=number("steam_set_point_C"),
        feed_forward=choice("control") == "pid_ff",
        saturated=choice("group_link") == "saturated",
        material=choice("material"),
    )
