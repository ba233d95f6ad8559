"""Thermoblock, single boiler and heat exchanger answer as a practitioner expects, over 50 random designs each.

Each expectation is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np

from boilerfront.model.kernel import layout as at
from boilerfront.model.runs import Request
from boilerfront.model.tolerances import NOMINAL as MACHINE
from tests.model.random_designs import (
    ISOLATED,
    Design,
    Row,
    compare,
    number,
    random_designs,
    share_that_holds,
)
from tests.validate.machines import pool_of

MOST = 0.9
USER_C = 93.0


def scaled(name: str, factor: float) -> Callable[[Design], Design]:
    """Return a change of one variable by a factor."""
    return lambda design: {**design, name: factor * float(design[name] or 0.0)}


def moves(figure: str, sign: float, a: Row, b: Row) -> bool:
    """Say whether a figure goes up (sign 1) or down (sign -1), or cannot be told since one did not come through."""
    if a["reason"] is not None or b["reason"] is not None:
        return True
    return sign * (number(b, figure) - number(a, figure)) > 0.0


def share_that_moves(
    architecture: str, seed: int, change: Callable[[Design], Design], figure: str, sign: float
) -> float:
    designs = random_designs(50, seed, architecture=architecture)
    pairs = compare(designs, change)
    assert sum(a["reason"] is None and b["reason"] is None for a, b in pairs) >= 20
    return share_that_holds(
        f"{architecture}: {figure}", designs, pairs, partial(moves, figure, sign), [figure]
    )


def test_a_fast_shot_leaves_a_block_colder_and_a_slow_one_hotter() -> None:
    designs = random_designs(50, 61, architecture="thermoblock")
    pool = pool_of(*designs, brief=ISOLATED)
    ran = pool.run([Request(i, USER_C, 0.0, MACHINE) for i in range(len(designs))])
    fast, slow = ran.shots[:, 0, at.H_MEAN], ran.shots[:, 1, at.H_MEAN]
    assert np.mean(fast < slow) >= MOST


def test_a_heavier_block_is_later_in_its_band_and_swings_more_slowly() -> None:
    heavier = scaled("block_mass_kg", 1.3)
    assert share_that_moves("thermoblock", 62, heavier, "brew_in_band_s", 1.0) >= MOST
    assert share_that_moves("thermoblock", 62, heavier, "swing_up_s", 1.0) >= MOST


def test_a_block_with_more_watts_swings_up_sooner() -> None:
    assert share_that_moves("thermoblock", 63, scaled("brew_power_W", 1.2), "swing_up_s", -1.0) >= MOST


def test_a_block_takes_from_brewing_to_steam_what_its_heat_takes() -> None:
    """Lower bound: metal and water of the block from 93 to 162 °C at full power, no loss."""
    rng_designs = random_designs(50, 64, architecture="thermoblock")
    for design, (row, _) in zip(rng_designs, compare(rng_designs, dict), strict=True):
        if row["reason"] is None:
            metal = float(design["block_mass_kg"] or 0.0) * 920.0 * (162.0 - 96.0)
            shortest = metal / float(design["brew_power_W"] or 1.0)
            assert shortest < number(row, "swing_up_s") < 2.5 * shortest


def test_a_larger_single_boiler_swings_more_slowly_up_and_a_stronger_one_sooner() -> None:
    assert share_that_moves("single_boiler", 65, scaled("brew_volume_mL", 1.3), "swing_up_s", 1.0) >= MOST
    assert share_that_moves("single_boiler", 65, scaled("brew_power_W", 1.2), "swing_up_s", -1.0) >= MOST


def test_a_single_boiler_set_hotter_for_steam_swings_longer_and_steams_faster() -> None:
    hotter = scaled("steam_set_point_C", 1.04)
    assert share_that_moves("single_boiler", 66, hotter, "swing_up_s", 1.0) >= MOST
    assert share_that_moves("single_boiler", 66, hotter, "steam_time_s", -1.0) >= MOST


def exchanger_shots(designs: list[Design], steam_C: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the mean errors of the first shot and the flushed water [m3] at a steam set-point."""
    pool = pool_of(*designs)
    ran = pool.run([Request(i, USER_C, steam_C - USER_C, MACHINE) for i in range(len(designs))])
    return ran.shots[:, 0, at.H_MEAN], ran.out[:, at.O_FLUSH_M3]


def test_a_hotter_heat_exchanger_gives_hotter_shots_and_needs_longer_flushes() -> None:
    designs = random_designs(50, 67, architecture="heat_exchanger", heated=False)
    mild, little = exchanger_shots(designs, 112.0)
    hot, much = exchanger_shots(designs, 124.0)
    assert np.mean(hot > mild) >= MOST
    assert np.mean(much >= little) >= 0.8  # a run cut short by waiting has flushed less
    assert np.all(much > 0.0)  # after idling the tube is near steam temperature: no shot without a flush


def test_a_longer_tube_is_trimmed_to_less_steam() -> None:
    longer = scaled("coil_length_m", 1.25)
    assert share_that_moves("heat_exchanger", 68, longer, "trim_offset_K", -1.0) >= MOST


def test_a_narrower_restrictor_leaves_an_unheated_group_colder() -> None:
    designs = random_designs(50, 69, architecture="heat_exchanger", heated=False)
    narrow = [scaled("restrictor_mm", 0.7)(design) for design in designs]
    settled = []
    for family in (designs, narrow):
        pool = pool_of(*family)
        node = int(pool.net.roles[at.N_GROUP])
        ran = pool.run([Request(i, USER_C, 27.0, MACHINE, settled=True) for i in range(len(family))])
        settled.append(ran.final_C[:, node])
    assert np.mean(settled[1] < settled[0]) >= MOST
