"""The compiled functions are plain Python too: without the compiler they give the same numbers."""

import json
import os
import subprocess
import sys

import pytest

# One line of Python for both sides: every property and law at three points of its range.
EVALUATE = """
import json
from boilerfront.model.laws import closed_forms, external, friction, internal, phase
from boilerfront.model.props import air, water
calls = {
    water: [(f, (T,)) for T in (5.0, 93.0, 150.0) for f in (
        "density enthalpy heat_capacity viscosity conductivity prandtl expansion surface_tension "
        "saturation_pressure steam_density evaporation_enthalpy steam_enthalpy liquid_energy steam_energy"
    ).split()] + [("saturation_temperature", (p,)) for p in (0.5e5, 2.2e5, 9e5)],
    air: [(f, (T,)) for T in (5.0, 60.0, 140.0) for f in (
        "density heat_capacity viscosity conductivity kinematic_viscosity diffusivity prandtl expansion "
        "pressure_at_altitude"
    ).split()],
    internal: [(f, (Re, 3.0, 0.08)) for Re in (0.0, 900.0, 3000.0, 12000.0, 40000.0)
               for f in ("nusselt_helical", "nusselt_straight")] + [("reynolds", (0.002, 0.004, 60.0))],
    friction: [("tube_pressure_drop", (m, 0.004, 1.5, d, 60.0))
               for m in (0.0, 0.002, 0.02) for d in (0.0, 0.08)],
    external: [(f, (T, 60.0, 0.05)) for T in (20.0, 60.0, 120.0) for f in (
        "horizontal_cylinder_in_water horizontal_cylinder_in_air "
        "vertical_plate_in_water vertical_plate_in_air"
    ).split()] + [("radiation_coefficient", (0.3, 93.0, 22.0))],
    phase: [("film_condensation", (124.0, T, 0.006)) for T in (40.0, 120.0, 126.0)]
           + [("pool_boiling", (2.2e5, dT)) for dT in (-1.0, 0.0, 8.0)]
           + [("critical_heat_flux", (124.0,))]
           + [("steam_hole_mass_flux", (p, 1e5, 110.0)) for p in (0.9e5, 1.2e5, 2.2e5)],
    closed_forms: [("effectiveness_isothermal", (NTU,)) for NTU in (0.0, 1.0, 60.0)],
}
print(json.dumps([getattr(module, name)(*a) for module, each in calls.items() for name, a in each]))
"""


def evaluated(*, compiler: bool) -> list[float]:
    environment = os.environ | {"NUMBA_DISABLE_JIT": "0" if compiler else "1"}
    run = subprocess.run(
        [sys.executable, "-c", EVALUATE],
        env=environment,
        capture_output=True,
        text=True,
        check=True,
        timeout=100,
    )
    values: list[float] = json.loads(run.stdout)
    return values


def test_compiled_and_plain_functions_agree() -> None:
    compiled, plain = evaluated(compiler=True), evaluated(compiler=False)
    assert len(compiled) > 100
    assert plain == pytest.approx(compiled, rel=1e-12, abs=1e-300)
