"""A sweep file for several markets: which variables differ by site, what is wrong with it, its frozen copy."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from boilerfront.jobs.effort import runs_a_design
from boilerfront.jobs.estimate import warm_up_bound_s
from boilerfront.jobs.frozen import frozen_toml, sweep_hash
from boilerfront.jobs.ranges import ChoiceList, Completion, columns, middle_design, search_space
from boilerfront.jobs.study import StudyWindow
from boilerfront.jobs.sweep import Sweep, load_sweep
from boilerfront.jobs.tables import provenance, sweep_schema
from boilerfront.jobs.work import Work, model_evaluator
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.schema import group_of, metadata_of, table_of
from boilerfront.shared.errors import InputError

PRICES = Path(__file__).parents[2] / "jobs" / "starters" / "compact-230v" / "prices.csv"

SITES = """
[sites.eu]
name = "230 V 10 A"
voltage_V = 230.0
current_limit_A = 10.0

[sites.us]
name = "120 V 15 A"
voltage_V = 120.0
current_limit_A = 12.0
frequency_Hz = 60
mains_tolerance = 0.05
pressure_category = false
"""

PLATFORM = f"""
prices = "{PRICES}"

[variables]
brew_volume_mL = {{ low = 200, high = 800 }}
brew_power_W = {{ choices = [700, 900, 1000], per_site = true }}
steam_power_W = 1300
"steam_power_W@us" = {{ choices = [900, 1000] }}

