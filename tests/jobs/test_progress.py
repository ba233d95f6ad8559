"""Progress as words, and how often it is said."""

from __future__ import annotations

import io
import os
import sys

import pytest

from boilerfront.jobs.progress import Meter, Teller, duration, words
from boilerfront.jobs.state import State


def test_words_say_designs_rate_time_front_and_growth() -> None:
    state = State(
        trials=1200,
        budget=20_000,
        rate_per_s=40.0,
        time_left_s=470.0,
        front=57,
        growth=0.004,
        growth_over_s=600.0,
    )
    assert words(state) == (
        "1,200 of 20,000 designs, 40 a second, 8 min left, 57 on the front, "
        "the front grew 0.4 % in the last 10 min"
    )


def test_words_before_anything_is_known() -> None:
    assert words(State(budget=10)) == "0 of 10 designs, no feasible design yet"


@pytest.mark.parametrize(("seconds", "text"), [(5, "5 s"), (150, "2 min"), (9000, "2.5 h")])
def test_durations(seconds: float, text: str) -> None:
    assert duration(seconds) == text


def test_the_meter_knows_the_last_ten_minutes_only() -> None:
    meter = Meter()
    for minute in range(30):
        meter.note_trials(60.0 * minute, 60 * minute if minute < 15 else 900 + 120 * (minute - 15))
        meter.note_volume(60.0 * minute, 1.0 if minute < 25 else 1.5)
    assert meter.rate_per_s == pytest.approx(2.0)
    growth, over_s = meter.growth
    assert growth == pytest.approx(0.5)
    assert over_s == pytest.approx(600.0)


def test_no_rate_while_nothing_came_back() -> None:
    meter = Meter()
    meter.note_trials(0.0, 5)
    meter.note_trials(9.0, 5)
    assert meter.rate_per_s is None


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_one_changing_line_on_a_terminal_plain_lines_elsewhere() -> None:
    terminal, file = Terminal(), io.StringIO()
    for stream in (terminal, file):
        teller = Teller(stream=stream)
        for second in range(40):
            teller.progress(float(second), f"{second} done")
        teller.say("finished")
    assert file.getvalue() == "0 done\n30 done\nfinished\n"
    assert "\r" in terminal.getvalue()
    assert terminal.getvalue().endswith("finished\n")


def test_a_terminal_that_has_gone_ends_nothing() -> None:
    gone = io.StringIO()
    gone.close()
    Teller(stream=gone).say("anybody there?")


def test_quiet_is_quiet() -> None:
    stream = io.StringIO()
    teller = Teller(stream=stream, quiet=True)
    teller.say("a")
    teller.progress(0.0, "b")
    assert stream.getvalue() == ""


def test_without_a_standard_error_nothing_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", None)  # as Python has it when a service manager closed it
    teller = Teller()
    teller.say("a sentence")
    teller.progress(1.0, "5 designs")


def test_the_changing_line_never_wraps(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Terminal, "fileno", lambda self: 2)
    monkeypatch.setattr(os, "get_terminal_size", lambda descriptor: os.terminal_size((20, 24)))
    stream = Terminal()
    teller = Teller(stream)
    teller.progress(0.0, "24 of 96 designs, 1.16 a second, 62 s left")
    teller.progress(5.0, "all")
    first, wiped, second = stream.getvalue().split("\r")
    assert first == "24 of 96 designs, …"
    assert wiped == " " * len(first)
    assert second == "all"
