"""Runs with invented rows for the tests of the page: no model, but every column and all sorts of texts."""

from __future__ import annotations

import base64
import gzip
import html
import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa

from boilerfront.model import Trace
from boilerfront.results.front import Progress, Record, front_table, objective_values
from boilerfront.results.ledger import Ledger
from boilerfront.results.page.content import Content, content_of
from boilerfront.results.page.traced import thinned
from boilerfront.results.page.write import page_html
from boilerfront.results.picks import keep
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.schema import Row
from tests.results.rows import SCHEMA, not_ready, row

NOW = datetime(2026, 1, 31, 8, 0, tzinfo=UTC)
HOSTILE = (
    "</script><script>window.broken = 1</script><img src=x onerror='window.broken = 2'>"
    " é → \u2028 $$x$$ {{ 7 * 7 }}"
)
SWEEP_TEXT = """\
name = "night"
[run]
started = "2026-01-30T19:00:00+00:00"
[variables]
architecture = { choices = ["dual_boiler", "dual_boiler_coil", "thermoblock"] }
brew_volume_mL = { low = 150.0, high = 1200.0, log = true }
[site]
name = "230 V 10 A"
"""


def noted(path: Path, progress: Progress, front: pa.Table) -> None:
    record = Record(path)
    record.note(progress, objective_values(front))
    record.write()


def on_front(trial: int, **values: float | str | bool | None) -> Row:
    """Return the row of a design that no other of its kind dominates: on a sphere, seen from its far side."""
    chance = np.random.default_rng(trial)
    away = np.abs(chance.normal(size=4))
    near = 1.0 - away / np.linalg.norm(away)
    objectives = {
        "shot_deviation_K": 0.1 + 0.9 * float(near[0]),
        "warm_up_s": 300.0 + 600.0 * float(near[1]),
        "energy_kWh_day": 0.2 + 0.2 * float(near[2]),
        "part_cost": 100.0 + 50.0 * float(near[3]),
    }
    nominal = {f"{name}_nominal": 0.9 * value for name, value in objectives.items()}
    return row(trial, **{**objectives, **nominal, **values})


def make_run(folder: Path, rows: Iterable[Row], *, sweep: str = SWEEP_TEXT) -> RunFolder:
    """Return a run with those rows in one generation, without a front of its own."""
    run = RunFolder(folder)
    folder.mkdir(parents=True, exist_ok=True)
    run.sweep_file.write_text(sweep, encoding="utf-8")
    ledger = Ledger(run.trials, SCHEMA)
    given = list(rows)
    if given:
        ledger.write_task(0, 0, given)
        table = ledger.close_generation(0)
        noted(run.convergence, Progress(0, len(given), len(given), 5.0), front_table(table))
    return run


def invented_trace(*, ready_s: float = 250.0) -> Trace:
    """Return a course of an hour with three shots and a steaming, for its shape alone."""
    time_s = np.arange(0.0, 1500.0, 0.5)
    spans = [(310.0, 338.0), (460.0, 480.0), (1400.0, 1440.0)]
    shot = np.full_like(time_s, np.nan)
    for begin, end in spans:
        inside = (time_s >= begin) & (time_s <= end)
        shot[inside] = 93.0 + 0.4 * np.sin((time_s[inside] - begin) / 5.0)
    warm = np.minimum(22.0 + time_s / 2.0, 94.0)
    power = np.where(time_s < 250.0, 900.0, 40.0)
    columns = {
        "shot_C": shot,
        "brew_sensor_C": warm,
        "group_sensor_C": warm - 2.0,
        "brew_power_W": power,
        "steam_power_W": power,
    }
    events = [
        (ready_s, "ready"),
        *[(begin, "shot begins") for begin, _ in spans],
        *[(end, "shot ends") for _, end in spans],
    ]
    events += [(600.0, "steam begins"), (640.0, "steam ends")]
    return Trace(time_s, columns, sorted(events), 93.0, ready_s, "came through its duty", scored_from_s=6.0)


def with_traces(content: Content, trials: Sequence[int]) -> Content:
    """Return a page's content in which some trials have an invented trace."""
    return replace(content, traces={trial: thinned(invented_trace()) for trial in trials})


def full_page(folder: Path, *, count: int = 300, note: str = HOSTILE) -> tuple[RunFolder, Content, str]:
    """Return a run with `count` designs on its front, what its page shows, and the page.

    A is kept from the front with a `note`, B breaks a margin, C never got ready; three designs have traces.
    """
    others = [on_front(count, feasible=False, margin_steam_s=-1.5), not_ready(count + 1)]
    run = make_run(folder, [*map(on_front, range(count)), *others])
    for trial, letter, said in ((7, "A", note), (count, "B", ""), (count + 1, "C", "")):
        keep(run, trial, letter=letter, note=said, now=NOW)
    content = with_traces(content_of(run, None), [7, 11, 12])
    return run, content, page_html(content, command="night")


def embedded(page: str) -> dict[str, Any]:
    """Return what the page's scripts read besides Bokeh's document."""
    found = re.search(r'<script type="application/json" id="page-data">(.*?)</script>', page, re.DOTALL)
    assert found is not None
    data: dict[str, Any] = json.loads(found[1])
    return data


def designs(page: str) -> dict[str, list[Any]]:
    """Return every column of the designs in the page, as the browser gets them."""
    for text in re.findall(r'<script type="application/json"[^>]*>(.*?)</script>', page, re.DOTALL):
        for model in _models(json.loads(html.unescape(text))):
            if model.get("attributes", {}).get("name") == "designs":
                return {name: _values(each) for name, each in model["attributes"]["data"]["entries"]}
    raise AssertionError("the page has no designs")


def _models(node: Any) -> Iterable[dict[str, Any]]:
    if isinstance(node, dict):
        if node.get("name") == "ColumnDataSource":
            yield node
        for value in node.values():
            yield from _models(value)
    elif isinstance(node, list):
        for value in node:
            yield from _models(value)


def _values(column: Any) -> list[Any]:
    if isinstance(column, dict):
        assert column["type"] == "ndarray"
        raw = gzip.decompress(base64.b64decode(column["array"]["data"]))
        numbers = np.frombuffer(raw, dtype=np.dtype(column["dtype"]).newbyteorder("<"))
        return list(numbers.tolist())
    return list(column)
