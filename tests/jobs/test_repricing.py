"""New prices for what is computed already: as if rated with them, in a run of its own that can go on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import pytest
from rich.cells import cell_len

from boilerfront.jobs.launch import Options, frozen_sweep, resume, start
from boilerfront.jobs.ranges import columns
from boilerfront.jobs.repricing import RepricedRun, reprice_run
from boilerfront.jobs.state import read_state
from boilerfront.jobs.work import Design, Row
from boilerfront.model.brief import Brief
from boilerfront.model.cost import assembly_line, part_lines, plant_of
from boilerfront.model.prices import read_price_book
from boilerfront.results.front import front_table, read_front
from boilerfront.results.ledger import read_ledger
from boilerfront.results.query import answer
from boilerfront.results.question import Question
from boilerfront.results.reprice_text import change_text
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.schema import unit_of
from boilerfront.shared.errors import InputError
from tests.jobs.fakes import Bench
from tests.jobs.toy import PRICES, SWEEP, toy

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)


def priced_toy(designs: Sequence[Design], brief: Brief) -> list[Row]:
    """Return the toy's rows, but with the real parts' cost."""
    return [_priced(row, design, brief) for design, row in zip(designs, toy(designs, brief), strict=True)]


def _priced(row: Row, design: Design, brief: Brief) -> Row:
    if "part_cost" not in row:
        return row
    plant = plant_of(design, brief)
    cost = sum(line.cost for line in part_lines(plant, brief.prices))
    assembly = assembly_line(plant, brief.prices).cost
    return {**row, "part_cost": cost, "part_cost_nominal": cost, "assembly_cost": assembly}


BENCH = Bench(evaluate=priced_toy)


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> RunFolder:
    folder = tmp_path_factory.mktemp("repricing")
    path = folder / "toy.toml"
    path.write_text(SWEEP, encoding="utf-8")
    return start(path, folder / "runs", name=None, options=Options(), means=BENCH.means()).run


def book(folder: Path, **prices: str) -> Path:
    """Return the starter's book with other prices (by item), or another heading (by key)."""
    lines = []
    for line in PRICES.read_text(encoding="utf-8").splitlines():
        item, *rest = line.split(",")
        if item in prices:
            line = ",".join([item, rest[0], prices[item], *rest[2:]])
        elif line.startswith("# currency") and "currency" in prices:
            line = f"# currency: {prices['currency']}"
        lines.append(line)
    path = folder / "new.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def repriced(run: RunFolder, folder: Path, name: str, **prices: str) -> RepricedRun:
    return reprice_run(run, book(folder, **prices), name=name, now=NOW)


def test_costs_are_those_of_an_evaluation_with_the_new_prices(run: RunFolder, tmp_path: Path) -> None:
    made = repriced(run, tmp_path, "dear", vessel_stainless="40", coil_piece="1.5", labour="0.9")
    sweep = frozen_sweep(made.run)
    brief = sweep.brief()
    assert brief.prices == read_price_book(tmp_path / "new.csv")
    old = read_ledger(run.trials).table.to_pylist()
    new = read_ledger(made.run.trials).table.to_pylist()
    for before, after in zip(old, new, strict=True):
        design = {name: before[name] for name in columns(sweep.variables)}
        (expected,) = priced_toy([design], brief)
        assert {**before, **{name: expected.get(name) for name in after if "cost" in name}} == after
    assert read_front(made.run.front).equals(front_table(read_ledger(made.run.trials).table))
    assert made.result.foreign == 0


def test_the_old_run_is_not_touched_and_the_new_one_says_where_it_is_from(
    run: RunFolder, tmp_path: Path
) -> None:
    before = {path: path.read_bytes() for path in run.path.rglob("*") if path.is_file()}
    made = reprice_run(run, book(tmp_path, element="0.02"), name=None, now=NOW)
    assert {path: path.read_bytes() for path in run.path.rglob("*") if path.is_file()} == before
    assert made.run.name == "toy-repriced"
    record, old = frozen_sweep(made.run).run, frozen_sweep(run).run
    assert record is not None
    assert old is not None
    assert record.repriced_from == "toy"
    assert record.versions == old.versions
    assert record.sweep_hash != old.sweep_hash
    assert read_state(made.run).phase == "finished"
    assert "repriced from" in made.run.log.read_text(encoding="utf-8")
    with pytest.raises(InputError, match="which exists"):
        reprice_run(run, book(tmp_path, element="0.03"), name=None, now=NOW)


