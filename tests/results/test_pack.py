"""Packs: every number is the ledger's, bands come from the batch, files can be read by other commands."""

from __future__ import annotations

import csv
import io
import tomllib
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest
from PIL import Image

from boilerfront.model import evaluate_many
from boilerfront.model.glossary import COLUMNS, FIGURES, MARGINS, OBJECTIVES
from boilerfront.model.site import Site
from boilerfront.model.spread import spread
from boilerfront.model.tolerances import robust
from boilerfront.results.confirm import with_fresh_machines
from boilerfront.results.pack import behaviour
from boilerfront.results.pack import subject as subject_module
from boilerfront.results.pack.acceptance import checks, shot_checks
from boilerfront.results.pack.behaviour import NOT_PREDICTED
from boilerfront.results.pack.blocks import Caution, Picture, Table
from boilerfront.results.pack.margins import RULES
from boilerfront.results.pack.page import pages
from boilerfront.results.pack.subject import Subject, gather
from boilerfront.results.pack.write import checked_folders, folder_of, pack_files, write_pack
from boilerfront.results.show import cell_text
from boilerfront.shared import files
from boilerfront.shared.errors import InputError
from tests.faulty_disk import RefusingDisk
from tests.results.packed import BRIEF, DESIGN, MADE, candidate


@pytest.fixture(scope="module")
def content(subject: Subject) -> dict[str, bytes]:
    return pack_files(subject)


@pytest.fixture
def no_charts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Put a dot in the place of each chart: they take a second each."""
    dot = io.BytesIO()
    Image.new("RGB", (4, 2)).save(dot, "png")
    for name in ("warm_up_chart", "shots_chart", "course_chart"):
        monkeypatch.setattr(behaviour, name, lambda *given: dot.getvalue())


class Rows(HTMLParser):
    """Every table row of a page, as texts."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.tags: set[str] = set()
        self._inside = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        if tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th"):
            self.rows[-1].append("")
            self._inside = True

    def handle_endtag(self, tag: str) -> None:
        self._inside = self._inside and tag not in ("td", "th")

    def handle_data(self, data: str) -> None:
        if self._inside:
            self.rows[-1][-1] += data


def rows_of(content: dict[str, bytes]) -> list[list[str]]:
    parser = Rows()
    parser.feed(content["pack.html"].decode())
    return parser.rows


def test_every_number_of_the_page_is_the_ledgers(subject: Subject, content: dict[str, bytes]) -> None:
    row = subject.candidate.row
    rows = rows_of(content)
    for name in OBJECTIVES:
        expected = [cell_text(row[name], COLUMNS[name].digits)]
        expected.append(cell_text(row[f"{name}_nominal"], COLUMNS[name].digits))
        assert any(cells[1:3] == expected for cells in rows if cells[0].startswith(COLUMNS[name].text)), name
    shown = {cells[1]: cells for cells in rows if len(cells) == 6 and cells[1] in FIGURES}
    for name in set(FIGURES) - NOT_PREDICTED:
        if row[name] is not None:
            assert shown[name][3] == cell_text(row[name], COLUMNS[name].digits), name
    margins = {cells[0]: cells[4] for cells in rows if len(cells) == 8}
    for name in MARGINS:
        if row[name] is not None:
            assert margins[RULES[name].what] == cell_text(row[name], COLUMNS[name].digits), name
    (total,) = [cells for cells in rows if cells[1:2] == ["parts"]]
    assert total[-1] == f"{row['part_cost']:.2f} EUR"


def test_the_bill_adds_up_to_the_ledgers_cost(subject: Subject, content: dict[str, bytes]) -> None:
    lines = list(csv.DictReader(io.StringIO(content["bom.csv"].decode())))
    for column in ("part_cost", "assembly_cost"):
        total = sum(float(line["cost"]) for line in lines if line["counts_as"] == column)
        assert total == pytest.approx(subject.candidate.row[column], rel=1e-12)
    assert all(float(line["quantity"]) * float(line["price"]) == float(line["cost"]) for line in lines)


