"""The sweep file: what it may say, every fault at once, and its frozen copy."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.jobs import effort
from boilerfront.jobs.effort import surrogate_share, worthwhile_share
from boilerfront.jobs.frozen import differences, frozen_toml, recorded, sweep_hash
from boilerfront.jobs.ranges import Completion, columns, search_space
from boilerfront.jobs.sweep import Sweep, default_name, load_sweep
from boilerfront.jobs.weighing import weighed, weighs_by_ratio
from boilerfront.model import VARIABLES
from boilerfront.shared.errors import InputError

STARTERS = Path(__file__).parents[2] / "jobs" / "starters"
PRICES = STARTERS / "compact-230v" / "prices.csv"

VALID = f"""
prices = "{PRICES}"

[variables]
architecture = {{ choices = ["dual_boiler", "dual_boiler_coil"] }}
brew_volume_mL = {{ low = 200, high = 800 }}
brew_power_W = {{ choices = [900, 1200] }}
coil_length_m = {{ low = 0.2, high = 1.0, log = true }}
steam_volume_mL = 900

[search]
budget = 100
"""

TEN_FAULTS = """
prices = "no-such-book.csv"
speling = 1

[variables]
brew_volume_mL = { low = 800, high = 300 }
steam_volume_mL = { low = 10, high = 1200 }
brew_power_W = { choices = [] }
boiler_size = 3
architecture = "dual_boiler"
coil_length_m = { low = 0.2, high = 1.0 }

[search]
budget = 0
generations = 48

