"""A log of the machine that the pack predicts passes; others fail, or cannot be told, with the reason."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from boilerfront.model import evaluate_many
from boilerfront.model.fit.columns import Columns
from boilerfront.model.fit.log import Log
from boilerfront.model.traces import Trace
from boilerfront.results.acceptance import (
    CANNOT_TELL,
    DOES_NOT,
    FAIL,
    MEETS,
    PASS,
    Acceptance,
    Verdict,
    judge,
    overall,
    overall_requirement,
    read_acceptance,
)
from boilerfront.results.pack.acceptance import acceptance_toml
from boilerfront.results.pack.bench import channels
from boilerfront.results.pack.subject import Subject
from boilerfront.shared.errors import InputError
from boilerfront.shared.shapes import Floats
from tests.jobs.test_cli import typed
from tests.results.packed import BRIEF, DESIGN, gathered

EVENTS = {"steam begins": "steam", "steam ends": "steam end", "shot begins": "shot", "shot ends": "stop"}


@pytest.fixture(scope="module")
def predicted() -> Subject:
    subject = gathered("demo", traced=2)
    return replace(subject, trace=_as_logged(subject.trace))


def _as_logged(trace: Trace) -> Trace:
    """Return a trace with the rows that a logger writes: one every few seconds, where a calm trace has one in 16 s.

    Temperatures lie on the line between the trace's rows, the rest is as in the step that a row is within.
    """
    rows = zip(trace.time_s[:-1], trace.time_s[1:], strict=True)
    between = [np.arange(row_s, next_s, 4.0)[1:] for row_s, next_s in rows]
    time_s = np.sort(np.concatenate([trace.time_s, *between]))
    step = np.searchsorted(trace.time_s, time_s)
    columns = {
        name: np.interp(time_s, trace.time_s, course) if name.endswith("_C") else course[step]
        for name, course in trace.columns.items()
    }
    return replace(trace, time_s=time_s, columns=columns)


@pytest.fixture(scope="module")
def pack(predicted: Subject, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("A-trial-7")
    content = acceptance_toml(predicted, channels(predicted), {"run": "demo"})
    (folder / "acceptance.toml").write_text(content, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def asked(pack: Path) -> Acceptance:
    return read_acceptance(pack)


def log_of(trace: Trace, name: str = "day 1", **changed: Floats | None) -> Log:
    """Return a perfect log of a trace; `changed` replaces channels, None leaves one out."""
    columns = trace.columns
    pumps = (columns["flow_g_s"] > 0.0) | (columns["refill_g_s"] > 0.0)
    power = columns["brew_power_W"] + columns["group_power_W"] + columns["steam_power_W"] + 2.0 + 50.0 * pumps
    logged = ("shot_C", "brew_sensor_C", "group_sensor_C", "steam_sensor_C", "flow_g_s")
    values: dict[str, Floats | None] = {channel: columns[channel].copy() for channel in logged}
    values |= {"power_W": power, "current_A": np.minimum(power / 230.0, 9.0)} | changed
    events = [(time_s, EVENTS[word]) for time_s, word in trace.events if word in EVENTS]
    known = {channel: course for channel, course in values.items() if course is not None}
    return Log(name, trace.time_s, known, events, Columns(), checks={"shot_C": [("ice", 0.0)]})


def by_figure(verdicts: list[Verdict]) -> Mapping[str, Verdict]:
    return {each.figure: each for each in verdicts}


def test_figures_of_a_log_are_those_of_the_simulation(predicted: Subject, asked: Acceptance) -> None:
    verdicts = by_figure(judge(asked, [log_of(predicted.trace)]))
    tolerances = BRIEF.tolerances.model_copy(update={"samples": 0})
    row = evaluate_many([DESIGN], BRIEF.model_copy(update={"tolerances": tolerances}))[0]
    # the same code on the same course: to rounding where it takes readings, to a meter's second where it takes sums
    exact = (
        "warm_up_s",
        "brew_ready_s",
        "worst_shot_K",
        "shot_to_shot_K",
        "within_shot_K",
        "dip_K",
    )
    sums = {"holding_power_W": 0.1, "energy_kWh_day": 1e-4, "steam_time_s": 1.0}
    # the machine samples from the moment of its last event on, the log by the clock: a crossing lies between others
    between = {"recovery_s": 0.01}
    for figure, within in {**dict.fromkeys(exact, 1e-6), **sums, **between}.items():
        value, simulated = verdicts[figure].value, row[figure]
        assert value is not None
        assert isinstance(simulated, float)
        assert value == pytest.approx(simulated, abs=within), figure


def test_the_predicted_machine_passes_on_three_days(predicted: Subject, asked: Acceptance) -> None:
    logs = [log_of(predicted.trace, f"day {k}") for k in (1, 2, 3)]
    verdicts = judge(asked, logs)
    assert {each.verdict for each in verdicts} == {PASS}, [each for each in verdicts if each.verdict != PASS]
    assert overall(asked, verdicts, 3)[0] == PASS
    assert overall(asked, verdicts, 1) == (CANNOT_TELL, "1 of 3 cold starts logged")
    assert len(verdicts) == 3 * (len(asked.figures) + len(asked.shots))


@pytest.mark.parametrize(
    ("above_s", "said"), [(4.0, MEETS), (2.0, CANNOT_TELL), (-2.0, CANNOT_TELL), (-4.0, DOES_NOT)]
)
def test_a_requirement_is_judged_beside_the_band_with_the_uncertainty_of_measuring(
    predicted: Subject, asked: Acceptance, above_s: float, said: str
) -> None:
    log = log_of(predicted.trace)
    value = by_figure(judge(asked, [log]))["steam_time_s"].value
    assert value is not None
    band = asked.figures["steam_time_s"]
    assert band.uncertainty == 3.0
    limited = band.model_copy(update={"required_at_most": value + above_s})
    figures = {
        name: each.model_copy(update={"required_at_most": None}) for name, each in asked.figures.items()
    }
    other = asked.model_copy(update={"figures": {**figures, "steam_time_s": limited}})
    verdicts = judge(other, [log])
    found = by_figure(verdicts)["steam_time_s"]
    assert (found.verdict, found.requirement, found.required) == (PASS, said, value + above_s)
    assert by_figure(verdicts)["warm_up_s"].requirement == ""
    assert overall_requirement(verdicts)[0] == said
    assert overall_requirement([replace(found, requirement="")])[0] == ""


def test_the_pack_says_what_is_required_and_what_must_be_released(asked: Acceptance) -> None:
    assert asked.figures["steam_time_s"].required_at_most == BRIEF.limits.steam_s
    assert asked.figures["warm_up_s"].required_at_most is None
    assert {"TC1", "TC2", "TC3", "SV1", "SV3", "LC3", "PE"} <= set(asked.release)


def test_hot_shots_fail_where_the_probe_was_checked_and_are_open_where_it_was_not(
    predicted: Subject, asked: Acceptance
) -> None:
    columns = predicted.trace.columns
    log = log_of(predicted.trace, shot_C=columns["shot_C"] + 0.9)
    verdicts = by_figure(judge(asked, [log]))
    assert verdicts["shot_deviation_K"].verdict == FAIL
    assert verdicts["shot_deviation_K"].reason.startswith("above by ")
    assert verdicts["within_shot_K"].verdict == PASS  # a probe's offset is not in it
    unchecked = by_figure(judge(asked, [replace(log, checks={})]))
    assert unchecked["shot_deviation_K"].verdict == CANNOT_TELL
    assert "no ice or boil check" in unchecked["shot_deviation_K"].reason
    off = replace(
        log, values={**log.values, "shot_C": columns["shot_C"] + 0.9}, checks={"shot_C": [("ice", 0.9)]}
    )
    assert by_figure(judge(asked, [off]))["shot_deviation_K"].verdict == PASS


def test_what_the_log_does_not_show_cannot_be_told(predicted: Subject, asked: Acceptance) -> None:
    trace = predicted.trace
    rest = np.ones(trace.time_s.size)
    silent = replace(log_of(trace), events=[])
    dry = replace(silent, values={**silent.values, "flow_g_s": 0.0 * rest})
    cases = {
        "warm_up_s": (log_of(trace, group_sensor_C=None), "no group_sensor_C"),
        "energy_kWh_day": (log_of(trace, power_W=None), "no power_W"),
        "peak_current_A": (log_of(trace, current_A=None), "no current_A"),
        "shot_1": (log_of(trace, shot_C=None), "no shot_C"),
        "worst_shot_K": (dry, "0 shots in the log, 8 in the duty"),
        "steam_time_s": (silent, "no pairs of events"),
        "dip_K": (log_of(trace, room_C=35.0 * rest), "room_C 35.0 is outside of 16.0 to 28.0"),
    }
    for figure, (log, why) in cases.items():
        verdict = by_figure(judge(asked, [log]))[figure]
        assert (verdict.verdict, why in verdict.reason) == (CANNOT_TELL, True), (figure, verdict)


def test_a_warm_start_is_none(predicted: Subject, asked: Acceptance) -> None:
    late = predicted.trace.time_s > 200.0
    log = log_of(predicted.trace)
    warm = replace(log, time_s=log.time_s[late] - 200.0, values={n: v[late] for n, v in log.values.items()})
    verdicts = judge(asked, [warm])
    assert all("no cold start" in each.reason for each in verdicts if each.value is not None)
    assert {each.verdict for each in verdicts} == {CANNOT_TELL}


def test_a_pack_of_the_first_format_tells_nothing_and_says_so(predicted: Subject, asked: Acceptance) -> None:
    verdicts = judge(asked.model_copy(update={"format": 1, "bands": None}), [log_of(predicted.trace)])
    assert {each.reason for each in verdicts} == {"this pack does not say its set-points: write it again"}


def test_it_is_typed(
    predicted: Subject,
    pack: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    log = log_of(predicted.trace)
    with (tmp_path / "tag 1.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(["time_s", *log.values, "event"])
        for k, time_s in enumerate(log.time_s):
            words = [text for when, text in log.events if when == time_s]
            cells = [float(course[k]) for course in log.values.values()]
            writer.writerow(
                [float(time_s), *("" if cell != cell else cell for cell in cells), *(words or [""])]
            )
    assert typed("acceptance", pack, tmp_path / "tag 1.csv", monkeypatch=monkeypatch) == 0
    shown = capsys.readouterr().out
    assert "warm_up_s" in shown
    assert "matches the model's band: " in shown
    assert "meets the requirement: " in shown
    assert "TC1, TC2, TC3" in shown
    assert "cannot tell" in shown
    assert typed("acceptance", pack, tmp_path / "tag 1.csv", "--format", "json", monkeypatch=monkeypatch) == 0
    assert '"figure": "warm_up_s"' in capsys.readouterr().out
    assert typed("acceptance", tmp_path, tmp_path / "tag 1.csv", monkeypatch=monkeypatch) == 2


def test_a_folder_that_is_no_pack_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="a pack's folder"):
        read_acceptance(tmp_path)
    (tmp_path / "acceptance.toml").write_text("format = 7\n", encoding="utf-8")
    with pytest.raises(InputError, match="machines"):
        read_acceptance(tmp_path)
