"""A candidate's effects as tables: sorted, signed, in words, and honest about what differs from the ledger."""

from __future__ import annotations

from functools import cache

import pytest

from boilerfront.model import OBJECTIVES, evaluate_many
from boilerfront.model.brief import Brief
from boilerfront.model.limits import Limits
from boilerfront.model.site import Site
from boilerfront.model.tolerances import Tolerances
from boilerfront.results.candidates import Candidate
from boilerfront.results.explain import CHANGE, Explained, explain, for_people, most
from boilerfront.results.resolution import RESOLUTION
from boilerfront.results.schema import Provenance, ledger_schema
from boilerfront.results.show import as_text
from boilerfront.shared.errors import InputError
from tests.model.random_designs import BOOK, number

BRIEF = Brief(prices=BOOK, tolerances=Tolerances(samples=0), limits=Limits(overshoot_K=1.0))
DESIGN: dict[str, float | str | None] = {
    "architecture": "dual_boiler_coil",
    "brew_power_W": 900.0,
    "coil_length_m": 0.5,
}


def offered(name: str, value: object) -> bool:
    """Return what a sweep of half a metre or more of coil could have chosen."""
    return name == "coil_length_m" and isinstance(value, float) and value >= 0.5


def quiet(_: str) -> None:
    """Hear what there is to compute and keep it."""


def candidate(brief: Brief = BRIEF, **ledger: float) -> Candidate:
    schema = ledger_schema([name for name in DESIGN if name != "architecture"], Provenance("r", "h"))
    (row,) = evaluate_many([DESIGN], brief)
    return Candidate(7, "A", "", {"trial": 7, **DESIGN, **row, **ledger}, schema)


@cache
def explained() -> Explained:
    return explain(candidate(), BRIEF, offers=offered, tell=quiet)


def test_rows_are_sorted_by_the_largest_change_that_counts() -> None:
    for table in (explained().variables, explained().tolerances):
        sizes = []
        for row in table.to_pylist():
            worst = max(abs(row[CHANGE + name]) / RESOLUTION[name] for name in OBJECTIVES)
            assert row["effect"] == pytest.approx(worst)
            sizes.append(row["effect"])
        assert sizes == sorted(sizes, reverse=True)


def test_rows_may_be_sorted_by_one_figure() -> None:
    found = explain(candidate(), BRIEF, offers=offered, tell=quiet, by="energy_kWh_day").tolerances
    sizes = [abs(row["change_energy_kWh_day"]) for row in found.to_pylist()]
    assert sizes == sorted(sizes, reverse=True)
    assert found["name"][0].as_py() == "room temperature"
    with pytest.raises(InputError, match="mass_kg"):
        explain(candidate(), BRIEF, offers=offered, tell=quiet, by="mass_kg")


def test_a_hundred_watts_less_stand_there_with_what_they_cost() -> None:
    (row,) = [each for each in explained().variables.to_pylist() if each["after"] == "800 W"]
    was, now = evaluate_many([DESIGN, {**DESIGN, "brew_power_W": 800.0}], BRIEF)
    assert (row["name"], row["before"]) == ("brew_power_W", "900 W")
    for name in OBJECTIVES:
        assert row[CHANGE + name] == pytest.approx(number(now, name) - number(was, name))


def test_what_breaks_is_said() -> None:
    (row,) = [each for each in explained().variables.to_pylist() if each["after"] == "pid_ff"]
    assert row["consequence"].startswith("breaks overshoot_K by ")
    assert row["change_overshoot_K"] > 0.0


def test_tolerances_are_told_in_their_own_terms() -> None:
    words = {(row["name"], row["after"]) for row in explained().tolerances.to_pylist()}
    assert {
        ("mains voltage", "-10 %"),
        ("room temperature", "+6 K"),
        ("brew sensor's error", "-0.15 K"),
        ("power of the brew element", "+5.0 %"),  # 900 W: 5 % are more than 20 W (IEC 60335-1)
        ("power of the group's heater", "+10.0 %"),  # 150 W
        ("limescale on elements and coil", "0.1 mm"),
    } <= words


def test_text_shows_signs_and_fits() -> None:
    for width in (80, 130):
        text = as_text(explained().tolerances, width=width)
        assert all(len(line) <= width for line in text.splitlines())
        assert "+" in text
    assert "site" not in explained().tolerances.column_names


def test_a_ledger_of_another_model_is_noticed() -> None:
    assert explained().notes == ()
    (note,) = explain(candidate(warm_up_s=1000.0), BRIEF, offers=offered, tell=quiet).notes
    assert "differs from the ledger" in note
    assert "instead of 1000" in note