[site]
voltage_V = "230"
"""


def write(folder: Path, text: str) -> Path:
    path = folder / "family.toml"
    path.write_text(text, encoding="utf-8")
    return path


def faults_of(folder: Path, text: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        load_sweep(write(folder, text))
    return [str(fault) for fault in caught.value.faults]


def replaced(old: str, new: str) -> str:
    assert old in VALID
    return VALID.replace(old, new)


@pytest.fixture
def sweep(tmp_path: Path) -> Sweep:
    return load_sweep(write(tmp_path, VALID))


def test_ten_faults_are_ten_messages_with_line_place_and_what_is_allowed(tmp_path: Path) -> None:
    found = faults_of(tmp_path, TEN_FAULTS)
    assert len(found) == 10
    expected = {
        "no-such-book.csv": "a price book",
        "line 3: speling": "known",
        "line 6: variables.brew_volume_mL": "low <= high",
        "line 7: variables.steam_volume_mL.low": "300 to 2500 mL",
        "line 8: variables.brew_power_W.choices": "at least one",
        "line 9: variables.boiler_size": "known: architecture, brew_volume_mL",
        "line 11: variables.coil_length_m": "dual_boiler_coil",
        "line 14: search.budget": "1",
        "line 15: search.generations": "did you mean 'generation'",
        "line 18: site.voltage_V": "number",
    }
    missing = [
        where for where in expected if not any(where in each and expected[where] in each for each in found)
    ]
    assert len(missing) == 0, found


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("low = 200, high = 800", "low = 200", "high: found nothing"),
        ("low = 200, high = 800", 'low = "a", high = 800', "'a'"),
        ("low = 200, high = 800", "low = 200, high = 800, step = -1", "above 0"),
        ("low = 200, high = 800", "low = 200, high = 800, step = 700", "at most high - low = 600"),
        ("low = 200, high = 800", "low = 200, high = 800, log = true, step = 10", "log and step together"),
        ("low = 200, high = 800", "low = 200, high = 800, logg = true", "did you mean 'log'"),
        ("low = 200, high = 800", "low = nan, high = 800", "physical range"),
        ("low = 200, high = 800", "low = 200, high = inf", "physical range"),
        ("[900, 1200]", "[900, 900]", "second time"),
        ("[900, 1200]", "[900, true]", "True"),
        ("[900, 1200]", "[900, 99999]", "200 to 2500 W"),
        ("{ choices = [900, 1200] }", "[900, 1200]", "{ choices = [..] }"),
        ("steam_volume_mL = 900", 'steam_volume_mL = "big"', "a number [mL]"),
        ("steam_volume_mL = 900", "control = { low = 1, high = 2 }", "pid, pid_ff"),
        ("[search]", "[serch]", "did you mean 'search'"),
        ("budget = 100", "budget = 100\ngeneration = -1", "greater than or equal to 0"),
        ("budget = 100", "budget = 1.5", "integer"),
        (f'prices = "{PRICES}"', "", "price book"),
        (f'prices = "{PRICES}"', "prices = 3", "price book"),
        (f'prices = "{PRICES}"', 'prices = "a\\u0000b"', "price book"),
    ],
)
def test_one_fault_one_message(tmp_path: Path, old: str, new: str, message: str) -> None:
    found = faults_of(tmp_path, replaced(old, new))
    assert len(found) == 1
    assert message in found[0]


def test_a_syntax_error_names_its_line(tmp_path: Path) -> None:
    assert "line 3" in faults_of(tmp_path, "\n\nbudget = = 3\n")[0]


def test_an_editors_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    path = tmp_path / "s.toml"
    path.write_text(VALID, encoding="utf-8-sig")
    assert load_sweep(path).search.budget == 100


@pytest.mark.parametrize("text", ["x = " + "9" * 5000, "x = " + "[" * 5000])
def test_toml_that_python_cannot_hold_is_a_fault_of_the_file(tmp_path: Path, text: str) -> None:
    assert "no TOML" in faults_of(tmp_path, text)[0]


def test_bytes_that_are_no_text_name_their_line(tmp_path: Path) -> None:
    path = tmp_path / "bad.toml"
    path.write_bytes(b"# first\nname = '\xff'\n")
    with pytest.raises(InputError, match=r"line 2: found byte 0xff"):
        load_sweep(path)


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"nothing\.toml"):
        load_sweep(tmp_path / "nothing.toml")


def test_only_fixed_values_leave_nothing_to_search(tmp_path: Path) -> None:
    assert "at least one range" in faults_of(tmp_path, f'prices = "{PRICES}"\n[variables]\n')[0]


def test_what_is_not_named_is_fixed_at_the_models_default(sweep: Sweep) -> None:
    design = Completion(sweep.variables)({"architecture": "dual_boiler", "brew_volume_mL": 300.0})
    assert design["steam_set_point_C"] == VARIABLES["steam_set_point_C"].default
    assert design["steam_volume_mL"] == 900.0


def test_a_variable_that_an_architecture_lacks_is_masked(sweep: Sweep) -> None:
    space = search_space(sweep.variables)
    row: dict[str, float | int | str | bool | None] = {
        "architecture": "dual_boiler",
        "brew_volume_mL": 300.0,
        "brew_power_W": 900.0,
        "coil_length_m": 0.5,
    }
    assert space.active(row)["coil_length_m"] is None
    assert space.active({**row, "architecture": "dual_boiler_coil"})["coil_length_m"] == 0.5
    assert Completion(sweep.variables)(row)["coil_length_m"] is None
    assert Completion(sweep.variables)(row)["coil_bore_mm"] is None


def test_one_architecture_needs_no_mask(tmp_path: Path) -> None:
    text = replaced('{ choices = ["dual_boiler", "dual_boiler_coil"] }', '"dual_boiler_coil"')
    sweep = load_sweep(write(tmp_path, text))
    assert search_space(sweep.variables).names == ("brew_volume_mL", "brew_power_W", "coil_length_m")
    assert "coil_bore_mm" in columns(sweep.variables)


def test_options_override_the_file(tmp_path: Path) -> None:
    sweep = load_sweep(write(tmp_path, VALID), {"budget": 7, "seed": 3})
    assert (sweep.search.budget, sweep.search.seed) == (7, 3)


def test_the_frozen_copy_is_complete_and_loads_to_the_same(sweep: Sweep, tmp_path: Path) -> None:
    frozen = recorded(sweep, started=datetime(2026, 1, 2, tzinfo=UTC))
    path = write(tmp_path, frozen_toml(frozen))
    assert load_sweep(path) == frozen
    assert sweep_hash(load_sweep(path)) == sweep_hash(sweep)
    for key in ("mains_tolerance", "conductivity_W_mK", "seed", "labour", "steam_set_point_C"):
        assert key in path.read_text(encoding="utf-8")


def test_the_frozen_copy_of_one_family_names_no_variable_of_another(tmp_path: Path) -> None:
    variables = 'architecture = "dual_boiler"\nbrew_power_W = { low = 700, high = 900 }\n'
    text = f'prices = "{PRICES}"\n[variables]\n{variables}'
    one = load_sweep(write(tmp_path, text))
    path = write(tmp_path, frozen_toml(one))
    assert load_sweep(path) == one


def test_the_hash_leaves_out_budget_and_name(sweep: Sweep, tmp_path: Path) -> None:
    longer = load_sweep(write(tmp_path, "name = 'x'\n" + replaced("budget = 100", "budget = 999")))
    assert sweep_hash(longer) == sweep_hash(sweep)
    assert differences(longer, sweep) == []


def test_a_run_keeps_the_share_of_surrogates_that_it_began_with(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    variables = 'architecture = "dual_boiler"\nbrew_power_W = { low = 700, high = 900 }\n'
    nominal = f'prices = "{PRICES}"\n[variables]\n{variables}[tolerances]\nsamples = 0\n'
    sweep = load_sweep(write(tmp_path, nominal))
    assert surrogate_share(sweep) == 1.0  # no family is so cheap that eight workers would wait for the model
    monkeypatch.setitem(effort.EVALUATION_MS, "dual_boiler", (0.6, 0.1))  # if one were
    assert 0.0 < surrogate_share(sweep) < 1.0
    frozen = recorded(sweep, started=datetime(2026, 1, 2, tzinfo=UTC))
    assert frozen.search.surrogate == surrogate_share(sweep)
    assert sweep_hash(frozen) == sweep_hash(sweep)
    stated = load_sweep(write(tmp_path, nominal), {"surrogate": 0.25})
    assert surrogate_share(stated) == surrogate_share(recorded(stated, started=datetime.now(UTC))) == 0.25
    assert sweep_hash(stated) != sweep_hash(sweep)
    # one that was frozen before there was a choice planned every generation with a surrogate
    old = frozen.model_copy(update={"search": sweep.search})
    assert surrogate_share(old) == 1.0
    assert not weighs_by_ratio(old)
    as_before = {"surrogate": 1.0, "by_ratio": False}
    assert sweep_hash(old) == sweep_hash(load_sweep(write(tmp_path, nominal), as_before))


def test_a_run_keeps_how_it_weighs_what_objectives_gain(sweep: Sweep, tmp_path: Path) -> None:
    assert weighs_by_ratio(sweep)
    frozen = recorded(sweep, started=datetime(2026, 1, 2, tzinfo=UTC))
    assert frozen.search.by_ratio is True
    assert weighs_by_ratio(load_sweep(write(tmp_path, frozen_toml(frozen))))
    assert sweep_hash(frozen) == sweep_hash(sweep)
    by_difference = load_sweep(write(tmp_path, replaced("budget = 100", "by_ratio = false")))
    kept = recorded(by_difference, started=datetime(2026, 1, 2, tzinfo=UTC))
    assert not weighs_by_ratio(load_sweep(write(tmp_path, frozen_toml(kept))))
    assert sweep_hash(by_difference) != sweep_hash(sweep)


@given(*[st.lists(st.floats(0.0, 1e6), min_size=4, max_size=4)] * 2)
def test_weighing_keeps_which_is_better(one: list[float], other: list[float]) -> None:
    for a, b, x, y in zip(one, other, weighed(one), weighed(other), strict=True):
        assert (a <= b) <= (x <= y)
    assert weighed([math.inf] * 4) == [math.inf] * 4


def test_half_counts_alike_and_what_is_no_difference_hardly() -> None:
    def gained(of: float, to: float) -> float:
        return weighed([of, 0.0, 0.0, 0.0])[0] - weighed([to, 0.0, 0.0, 0.0])[0]

    assert gained(8.0, 4.0) == pytest.approx(gained(4.0, 2.0), rel=0.03)
    assert gained(0.02, 0.01) < 0.25 * gained(8.0, 4.0)


def test_cheaper_evaluations_and_more_workers_are_worth_fewer_surrogates() -> None:
    shares = [worthwhile_share(ms, workers=8) for ms in (0.01, 1.0, 3.0, 30.0)]
    assert shares == sorted(shares)
    assert (shares[0], shares[-1]) == (0.05, 1.0)
    assert worthwhile_share(1.0, workers=16) < worthwhile_share(1.0, workers=8)


@pytest.mark.parametrize("value", ["1.5", "-0.1", "true", '"half"'])
def test_a_share_that_is_none_is_refused(tmp_path: Path, value: str) -> None:
    (fault,) = faults_of(tmp_path, replaced("budget = 100", f"surrogate = {value}"))
    assert "search.surrogate" in fault


def test_another_seed_or_range_is_another_sweep(sweep: Sweep, tmp_path: Path) -> None:
    other = load_sweep(write(tmp_path, replaced("low = 200", "low = 210")), {"seed": 2})
    assert sweep_hash(other) != sweep_hash(sweep)
    assert {fault.where for fault in differences(other, sweep)} == {
        "search.seed",
        "variables.brew_volume_mL.low",
    }


@pytest.mark.parametrize("starter", sorted(path.name for path in STARTERS.iterdir()))
def test_a_starter_is_valid_as_it_is(starter: str) -> None:
    sweep = load_sweep(STARTERS / starter)
    assert len(search_space(sweep.variables)) >= 8


@pytest.mark.parametrize(
    ("path", "name"),
    [("night/sweep.toml", "night"), ("night/big family.toml", "big-family"), ("small.toml", "small")],
)
def test_a_run_is_named_after_its_file(path: str, name: str) -> None:
    assert default_name(Path(path)) == name
