"""The page clicked through in a real browser: brush, limits, a design, keyboard, both widths, both looks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser

from boilerfront.results.ledger import read_ledger
from boilerfront.results.page.write import write_page
from boilerfront.results.schema import Row, metadata_of
from tests.results.page.browser import MISSING, NARROW, WIDE, Opened, chromium, opened, running
from tests.results.page.page_runs import full_page, make_run, on_front
from tests.results.rows import not_ready, row

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(chromium() is None, reason=MISSING),
]
COUNT = 300
"""Designs on the front; two more are kept without being on it, of which one has no figures."""


@dataclass(frozen=True)
class Night:
    """A page in its file, the ledger's rows by trial, the digits of its columns, a browser."""

    file: Path
    rows: dict[int, dict[str, Any]]
    digits: dict[str, int]
    browser: Browser


@pytest.fixture(scope="module")
def night(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Night]:
    folder = tmp_path_factory.mktemp("runs")
    run, _, page = full_page(folder / "night é", count=COUNT)
    file = folder / "page é.html"
    file.write_text(page, encoding="utf-8")
    table = read_ledger(run.trials).table
    with running(str(chromium())) as browser:
        yield Night(
            file,
            {each["trial"]: each for each in table.to_pylist()},
            {each.name: int(metadata_of(each).get("digits", "0")) for each in table.schema},
            browser,
        )


@pytest.fixture
def wide(night: Night) -> Iterator[Opened]:
    with opened(night.browser, night.file) as page:
        yield page
        assert page.complaints == []
        assert all(url.startswith(("file:", "data:", "blob:")) for url in page.requests), page.requests


def trials_in_table(page: Opened) -> list[int]:
    """Return the trials of all rows that the table has, in its order."""
    while page.page.locator("#more-rows").is_visible():
        page.page.locator("#more-rows").click()
    return [
        int(each)
        for each in page.asks(
            "[...document.querySelectorAll('#designs tbody tr')].map(r => page.at('trial', Number(r.dataset.row)))"
        )
    ]


def drag(page: Opened, picture: str, *, start: tuple[float, float], end: tuple[float, float]) -> None:
    """Drag over a picture, from and to shares of its width and height."""
    page.page.locator(f"#{picture}").scroll_into_view_if_needed()
    box = page.page.locator(f"#{picture}").bounding_box()
    assert box is not None
    mouse = page.page.mouse
    mouse.move(box["x"] + start[0] * box["width"], box["y"] + start[1] * box["height"])
    mouse.down()
    mouse.move(box["x"] + end[0] * box["width"], box["y"] + end[1] * box["height"], steps=6)
    mouse.up()
    page.settle()


def test_brushing_one_picture_brushes_all_and_the_table_follows(wide: Opened) -> None:
    drag(wide, "pair-0", start=(0.3, 0.3), end=(0.7, 0.7))
    brushed = wide.asks(
        "page.source.selected.indices.map(row => page.valueAt('trial', row)).sort((a, b) => a - b)"
    )
    assert 0 < len(brushed) < COUNT
    assert f"{len(brushed)} of them brushed" in wide.text("#count")
    assert sorted(trials_in_table(wide)) == brushed
    sources = wide.asks("new Set(page.pictures.map(p => p.renderers[0].data_source.id)).size")
    assert sources == 1
    wide.page.locator("#clear-brush").click()
    wide.settle()
    assert len(trials_in_table(wide)) == COUNT + 2


def test_a_limit_moved_by_keyboard_holds_in_pictures_and_table(wide: Opened, night: Night) -> None:
    slider = wide.page.locator("#limits input[name=warm_up_s]")
    slider.focus()
    for _ in range(5):
        wide.page.keyboard.press("PageDown")
    wide.settle()
    limit = float(slider.input_value())
    # What has no figure breaks no limit.
    meant = {
        trial for trial, row in night.rows.items() if row["warm_up_s"] is None or row["warm_up_s"] <= limit
    }
    assert 1 < len(meant) < COUNT
    assert set(trials_in_table(wide)) == meant
    assert set(wide.asks("page.model('inside').indices.map(row => page.valueAt('trial', row))")) == meant
    assert f"≤ {limit:.0f} s" in wide.text("#limits")
    wide.page.locator("#clear-limits").click()
    wide.settle()
    assert len(trials_in_table(wide)) == COUNT + 2