def test_what_the_sweep_could_not_choose_is_marked() -> None:
    table = explained().variables
    coils = {row["after"]: row["in_sweep"] for row in table.to_pylist() if row["name"] == "coil_length_m"}
    assert coils == {"0.300 m": False, "0.700 m": True}
    moved = dict(zip(table["after"].to_pylist(), for_people(table)["moved"].to_pylist(), strict=True))
    assert moved["0.300 m"].endswith("0.300 m*")
    assert moved["0.700 m"].endswith("0.700 m")
    assert all(value is None for value in explained().tolerances["in_sweep"].to_pylist())


def test_a_step_that_the_model_does_not_have_is_said() -> None:
    bare = {**DESIGN, "group_power_W": 0.0}
    (row,) = evaluate_many([bare], BRIEF)
    schema = ledger_schema(["brew_power_W", "coil_length_m", "group_power_W"], Provenance("r", "h"))
    found = explain(
        Candidate(1, None, "", {"trial": 1, **bare, **row}, schema), BRIEF, offers=offered, tell=quiet
    )
    assert "group_power_W 0 W is the least" in found.ends
    assert not any(each["after"] == "-50 W" for each in found.variables.to_pylist())


def test_what_hurts_most_is_said_for_each_objective() -> None:
    said = most(explained().tolerances, None)
    rows = explained().tolerances.to_pylist()
    worst = max(rows, key=lambda row: row["change_warm_up_s"])
    assert f"warm_up_s most by {worst['name']} {worst['after']} (+{worst['change_warm_up_s']:.1f} s)" in said
    assert "part_cost" not in said, "no tolerance changes it"
    assert most(explained().tolerances, "energy_kWh_day").startswith("What hurts: energy_kWh_day most by ")
    assert "Nothing" in most(explained().tolerances.slice(0, 0), None)


def test_a_consequence_stands_under_its_row_at_any_width() -> None:
    table = for_people(explained().variables)
    for width in (60, 80, 130):
        text = as_text(table, width=width, below="consequence")
        assert "breaks overshoot_K by " in text
        assert all(len(line) <= width for line in text.splitlines())


def test_together_is_one_table_for_programs() -> None:
    table = explained().together()
    assert table["kind"].to_pylist().count("variable") == explained().variables.num_rows
    assert table.num_rows == explained().variables.num_rows + explained().tolerances.num_rows


def test_every_site_has_its_tolerances() -> None:
    sites = {"eu": Site(), "us": Site(voltage_V=120.0, current_limit_A=12.0, mains_tolerance=0.05)}
    platform = BRIEF.model_copy(update={"sites": sites})
    heard: list[str] = []
    weak = {**DESIGN, "steam_power_W": 1200.0}
    (row,) = evaluate_many([weak], platform)
    schema = ledger_schema(["brew_power_W", "steam_power_W", "coil_length_m"], Provenance("r", "h"))
    found = explain(
        Candidate(1, None, "", {**weak, **row, "trial": 1}, schema),
        platform,
        offers=offered,
        tell=heard.append,
    )
    assert set(found.tolerances["site"].to_pylist()) == {"eu", "us"}
    assert "2 sites" in heard[0]
    mains = {(r["site"], r["after"]) for r in found.tolerances.to_pylist() if r["name"] == "mains voltage"}
    assert mains == {("eu", "-10 %"), ("eu", "+10 %"), ("us", "-5 %"), ("us", "+5 %")}


def test_what_would_mend_a_design_that_fails_stands_first() -> None:
    # 1450 W at 120 V are more than 12 A: the element never gets its turn; 100 W less are within
    brief = BRIEF.model_copy(update={"site": Site(voltage_V=120.0, current_limit_A=12.0)})
    strong = {**DESIGN, "steam_power_W": 1450.0}
    (row,) = evaluate_many([strong], brief)
    schema = ledger_schema(["brew_power_W", "steam_power_W", "coil_length_m"], Provenance("r", "h"))
    found = explain(
        Candidate(1, None, "", {**strong, **row, "trial": 1}, schema), brief, offers=offered, tell=quiet
    )
    first, *others = found.variables.to_pylist()
    assert (first["name"], first["after"]) == ("steam_power_W", "1350 W")
    assert first["consequence"].startswith("comes through")
    assert all(each["consequence"].startswith("does not come through") for each in others)
    assert found.tolerances.num_rows == 0
    assert "does not come through its duty (not ready)" in found.notes[0]
    assert for_people(found.variables).column_names[-1] == "consequence"
    assert found.limited(2).together().num_rows == 2
