"""Columns in words, families that are told apart, settings as people read them."""

from __future__ import annotations

import pytest

from boilerfront.model.glossary import COLUMNS
from boilerfront.model.variables import FAMILIES
from boilerfront.results.page.labels import MARKERS, families_of, plain_words
from boilerfront.results.page.settings import sections_of, value_text


@pytest.mark.parametrize(
    ("name", "unit", "words"),
    [
        ("shot_deviation_K", "K", "shot deviation"),
        ("energy_kWh_day", "kWh", "energy per day"),
        ("part_cost", "EUR", "part cost"),
        ("steam_set_point_C", "°C", "steam set point"),
        ("margin_watt_density_W_cm2", "W/cm²", "watt density"),
        ("pressure_volume_bar_L", "bar L", "pressure volume"),
        ("warm_up_s_nominal", "s", "warm up"),
        ("peak_current_A@120 V", "A", "peak current (120 V)"),
        ("flicker_Pst", "", "flicker Pst"),
    ],
)
def test_names_in_words(name: str, unit: str, words: str) -> None:
    assert plain_words(name, unit) == words


def test_no_label_repeats_its_unit() -> None:
    for column in COLUMNS.values():
        words = plain_words(column.name, column.unit).split()
        assert words
        assert column.unit not in words


def test_families_keep_their_looks_whatever_is_beside_them() -> None:
    alone = families_of([], ["dual_boiler_coil"])
    both = families_of(FAMILIES, ["dual_boiler", "dual_boiler_coil"])
    looks = {family.name: (family.marker, family.series) for family in both}
    assert looks["dual_boiler_coil"] == (alone[0].marker, alone[0].series)
    assert len({marker for marker, _ in looks.values()}) == len(looks) <= len(MARKERS)


def test_a_family_that_the_model_does_not_know_is_shown_all_the_same() -> None:
    found = families_of(["toy", "dual_boiler"], ["toy", "toy"])
    assert {(family.name, family.count) for family in found} == {("toy", 2), ("dual_boiler", 0)}
    assert len({family.marker for family in found}) == 2


def test_settings_in_words() -> None:
    sweep = {
        "name": "night",
        "variables": {
            "architecture": {"choices": ["a", "b"]},
            "coil_length_m": {"low": 0.2, "high": 1.6, "log": True},
            "insulation_mm": {"low": 0.0, "high": 20.0, "log": False, "step": 2.5},
            "material": "stainless",
        },
        "duty": {
            "events": [{"kind": "shot", "at_s": 60}, {"kind": "steam", "at_s": 510}],
            "flows": {"fast": {"stop_s": 20}},
        },
        "site": {"pressure_category": True},
    }
    sections = {name: dict(rows) for name, rows in sections_of(sweep)}
    assert sections["sweep"] == {"name": "night"}
    assert sections["variables"] == {
        "architecture": "one of a, b",
        "coil_length_m": "0.2 to 1.6, drawn in the logarithm",
        "insulation_mm": "0 to 20 in steps of 2.5",
        "material": "stainless",
    }
    assert sections["duty"] == {"events": "kind shot, at_s 60\nkind steam, at_s 510"}
    assert sections["duty.flows.fast"] == {"stop_s": "20"}
    assert sections["site"] == {"pressure_category": "yes"}


def test_numbers_lose_no_digit() -> None:
    assert value_text(0.0045) == "0.0045"
    assert value_text(90000.0) == "90000"
    assert value_text(1234567.25) == "1234567.25"
