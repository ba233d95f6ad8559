"""Traces as a picture and as columns for other tools."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest

from boilerfront.model import Trace
from boilerfront.results.trace_picture import picture
from boilerfront.results.trace_plot import Traced, temperatures_of, trace_table, write_traces
from boilerfront.shared.errors import InputError


def trace() -> Trace:
    time_s = np.arange(0.0, 120.0)
    shot = np.where((time_s > 60) & (time_s < 90), 93.0 + 0.2 * np.sin(time_s), np.nan)
    warm = np.minimum(22.0 + time_s, 93.0)
    names = ("brew_sensor_C", "group_sensor_C", "steam_sensor_C")
    powers = ("brew_power_W", "group_power_W", "steam_power_W", "flow_g_s", "refill_g_s", "steam_flow_g_s")
    columns = {"shot_C": shot, **dict.fromkeys(names, warm), **dict.fromkeys(powers, 0.0 * time_s)}
    events = [(55.0, "ready"), (60.0, "shot begins"), (90.0, "shot ends")]
    return Trace(
        time_s=time_s,
        columns=columns,
        events=events,
        user_set_point_C=93.0,
        ready_s=55.0,
        verdict="came through its duty",
    )


def test_a_picture_of_two_designs(tmp_path: Path) -> None:
    path = tmp_path / "two.png"
    write_traces(path, [Traced("trial 1", trace(), 0.2), Traced("trial 2", trace())])
    assert path.read_bytes().startswith(b"\x89PNG")


def test_one_design_two_designs_and_one_that_never_gets_ready_are_drawn() -> None:
    """Two designs share the panel of each shot; without shots there is none."""
    cut = replace(trace(), events=[], ready_s=None, verdict="never ready")
    steaming = replace(trace(), columns={**trace().columns, "steam_pressure_bar": trace().time_s})
    for traced, panels in (
        ([Traced("a", trace())], 3 + 1),
        ([Traced("a", trace(), 0.2), Traced("b", trace(), 0.3)], 2 * 3 + 1),
        ([Traced("a", trace()), Traced("b", cut)], 2 * 3 + 1),
        ([Traced("b", cut)], 3),
        ([Traced("a", steaming), Traced("b", cut)], 2 * 4 + 1),
    ):
        drawn = picture(traced)
        drawn.draw_without_rendering()
        assert len(drawn.axes) == panels
    lines = picture([Traced("a", trace(), 0.2), Traced("b", trace(), 0.3)]).axes[-1].get_lines()
    assert [line.get_label() for line in lines if not str(line.get_label()).startswith("_")] == ["a", "b"]


def test_spans_of_a_trace_that_was_cut_in_a_shot_end_with_it() -> None:
    cut = replace(trace(), events=[(55.0, "ready"), (60.0, "shot begins")])
    assert cut.spans("shot") == [(60.0, 119.0)]
    assert cut.spans("steam") == []
    assert trace().spans("shot") == [(60.0, 90.0)]


def test_sensors_are_called_by_what_the_machine_has() -> None:
    """A machine without a part repeats another sensor in its column."""

    def words(*nodes: str) -> list[str]:
        plain = trace()
        columns = {**plain.columns, **{f"{node}_C": plain.time_s for node in nodes}}
        return [word for _, word, _ in temperatures_of(replace(plain, columns=columns))]

    assert words() == ["steam boiler", "brew boiler", "group"]
    assert words("passage_1", "brew_1", "steam", "casing") == [
        "steam boiler",
        "brew boiler",
        "group",
        "casing air",
    ]
    assert words("passage_1", "channel_1") == ["block", "group"]
    assert words("passage_1", "steam", "coil_1") == ["steam boiler", "group"]


def test_columns_carry_their_units(tmp_path: Path) -> None:
    path = tmp_path / "two.parquet"
    write_traces(path, [Traced("trial 1", trace()), Traced("trial 2", trace())])
    table = pq.read_table(path)
    assert table.num_rows == 240
    units = {field.name: (field.metadata or {}).get(b"unit", b"").decode() for field in table.schema}
    assert units["shot_C"] == "°C"
    assert units["brew_power_W"] == "W"
    assert units["flow_g_s"] == "g/s"
    assert units["time_s"] == "s"


def test_csv_leaves_what_is_no_shot_empty(tmp_path: Path) -> None:
    path = tmp_path / "one.csv"
    write_traces(path, [Traced("design", trace())])
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert rows[0]["shot_C"] == ""
    assert float(rows[70]["shot_C"]) == pytest.approx(93.0, abs=0.3)
    assert list(rows[0])[:2] == ["design", "time_s"]


def test_another_suffix_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"\.png, \.csv or \.parquet"):
        write_traces(tmp_path / "x.gif", [Traced("design", trace())])


def test_rows_follow_one_another() -> None:
    table = trace_table([Traced("a", trace()), Traced("b", trace())])
    assert table["design"].to_pylist() == ["a"] * 120 + ["b"] * 120