def test_a_further_limit_and_a_family_switched_off(wide: Opened, night: Night) -> None:
    wide.page.locator("#add-limit").select_option("least margin_steam_s")
    slider = wide.page.locator("#limits input[name=margin_steam_s]")
    slider.focus()
    for _ in range(3):
        wide.page.keyboard.press("PageUp")
    wide.page.locator("input[name=family][value=dual_boiler]").uncheck()
    wide.settle()
    limit = float(slider.input_value()) / 10 ** night.digits["margin_steam_s"]
    meant = {
        trial
        for trial, row in night.rows.items()
        if row["architecture"] == "dual_boiler_coil" and row["margin_steam_s"] >= limit
    }
    assert 0 < len(meant) < COUNT
    assert set(trials_in_table(wide)) == meant
    assert wide.page.locator("input[name=family][value=thermoblock]").is_disabled()


def test_clicking_a_point_shows_its_design_with_the_ledgers_figures(wide: Opened, night: Night) -> None:
    place = wide.asks(
        """(() => {
          const picture = page.pictures[0], row = page.source.data.trial.indexOf(11);
          const view = Bokeh.index.get_by_id(picture.id);
          const [x, y] = [page.valueAt("shot_deviation_K", row), page.valueAt("warm_up_s", row)];
          const { x_range: across, y_range: up } = picture;
          const box = view.frame_view.bbox, own = view.el.getBoundingClientRect();
          return [own.x + box.left + (x - across.start) / (across.end - across.start) * box.width,
                  own.y + box.top + (up.end - y) / (up.end - up.start) * box.height];
        })()"""
    )
    wide.page.mouse.click(*place)
    wide.settle()
    trial = wide.asks("page.valueAt('trial', page.chosen)")
    assert trial == 11
    row = night.rows[trial]
    assert wide.text("#design-title") == "Design trial 11"
    for name, unit in (("shot_deviation_K", "K"), ("warm_up_s", "s"), ("energy_kWh_day", "kWh")):
        shown = f"{row[name]:.{night.digits[name]}f}"
        assert f"{shown} {unit}" in wide.text("#chosen")
        assert shown in wide.text("#details .tiles")
    assert f"{row['margin_steam_s']:.1f} s" in wide.text("#details")
    assert "ready after 250 s" in wide.text("#trace-text")
    assert len(wide.asks("page.model('shots').data.number")) == 3
    assert wide.asks("page.source.selected.indices.length") == 0


def test_the_table_shows_each_number_with_the_ledgers_digits(wide: Opened, night: Night) -> None:
    trials = trials_in_table(wide)
    cells = wide.asks(
        "[...document.querySelectorAll('#designs tbody tr')].map(r => [...r.children].map(c => c.textContent.trim()))"
    )
    names = wide.asks("[...document.querySelectorAll('#designs thead th')].map(h => h.dataset.name)")
    assert names[:3] == ["trial", "architecture", "shot_deviation_K"]
    for trial, texts in zip(trials, cells, strict=True):
        for name, text in list(zip(names, texts, strict=True))[2:]:
            value = night.rows[trial][name]
            expected = "–" if value is None else value
            assert text == (f"{value:.{night.digits[name]}f}" if isinstance(value, float) else expected), (
                trial,
                name,
            )
    deviations = [night.rows[trial]["shot_deviation_K"] for trial in trials]
    assert deviations.pop() is None
    assert deviations == sorted(deviations)


def test_a_heading_sorts_either_way_and_arrows_walk_through_rows(wide: Opened, night: Night) -> None:
    heading = wide.page.locator("#designs th[data-name=part_cost] button")
    heading.click()
    costs = [night.rows[trial]["part_cost"] for trial in trials_in_table(wide)]
    assert costs.pop() is None
    assert costs == sorted(costs)
    heading.focus()
    wide.page.keyboard.press("Enter")
    trials = trials_in_table(wide)
    assert [night.rows[trial]["part_cost"] for trial in trials] == [*sorted(costs, reverse=True), None]
    wide.page.locator("#designs tbody tr").first.click()
    for _ in range(3):
        wide.page.keyboard.press("ArrowDown")
    wide.settle()
    assert wide.asks("page.valueAt('trial', page.chosen)") == trials[3]
    assert wide.page.locator("#designs tr[aria-selected=true]").count() == 1


def test_arrow_keys_step_through_a_picture(wide: Opened, night: Night) -> None:
    wide.page.locator("#pair-0").focus()
    known = [row for row in night.rows.values() if row["shot_deviation_K"] is not None]
    walk = sorted(known, key=lambda row: row["shot_deviation_K"])
    here = [row["trial"] for row in walk].index(wide.asks("page.valueAt('trial', page.chosen)"))
    wide.page.keyboard.press("ArrowRight")
    wide.settle()
    assert wide.asks("page.valueAt('trial', page.chosen)") == walk[here + 1]["trial"]


