"""Margins beside their limits and the fresh machines, requirements of the bench, the caution on flicker."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest

from boilerfront.model import evaluate_many
from boilerfront.model.figures import WORST_OF_ALL
from boilerfront.model.glossary import MARGINS
from boilerfront.model.limits import SOURCES
from boilerfront.model.spread import spread
from boilerfront.model.tolerances import Tolerances, robust_margin
from boilerfront.results.pack import pdf
from boilerfront.results.pack.acceptance import checks
from boilerfront.results.pack.blocks import Block, Caution, Heading, Table, Text
from boilerfront.results.pack.margins import RULES, differences, held, margin_blocks
from boilerfront.results.pack.settings import flicker_blocks
from boilerfront.results.pack.subject import Subject
from tests.results.packed import BRIEF, DESIGN


def with_row(found: Subject, **values: Any) -> Subject:
    """Return the subject with another row of its ledger."""
    return replace(found, candidate=replace(found.candidate, row={**found.candidate.row, **values}))


def test_the_margins_of_the_machines_are_what_the_ledger_rates() -> None:
    found, row = spread(DESIGN, BRIEF), evaluate_many([DESIGN], BRIEF)[0]
    assert len(found.margins) >= 6
    for name, values in found.margins.items():
        kept = values.min() if name in WORST_OF_ALL else robust_margin(values, BRIEF.tolerances.share)
        assert kept == row[name], name


def test_every_margin_has_its_rule_and_its_source() -> None:
    assert set(RULES) == set(MARGINS)
    assert set(MARGINS) <= set(SOURCES)
    assert "IEC 60335-1 clause 19" in SOURCES["margin_level_mm"]


def test_values_and_shares_are_those_of_the_figures(subject: Subject) -> None:
    by_name = {each.name: each for each in held(subject)}
    figures, limits = subject.spread.figures, BRIEF.limits
    steam, overshoot = by_name["margin_steam_s"], by_name["margin_overshoot_K"]
    assert steam.share == np.mean(figures["steam_time_s"] <= limits.steam_s)
    assert overshoot.share == np.mean(figures["overshoot_K"] <= limits.overshoot_K)
    batch = spread(DESIGN, BRIEF).figures
    assert steam.value(BRIEF) == pytest.approx(np.sort(batch["steam_time_s"])[7])  # 90 % of eight are eight
    assert by_name["margin_mains_A"].share is None
    load = max(heater.highest_load_W_cm2 or 0.0 for heater in subject.machine.heaters)
    assert by_name["margin_watt_density_W_cm2"].value(BRIEF) == pytest.approx(load)
    assert by_name["margin_level_mm"].value(BRIEF) == by_name["margin_level_mm"].slack


def test_the_share_that_holds_a_limit_stands_beside_it(subject: Subject) -> None:
    slack = np.where(np.arange(16) < 4, -1.0, 2.0)
    other = replace(
        subject, spread=replace(subject.spread, margins={**subject.spread.margins, "margin_steam_s": slack})
    )
    table = next(block for block in margin_blocks(other) if isinstance(block, Table))
    (cells,) = [cells for cells in table.rows if cells[0] == "steaming time"]
    assert cells[1:3] == ("s", "≤ 60.0")
    assert float(cells[3]) + float(cells[4]) == pytest.approx(60.0, abs=0.11)
    assert cells[5:7] == ("-1.0", "75.0 %")
    cautions = [block.text for block in differences(other) if isinstance(block, Caution)]
    assert len(cautions) == 1
    assert "steaming time (75.0 %)" in cautions[0]


def test_a_batch_that_never_came_through_holds_nothing(subject: Subject) -> None:
    dead = {name: np.full(16, -np.inf) for name in subject.spread.margins}
    other = replace(subject, spread=replace(subject.spread, margins=dead))
    found = [each for each in held(other) if each.share is not None]
    assert len(found) == len(dead)
    assert all((each.share, each.fresh) == (0.0, -np.inf) for each in found)
    assert any(isinstance(block, Caution) for block in differences(other))


def test_of_one_market_the_margins_are_those_of_its_nominal_machine(subject: Subject) -> None:
    alone = evaluate_many([DESIGN], BRIEF.model_copy(update={"tolerances": Tolerances(samples=0)}))[0]
    other = with_row(replace(subject, site="us", alone=alone), margin_steam_s=-99.0)
    text = margin_blocks(other)[0]
    assert isinstance(text, Text)
    assert "nominal machine, computed again for us" in text.text
    slack = {each.name: each.slack for each in held(other)}
    assert slack["margin_steam_s"] == alone["margin_steam_s"]


def test_a_ledger_that_is_not_the_fresh_machines_is_told(subject: Subject) -> None:
    fresh = subject.fresh("shot_deviation_K")
    assert fresh is not None
    others = {name: subject.fresh(name) for name in ("warm_up_s", "energy_kWh_day")}
    alike = with_row(subject, shot_deviation_K=fresh, **others)
    assert not [block for block in differences(alike) if isinstance(block, Text)]
    (said,) = [
        block
        for block in differences(with_row(alike, shot_deviation_K=fresh - 0.2))
        if isinstance(block, Text)
    ]
    assert f"{subject.shown('shot_deviation_K', fresh)} K instead of" in said.text
    assert "another version" not in said.text
    (said,) = [
        block
        for block in differences(with_row(alike, shot_deviation_K=fresh - 0.2, steam_time_s=1.0))
        if isinstance(block, Text)
    ]
    assert "another version of the model" in said.text


def test_what_the_sweep_asks_stands_beside_the_bands(subject: Subject) -> None:
    required = {check.measure.figure: check.required for check in checks(subject)}
    assert required["steam_time_s"] == BRIEF.limits.steam_s
    assert required["overshoot_K"] == BRIEF.limits.overshoot_K
    assert required["peak_current_A"] == BRIEF.site.current_limit_A
    assert required["warm_up_s"] is None


def test_flicker_beyond_the_standard_is_a_caution(subject: Subject) -> None:
    def with_flicker(nominal: float | None, batch: float) -> Subject:
        figures = {**subject.spread.figures, "flicker_Pst": np.full(16, batch)}
        return with_row(
            replace(subject, spread=replace(subject.spread, figures=figures)), flicker_Pst=nominal
        )

    assert flicker_blocks(with_flicker(0.8, 0.9)) == []
    assert flicker_blocks(with_flicker(None, 2.0)) == []  # no site of the method
    for nominal, batch in ((1.3, 1.4), (0.9, 1.1)):
        (block,) = flicker_blocks(with_flicker(nominal, batch))
        assert isinstance(block, Caution)
        assert "at most 1 by IEC 61000-3-3" in block.text


def test_tables_that_fit_on_a_page_are_not_split_and_headings_stay_with_them(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    pages: list[tuple[int, int]] = []
    headings: list[int] = []
    table, heading = pdf._table, pdf._heading

    def noted_table(document: Any, block: Table) -> None:
        first = document.page
        table(document, block)
        pages.append((first, document.page))

    def noted_heading(document: Any, text: str, level: int) -> None:
        heading(document, text, level)
        headings.append(document.page)

    rows = tuple((f"{k}", "something " * (1 + k % 4)) for k in range(14))
    blocks: list[Block] = []
    for k in range(9):
        blocks += [
            Heading("A table", 2),
            Heading("of this", 3),
            Table(("", "what"), rows[: 3 + k], widths=(1, 5)),
        ]
    blocks += [Heading("A long one"), Table(("", "what"), rows * 12, widths=(1, 5))]
    monkeypatch.setattr(pdf, "_table", noted_table)
    monkeypatch.setattr(pdf, "_heading", noted_heading)
    pdf.pdf_document("title", "foot", blocks, made=datetime(2026, 1, 31, tzinfo=UTC))
    drawn, above = pages[len(pages) // 2 :], headings[len(headings) // 2 :]  # measured first, then drawn
    assert len(drawn) == 10
    assert drawn[-2][1] > 2
    for number, (first, last) in enumerate(drawn[:-1]):
        assert above[2 * number] == above[2 * number + 1] == first == last
    assert drawn[-1][1] > drawn[-1][0]  # longer than a page
