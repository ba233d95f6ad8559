"""A page of a run: the ledger's own numbers, texts that stay texts, whatever the run looks like."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Any

import pytest

from boilerfront.results.front import front_of, objective_values
from boilerfront.results.ledger import read_ledger
from boilerfront.results.page import content as content_module
from boilerfront.results.page.content import Content, content_of
from boilerfront.results.page.write import page_html, write_page
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared.errors import InputError
from tests.results.page.page_runs import HOSTILE, SWEEP_TEXT, designs, embedded, full_page, make_run, on_front
from tests.results.rows import not_ready, row


@pytest.fixture(scope="module")
def night(tmp_path_factory: pytest.TempPathFactory) -> tuple[RunFolder, Content, str]:
    return full_page(tmp_path_factory.mktemp("runs") / "night", count=60)


def test_every_number_is_the_ledgers(night: tuple[RunFolder, Content, str]) -> None:
    run, _, page = night
    columns = designs(page)
    ledger = {each["trial"]: each for each in read_ledger(run.trials).table.to_pylist()}
    front, _ = front_of(run)
    assert sorted(columns["trial"]) == sorted([*front["trial"].to_pylist(), 60, 61])
    for place, trial in enumerate(columns["trial"]):
        for name, value in ledger[trial].items():
            shown = columns[name][place]
            is_null = shown is None or (isinstance(shown, float) and math.isnan(shown))
            assert is_null if value is None else shown == value, (trial, name)


def test_columns_have_the_units_and_digits_of_the_ledger(night: tuple[RunFolder, Content, str]) -> None:
    _, _, page = night
    columns = {each["name"]: each for each in embedded(page)["columns"]}
    assert columns["shot_deviation_K"]["unit"] == "K"
    assert columns["shot_deviation_K"]["digits"] == 2
    assert columns["energy_kWh_day"]["label"] == "energy per day"
    assert columns["margin_steam_s"]["text"]


def test_what_people_wrote_stays_text(tmp_path: Path) -> None:
    sweep = SWEEP_TEXT.replace('"230 V 10 A"', '"<b>a & b</b></script>"')
    run = make_run(tmp_path / "night", [on_front(trial) for trial in range(9)], sweep=sweep)
    page = page_html(content_of(run, None), command="<i>night</i>")
    assert "<b>a" not in page
    assert "&lt;b&gt;a &amp; b&lt;/b&gt;&lt;/script&gt;" in page
    assert "<i>night" not in page


def test_a_note_cannot_end_the_script_that_it_stands_in(night: tuple[RunFolder, Content, str]) -> None:
    _, _, page = night
    assert "window.broken = 1</script>" not in page
    assert embedded(page)["marks"]["7"]["note"] == HOSTILE


def test_kept_designs_are_there_though_not_on_the_front(night: tuple[RunFolder, Content, str]) -> None:
    _, content, page = night
    assert content.front_size == 60
    assert 60 in designs(page)["trial"]
    marks = embedded(page)["marks"]
    assert (marks["7"]["letter"], marks["60"]["letter"], marks["60"]["kept"]) == ("A", "B", True)
    assert marks["61"]["tags"] == ["not on the front"]
    assert embedded(page)["first"] == 7


def test_of_a_large_front_a_subset_is_shown_and_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(content_module, "MOST_DESIGNS", 30)
    run = make_run(tmp_path / "night", [on_front(trial) for trial in range(120)])
    content = content_of(run, None)
    assert content.table.num_rows == 30
    assert 0.5 < content.kept_share < 1.0
    page = page_html(content, command="night")
    assert "This page holds 30 of the 120 designs of the front" in page
    front, _ = front_of(run)
    best = set(objective_values(front).argmin(axis=0).tolist())
    assert {front["trial"][place].as_py() for place in best} <= set(designs(page)["trial"])


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([], "No design has been evaluated yet."),
        ([not_ready(3)], "None of the 1 designs evaluated is feasible yet"),
        ([row(1)], "All designs of the front are in this page."),
    ],
    ids=["nothing", "nothing feasible", "one design"],
)
def test_runs_with_hardly_anything(tmp_path: Path, rows: list[dict[str, Any]], said: str) -> None:
    run = make_run(tmp_path / "night", rows)
    out = tmp_path / "page.html"
    write_page(run, out, None, why_no_traces="Without traces: the model has changed.")
    page = out.read_text(encoding="utf-8")
    assert said in page
    assert "Without traces: the model has changed." in page


def test_nothing_is_fetched_from_elsewhere(night: tuple[RunFolder, Content, str]) -> None:
    _, _, page = night
    assert not re.search(r"<(link|script|img|iframe)[^>]+(src|href)=", page.replace("src=x onerror", ""))


def test_a_broken_file_of_picks_is_said(tmp_path: Path) -> None:
    run = make_run(tmp_path / "night", [on_front(1)])
    run.picks.write_text("[A]\ntrial = 'one'\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"picks\.toml"):
        content_of(run, None)


def test_a_place_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    run = make_run(tmp_path / "é run", [on_front(1)])
    with pytest.raises(InputError, match="--out"):
        write_page(run, tmp_path / "nowhere" / "page.html", None)