[tolerances]
samples = 0
{SITES}"""


def load(folder: Path, text: str) -> Sweep:
    path = folder / "platform.toml"
    path.write_text(text, encoding="utf-8")
    return load_sweep(path)


def faults_of(folder: Path, text: str) -> str:
    with pytest.raises(InputError) as caught:
        load(folder, text)
    return str(caught.value)


def test_elements_may_differ_by_site_and_all_else_is_shared(tmp_path: Path) -> None:
    sweep = load(tmp_path, PLATFORM)
    named = [
        name for name in columns(sweep.variables) if name.startswith(("brew_", "steam_power", "group_p"))
    ]
    assert named == [
        "brew_volume_mL",
        "brew_power_W@eu",
        "brew_power_W@us",
        "steam_power_W@eu",
        "steam_power_W@us",
        "group_power_W",
    ]
    assert sweep.variables["brew_power_W@eu"] == sweep.variables["brew_power_W@us"]
    assert sweep.variables["steam_power_W@eu"] == ChoiceList(choices=(1300.0,))
    assert set(search_space(sweep.variables).names) == {
        "brew_volume_mL",
        "brew_power_W@eu",
        "brew_power_W@us",
        "steam_power_W@us",
    }


def test_a_design_has_a_value_for_each_site(tmp_path: Path) -> None:
    sweep = load(tmp_path, PLATFORM)
    chosen = {"brew_volume_mL": 400.0, "brew_power_W@eu": 900.0, "brew_power_W@us": 700.0}
    design = Completion(sweep.variables)({**chosen, "steam_power_W@us": 900.0})
    assert (design["steam_power_W@eu"], design["steam_power_W@us"]) == (1300.0, 900.0)
    assert middle_design(sweep.variables, {"brew_power_W@us": 650.0})["brew_power_W@us"] == 650.0
    with pytest.raises(InputError, match="brew_power_W@uk"):
        middle_design(sweep.variables, {"brew_power_W@uk": 650.0})


def test_the_frozen_copy_loads_again_to_the_same_sweep(tmp_path: Path) -> None:
    sweep = load(tmp_path, PLATFORM)
    again = load(tmp_path, frozen_toml(sweep))
    assert (
        again.variables.items() >= {name: sweep.variables[name] for name in columns(sweep.variables)}.items()
    )
    assert again.model_copy(update={"name": None, "variables": sweep.variables}) == sweep
    assert sweep_hash(again) == sweep_hash(sweep.model_copy(update={"variables": again.variables}))


def test_another_order_of_sites_is_another_sweep(tmp_path: Path) -> None:
    us = SITES[SITES.index("[sites.us]") :]
    turned = PLATFORM.replace(us, "").replace("[sites.eu]", us + "\n[sites.eu]")
    one, other = load(tmp_path, PLATFORM), load(tmp_path, turned)
    assert (one.site.voltage_V, other.site.voltage_V) == (230.0, 120.0), "traces show the first"
    assert sweep_hash(one) != sweep_hash(other)


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        ('"steam_power_W@uk" = 900', ["line 5: variables.steam_power_W@uk", "eu, us"]),
        ('"brew_volume_mL@us" = 300', ["variables.brew_volume_mL@us", "all sites share"]),
        ("insulation_mm = { low = 0, high = 9, per_site = true }", ["insulation_mm", "all sites share"]),
        ("group_power_W = { low = 0, high = 90, per_site = 1 }", ["group_power_W.per_site", "true or false"]),
        (
            '"group_power_W@us" = { low = 90, high = 1000 }',
            ["variables.group_power_W@us.high", "0 to 400 W"],
        ),
        ('"group_power_W@us" = 0\n"group_power_W@eu" = 0\ngroup_power_W = 9', ["variables.group_power_W", "one or"]),
    ],
)  # fmt: skip
def test_a_fault_is_told_with_its_place(tmp_path: Path, line: str, wanted: list[str]) -> None:
    message = faults_of(tmp_path, PLATFORM.replace("brew_volume_mL = {", f"{line}\nbrew_volume_mL = {{"))
    assert all(text in message for text in wanted), message
    assert message.count("\n") == 0, "one fault, told once"


def test_a_fault_in_a_range_that_sites_share_is_told_once(tmp_path: Path) -> None:
    message = faults_of(tmp_path, PLATFORM.replace("[700, 900, 1000]", "[700, 90]"))
    assert message.count("brew_power_W.choices[1]") == 1
    assert "@" not in message


def test_sites_and_what_belongs_to_them_are_checked(tmp_path: Path) -> None:
    assert "not both" in faults_of(tmp_path, PLATFORM + "\n[site]\nvoltage_V = 100.0\n")
    assert "weights" in faults_of(tmp_path, PLATFORM + "\n[markets.weights]\neu = 1.0\n")
    assert "sites.us.volts" in faults_of(tmp_path, PLATFORM + "volts = 3\n")
    assert "sites" in faults_of(tmp_path, PLATFORM.replace("sites.us", '"sites"."the us"'))
    single = PLATFORM.replace(SITES, "")
    message = faults_of(tmp_path, single)
    assert "one [site]" in message
    assert "one site alone" in message


def test_the_ledger_s_columns_name_their_sites(tmp_path: Path) -> None:
    sweep = load(tmp_path, PLATFORM)
    schema = sweep_schema(sweep, provenance(RunFolder(tmp_path / "run"), sweep))
    for name, statistic, sites in (
        ("warm_up_s", "nominal, worst site", ["eu", "us"]),
        ("warm_up_s@us", "nominal", ["us"]),
        ("margin_wait_s", "nominal, worst site", ["eu", "us"]),
        ("margin_wait_s@eu", "nominal", ["eu"]),
    ):
        metadata = metadata_of(schema.field(name))
        assert (metadata["statistic"], json.loads(metadata["sites"])) == (statistic, sites), name
    assert group_of(schema, "objective") == ["shot_deviation_K", "warm_up_s", "energy_kWh_day", "part_cost"]
    assert "steam_power_W@us" in group_of(schema, "variable")


def test_a_generation_goes_through_the_model_into_the_table_and_back_to_the_sampler(tmp_path: Path) -> None:
    sweep = load(tmp_path, PLATFORM)
    window = StudyWindow(sweep)
    designs = window.plan(range(4), {})
    rows = Work(model_evaluator, sweep.brief())(list(designs), list(designs.values()))
    schema = sweep_schema(sweep, provenance(RunFolder(tmp_path / "run"), sweep))
    table = table_of([{**row, "generation": 0} for row in rows], schema)
    assert table["brew_power_W@us"].null_count == 0
    window.tell(table.to_pylist())
    assert len(window.plan(range(4, 8), {})) == 4


def test_every_site_costs_its_runs(tmp_path: Path) -> None:
    two = load(tmp_path, PLATFORM)
    one = two.model_copy(update={"sites": {}})
    assert runs_a_design(two) == 2 * runs_a_design(one)
    bounds = [
        warm_up_bound_s(two.model_copy(update={"sites": {name: site}, "site": site}))
        for name, site in two.sites.items()
    ]
    assert warm_up_bound_s(two) == max(bounds) > min(bounds)