def test_a_design_without_traces_points_to_the_nearest_with_some(wide: Opened) -> None:
    wide.asks("page.choose(page.source.data.trial.indexOf(200))")
    assert "for 3 designs" in wide.text("#trace-text")
    assert not wide.page.locator("#trace-pictures").is_visible()
    wide.page.locator("#trace-text button").click()
    assert wide.page.locator("#trace-pictures").is_visible()


def test_the_first_design_is_the_kept_one_and_its_note_is_text(wide: Opened) -> None:
    assert wide.text("#design-title") == "Design Atrial 7"
    assert "</script><script>" in wide.text(".note")
    assert "{{ 7 * 7 }}" in wide.text(".note")
    assert wide.asks("window.broken") is None


def test_designs_that_are_not_feasible_say_why(wide: Opened) -> None:
    for trial, said in ((COUNT, "Not feasible: steam."), (COUNT + 1, "Not feasible: not ready.")):
        wide.asks(f"page.choose(page.source.data.trial.indexOf({trial}))")
        wide.settle()
        assert said in wide.text("#details")
        assert "not on the front" in wide.text("#details")


def test_points_are_coloured_by_any_variable(wide: Opened) -> None:
    by_family = wide.asks("page.source.data.colour")
    assert len(set(by_family)) == 2
    markers = wide.asks("[...new Set(page.source.data.marker)]")
    assert len(markers) == 2
    for name in ("brew_volume_mL", "control", "margin_steam_s"):
        wide.page.locator("#colour").select_option(name)
        assert len(set(wide.asks("page.source.data.colour"))) > 1
        assert wide.text("#colour-key")
    assert wide.asks("page.source.data.colour") != by_family


def test_dragging_zooms_when_asked_and_goes_back(wide: Opened) -> None:
    before = wide.asks("[page.pictures[0].x_range.start, page.pictures[1].x_range.end]")
    wide.page.locator("input[name=drag][value=zoom]").check()
    drag(wide, "pair-0", start=(0.4, 0.3), end=(0.6, 0.6))
    after = wide.asks("[page.pictures[0].x_range.start, page.pictures[1].x_range.end]")
    assert after[0] > before[0]
    assert after[1] < before[1], "axes of the same figure move together"
    wide.page.locator("#reset-zoom").click()
    assert wide.asks("[page.pictures[0].x_range.start, page.pictures[1].x_range.end]") == before


@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["wide", "narrow"])
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_both_widths_and_looks(night: Night, size: tuple[int, int], dark: bool) -> None:
    with opened(night.browser, night.file, size=size, dark=dark) as page:
        assert page.asks("document.documentElement.scrollWidth") == size[0]
        ground = page.asks("getComputedStyle(document.body).backgroundColor.match(/\\d+/g).map(Number)")
        ink = page.asks("page.pictures[0].below[0].axis_label_text_color.match(/\\d+/g).map(Number)")
        assert (sum(ground) < sum(ink)) == dark
        page.page.locator("#theme").select_option("light" if dark else "dark")
        turned = page.asks("getComputedStyle(document.body).backgroundColor.match(/\\d+/g).map(Number)")
        assert (sum(turned) < sum(ground)) == (not dark)
        shown = page.asks(
            "[...document.querySelectorAll('.pair')].filter(f => f.offsetParent !== null).length"
        )
        assert shown == (6 if size == WIDE else 1)
        assert page.complaints == []


def test_a_finger_scrolls_until_somebody_wants_to_brush(night: Night) -> None:
    with opened(night.browser, night.file, size=NARROW) as page:
        drag(page, "pair-0", start=(0.3, 0.3), end=(0.8, 0.8))
        assert page.asks("page.source.selected.indices.length") == 0
        page.page.locator("input[name=drag][value=brush]").check()
        page.page.locator("#pair").select_option("pair-3")
        drag(page, "pair-3", start=(0.3, 0.2), end=(0.8, 0.6))
        assert page.asks("page.source.selected.indices.length") > 0
        assert page.complaints == []


@pytest.mark.parametrize(
    "rows",
    [
        [],
        [not_ready(trial) for trial in range(60)],
        [row(1)],
        [on_front(trial, architecture=f"family_{trial % 9}") for trial in range(50)],
    ],
    ids=["nothing", "nothing feasible", "one design", "nine families"],
)
def test_runs_of_all_sorts(night: Night, tmp_path: Path, rows: list[Row]) -> None:
    file = tmp_path / "page.html"
    write_page(make_run(tmp_path / "night", rows), file, None)
    with opened(night.browser, file, dark=True) as page:
        page.page.locator("#theme").select_option("light")
        page.settle()
        assert page.text("h1") == "night"
        assert page.complaints == []