def test_the_design_comes_back_bit_for_bit_and_gives_the_same_row(
    subject: Subject, content: dict[str, bytes]
) -> None:
    read = tomllib.loads(content["design.toml"].decode())
    assert read == {name: value for name, value in DESIGN.items() if value is not None}
    again = evaluate_many([read], BRIEF)[0]
    assert all(subject.candidate.row[name] == value for name, value in again.items())


def test_the_trace_is_the_ledgers_nominal_machine(subject: Subject, content: dict[str, bytes]) -> None:
    table = pq.read_table(io.BytesIO(content["trace.parquet"]))
    assert set(table["design"].to_pylist()) == {"A (trial 7)"}
    assert subject.was_computed_alike
    assert subject.trace.ready_s == subject.candidate.row["warm_up_s_nominal"]
    shots = table["shot_C"].to_numpy()
    assert np.isfinite(shots).sum() > 100


@pytest.mark.usefixtures("no_charts")
def test_a_row_that_the_model_of_today_does_not_give_is_told(subject: Subject) -> None:
    for name in ("steam_time_s", "part_cost_nominal"):
        row = {**subject.candidate.row, name: subject.candidate.row[name] + 0.1}
        other = replace(subject, candidate=replace(subject.candidate, row=row))
        assert not other.was_computed_alike
        assert any(isinstance(b, Caution) and "another version" in b.text for b in pages(other))


def test_the_spread_is_what_the_ledger_rates() -> None:
    """The robust objectives of a row are the share's value of the machines that `spread` shows one by one."""
    found = spread(DESIGN, BRIEF)
    row = evaluate_many([DESIGN], BRIEF)[0]
    for name in OBJECTIVES:
        assert robust(found.figures[name], BRIEF.tolerances.share) == row[name]
    assert found.offset_K == row["trim_offset_K"]
    assert found.shot_errors_K.shape == (8, 8)


def test_every_machine_of_the_batch_passes_its_own_bands(subject: Subject) -> None:
    found = checks(subject)
    assert {"warm_up_s", "shot_deviation_K", "steam_time_s", "energy_kWh_day"} <= {
        check.measure.figure for check in found
    }
    for check in found:
        values = subject.spread.figures[check.measure.figure]
        assert all(check.passes(value) for value in values)
        assert not check.passes(check.high + 1e-6)
        assert check.low is None or not check.passes(check.low - 1e-6)
        if check.low is not None and check.nominal is not None and check.low > 0.0:
            # The bench's bounds are wider than the batch by what measuring leaves uncertain.
            assert check.low < values.min()
    for shot, errors in zip(shot_checks(subject), subject.spread.shot_errors_K.T, strict=True):
        assert shot.low_K < errors.min() <= errors.max() < shot.high_K


def test_acceptance_can_be_read_by_a_program(subject: Subject, content: dict[str, bytes]) -> None:
    read = tomllib.loads(content["acceptance.toml"].decode())
    assert read["format"] == 3
    assert read["design"] == tomllib.loads(content["design.toml"].decode())
    assert read["provenance"]["sweep_hash"] == "a" * 64
    assert read["figures"]["warm_up_s"]["nominal"] == subject.candidate.row["warm_up_s_nominal"]
    assert read["figures"]["dip_K"]["nominal"] == subject.candidate.row["dip_K"]
    assert "low" not in read["figures"]["shot_deviation_K"]
    assert list(read["shots"]) == [f"shot_{k}" for k in range(1, 9)]
    assert read["channels"]["shot_C"] == "TP"
    assert len(read["duty"]["events"]) == 9


def test_the_page_needs_nothing_else_and_lets_nothing_in(content: dict[str, bytes]) -> None:
    html = content["pack.html"].decode()
    parser = Rows()
    parser.feed(html)
    assert not parser.tags & {"script", "link", "iframe", "b"}
    assert "&lt;b&gt;Eva" in html
    assert html.replace("http://www.w3.org/2000/svg", "").count("http") == 0
    assert (
        "Safety valves, a thermal cut-out on every heated body, dry-boil protection and earth bonding" in html
    )


