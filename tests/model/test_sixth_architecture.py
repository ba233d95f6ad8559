"""A sixth architecture takes one function and its registration: a block that brews beside a boiler that steams."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import pytest

from boilerfront.model import VARIABLES, evaluate_many, simulate
from boilerfront.model.architectures import ARCHITECTURES, register
from boilerfront.model.assemblies.assembly import Assembly
from boilerfront.model.assemblies.block import add_block
from boilerfront.model.assemblies.group_head import hang_on_vessel, offset_for_group_K
from boilerfront.model.assemblies.plant import Plant, Setting
from boilerfront.model.assemblies.steam_vessel import add_steam_vessel, size_steam_vessel
from boilerfront.model.brief import Brief
from boilerfront.model.design import Design
from boilerfront.model.runs import forget_kinds
from boilerfront.model.variables import FAMILIES, Value
from boilerfront.shared.errors import InputError
from tests.model.random_designs import NOMINAL, number

NAME = "block_and_boiler"
HAS = (
    *("architecture", "brew_power_W", "block_mass_kg", "channel_length_m", "control", "group_link"),
    *("group_power_W", "steam_volume_mL", "steam_power_W", "steam_set_point_C", "insulation_mm", "material"),
)


def build(design: Design, brief: Brief) -> Plant:
    """Build the plant of a design."""
    a = Assembly(design, brief)
    hang_on_vessel(a, outlet=add_block(a))
    add_steam_vessel(a, size_steam_vessel(a), helix=None, set_C=design.steam_set_C)
    return a.finish(Setting("brew", partial(offset_for_group_K, a)))


@pytest.fixture
def _registered() -> Iterator[None]:
    before = VARIABLES["architecture"]
    register(NAME, build, HAS)
    yield
    VARIABLES["architecture"] = before
    del FAMILIES[NAME], ARCHITECTURES[NAME]
    forget_kinds(NAME)


@pytest.mark.usefixtures("_registered")
def test_it_is_rated_like_any_other() -> None:
    design: dict[str, Value] = {
        "architecture": NAME,
        "brew_power_W": 900.0,
        "steam_power_W": 1200.0,
        "control": "pid_ff",
    }
    row = evaluate_many([design], NOMINAL)[0]
    assert row["reason"] is None
    assert row["fault"] is None
    assert abs(number(row, "energy_residual")) < 1e-3
    assert row["swing_up_s"] is None  # its steam is kept hot
    assert number(row, "steam_in_band_s") > 0.0
    trace = simulate(design, NOMINAL)
    assert {"block_8_C", "steam_C", "shot_C"} <= set(trace.table())


def test_without_registration_it_is_unknown() -> None:
    with pytest.raises(InputError, match="thermoblock"):
        evaluate_many([{"architecture": NAME}], NOMINAL)