def test_the_search_goes_on_at_the_new_prices(run: RunFolder, tmp_path: Path) -> None:
    made = repriced(run, tmp_path, "on", vessel_stainless="60")
    kept = read_ledger(made.run.trials).table
    ended = resume(made.run, options=Options(budget=90), means=BENCH.means())
    assert ended.outcome == "finished"
    table = read_ledger(made.run.trials).table
    assert table.num_rows == 90
    assert table.slice(0, 60).equals(kept)
    brief = frozen_sweep(made.run).brief()
    names = columns(frozen_sweep(made.run).variables)
    for row in table.slice(60).to_pylist():
        (expected,) = priced_toy([{name: row[name] for name in names}], brief)
        assert row["part_cost"] == expected.get("part_cost")


def test_one_factor_on_all_prices_changes_no_front(run: RunFolder, tmp_path: Path) -> None:
    items = read_price_book(PRICES).prices
    made = repriced(run, tmp_path, "double", **{item: repr(2 * price) for item, price in items.items()})
    assert made.result.entered.num_rows == made.result.left.num_rows == 0
    costs = zip(
        made.result.before["part_cost"].to_pylist(), made.result.after["part_cost"].to_pylist(), strict=True
    )
    for before, after in costs:
        assert after == pytest.approx(2 * before, rel=1e-12)


def test_what_changed_is_said_within_the_terminal(run: RunFolder, tmp_path: Path) -> None:
    made = repriced(run, tmp_path, "said", vessel_stainless="60", labour="1", currency="USD")
    for width in (60, 80, 140):
        text = "\n".join(change_text(made.result, width=width))
        assert max(map(cell_len, text.splitlines())) <= width
        text = " ".join(text.split())
        assert "no exchange rate enters" in text
        assert "labour counts in assembly_cost" in text
        assert f"{made.result.before.num_rows} designs before, {made.result.after.num_rows} now" in text
    assert made.result.left.num_rows > 0
    assert unit_of(read_front(made.run.front).schema.field("part_cost")) == "USD"
    table = answer(made.run, Question(cheapest=True)).table
    assert unit_of(table.schema.field("part_cost")) == "USD"


def test_picks_stay_what_they_are(run: RunFolder, tmp_path: Path) -> None:
    run.picks.write_text("[A]\ntrial = 3\n", encoding="utf-8")
    try:
        made = repriced(run, tmp_path, "picked", pump="11")
    finally:
        run.picks.unlink()
    assert made.run.picks.read_text(encoding="utf-8") == "[A]\ntrial = 3\n"


def test_costs_that_todays_parts_do_not_explain_keep_the_difference(tmp_path: Path) -> None:
    path = tmp_path / "toy.toml"
    path.write_text(SWEEP.replace("budget = 60", "budget = 10"), encoding="utf-8")
    run = start(path, tmp_path / "runs", name=None, options=Options(), means=Bench().means()).run
    made = repriced(run, tmp_path, "other", pump="12.5")  # the toy's own costs have nothing of the book
    changes = {
        round(after - before, 9)
        for before, after in zip(
            read_ledger(run.trials).table["part_cost"].to_pylist(),
            made.result.trials["part_cost"].to_pylist(),
            strict=True,
        )
        if before is not None
    }
    assert changes == {12.5 - read_price_book(PRICES).prices["pump"]}
    assert made.result.foreign > 0
    assert any("caution" in piece for piece in change_text(made.result, width=100))


def test_what_is_wrong_is_said_and_nothing_is_made(run: RunFolder, tmp_path: Path) -> None:
    there = sorted(run.path.parent.iterdir())
    with pytest.raises(InputError, match="prices that the run was rated with"):
        reprice_run(run, PRICES, name="new", now=NOW)
    with pytest.raises(InputError, match="letters, digits"):
        repriced(run, tmp_path, "a/b", pump="1")
    with pytest.raises(InputError, match="a price of 0 or more"):
        repriced(run, tmp_path, "new", pump="-1")
    with pytest.raises(InputError, match="no readable file"):
        reprice_run(run, tmp_path / "none.csv", name="new", now=NOW)
    assert sorted(run.path.parent.iterdir()) == there


def test_a_run_that_is_not_finished_can_be_repriced_and_goes_on(tmp_path: Path) -> None:
    path = tmp_path / "toy.toml"
    path.write_text(SWEEP, encoding="utf-8")
    run = start(path, tmp_path / "runs", name=None, options=Options(), means=BENCH.means()).run
    parts = sorted(run.trials.glob("part-*"))
    parts[2].unlink()
    parts[-1].unlink()
    made = repriced(run, tmp_path, "cut", pump="30")
    state = read_state(made.run)
    assert (state.phase, state.trials, state.budget) == ("stopped", 40, 60)
    assert state.why == "repriced from toy"
    assert resume(made.run, options=Options(), means=BENCH.means()).outcome == "finished"
    assert read_ledger(made.run.trials).table["trial"].to_pylist() == list(range(60))