@pytest.mark.usefixtures("no_charts")
def test_a_pack_is_whole_and_the_same_every_time(subject: Subject, content: dict[str, bytes]) -> None:
    assert content["pack.pdf"].startswith(b"%PDF")
    assert content["pack.pdf"].rstrip().endswith(b"%%EOF")
    assert pack_files(subject) == pack_files(subject)


@pytest.mark.usefixtures("no_charts")
def test_a_design_that_keeps_not_every_limit_says_so(subject: Subject) -> None:
    other = replace(
        subject, candidate=replace(subject.candidate, row={**subject.candidate.row, "feasible": False})
    )
    assert any(isinstance(block, Caution) and "every limit" in block.text for block in pages(other))
    assert not any(isinstance(block, Caution) and "every limit" in block.text for block in pages(subject))


@pytest.mark.usefixtures("no_charts")
def test_tables_and_pictures_are_well_formed(subject: Subject) -> None:
    for block in pages(subject):
        if isinstance(block, Table):
            assert all(len(cells) == len(block.head) for cells in block.rows)
            assert len(block.widths) in (0, len(block.head))
        if isinstance(block, Picture):
            assert block.alt
            assert bool(block.svg) != bool(block.png)


def test_what_never_came_through_has_no_pack() -> None:
    failed = candidate(reason="not ready", feasible=False)
    with pytest.raises(InputError, match=r"A \(trial 7\): not ready"):
        gather("demo", failed, BRIEF, site="", made=MADE, tell=lambda text: None)


def test_a_folder_that_is_there_is_refused(tmp_path: Path) -> None:
    names = [folder_of(candidate(), ""), folder_of(candidate(), "us")]
    assert names == ["A-trial-7", "A-trial-7-us"]
    (tmp_path / names[0]).mkdir()
    with pytest.raises(InputError, match="A-trial-7; allowed: a place where nothing is yet"):
        checked_folders(tmp_path, names)


def test_a_pack_lies_in_its_place_whole_or_not_at_all(
    tmp_path: Path, subject: Subject, content: dict[str, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("boilerfront.results.pack.write.pack_files", lambda subject: content)
    place = tmp_path / "out é" / "A"
    for call in (1, 4, 20, 30):
        monkeypatch.setattr(files, "DISK", RefusingDisk(at=call))
        with pytest.raises(files.DiskError):
            write_pack(place, subject)
        assert not place.exists()
    monkeypatch.setattr(files, "DISK", files.Disk())
    write_pack(place, subject)
    assert {path.name: path.read_bytes() for path in place.iterdir()} == content
    assert [path.name for path in place.parent.iterdir()] == ["A"]


@pytest.mark.usefixtures("no_charts")
def test_a_pack_of_one_market_tells_that_markets_numbers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(subject_module, "with_fresh_machines", lambda brief: with_fresh_machines(brief, 8))
    monkeypatch.setattr(subject_module, "TRACED", 1)
    own = Site(
        name="120 V 15 A", voltage_V=120.0, current_limit_A=12.0, frequency_Hz=60, mains_tolerance=0.05
    )
    brief = BRIEF.model_copy(update={"site": own})
    worst = candidate(brief)
    row = {**worst.row, "warm_up_s@us": 321.5, "warm_up_s": 999.0, "brew_power_W@us": 850.0}
    found = gather("demo", replace(worst, row=row), brief, site="us", made=MADE, tell=lambda text: None)
    assert found.number("warm_up_s") == 321.5
    assert found.number("warm_up_s_nominal") == row["warm_up_s_nominal"]  # computed again for the site
    assert found.number("mass_kg") == row["mass_kg"]
    assert found.machine.heaters[0].current_A == pytest.approx(900.0 / 120.0)
    assert "120 V 15 A" in pack_files(found)["pack.html"].decode()
