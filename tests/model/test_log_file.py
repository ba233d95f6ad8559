"""Bench logs as they come: mended where that is honest, refused with one clear message a fault where it is not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boilerfront.model.fit.columns import Columns, read_columns
from boilerfront.model.fit.log import Log
from boilerfront.model.fit.log_file import read_log, read_logs
from boilerfront.shared.errors import InputError

HEADER = "time_s,brew_sensor_C,brew_power_W,event"
ROWS = [f"{k},{22.0 + 0.1 * k:.1f},900," for k in range(100)]


def text(rows: list[str] | None = None, header: str = HEADER) -> str:
    return "\n".join([header, *(ROWS if rows is None else rows)]) + "\n"


def replaced(line: int, row: str) -> str:
    rows = list(ROWS)
    rows[line] = row
    return text(rows)


MALFORMED: dict[str, tuple[str | bytes, str]] = {
    "empty": ("", "nothing"),
    "zero bytes": (b"time_s,brew_sensor_C\0\n", "zero bytes"),
    "another encoding": (text(header=HEADER.replace("event", "°C")).encode("latin-1"), "byte 0xb0"),
    "header only": (HEADER + "\n", "0 rows of readings"),
    "no header": (text(header="0,22.0,900,1"), "a header with the columns' names"),
    "no time": (text(header=HEADER.replace("time_s", "clock")), "no column 'time_s'"),
    "no temperature": (text(header=HEADER.replace("brew_sensor_C", "T1")), "at least one temperature"),
    "a name twice": (text(header="time_s,brew_sensor_C,brew_sensor_C,event"), "'brew_sensor_C' twice"),
    "short row": (replaced(5, "5,22.5"), "line 7: found 2 cells; allowed: 4 cells"),
    "long row": (replaced(5, "5,22.5,900,,,"), "line 7: found 6 cells"),
    "text in a number": (replaced(5, "5,hot,900,"), "line 7: brew_sensor_C: found 'hot'"),
    "decimal comma": (
        replaced(5, '5,"22,5",900,'),
        "found '22,5'; allowed: a finite number with decimal '.'",
    ),
    "infinite": (replaced(5, "5,inf,900,"), "found 'inf'"),
    "underscored": (replaced(5, "5,2_2,900,"), "found '2_2'"),
    "time is text": (replaced(5, "noon,22.5,900,"), "line 7: time_s: found 'noon'"),
    "no time in a row": (replaced(5, ",22.5,900,"), "line 7: time_s: found ''"),
    "another delimiter": (text().replace(",", ";"), "one column"),
    "clock stands still": (text([f"7,{22 + k},900," for k in range(60)]), "stands still"),
    "clock to and fro": (text([f"{k % 7},{22 + k},900," for k in range(90)]), "steps back"),
    "too short": (text([f"{0.1 * k},{22 + k},900," for k in range(60)]), "5.9 s in all"),
    "fahrenheit": (text([f"{k},{190 + k / 9:.1f},900," for k in range(99)]), "--columns FILE says the unit"),
    "dead probe": (text([f"{k},22.0,900," for k in range(99)]), "22 °C all the time"),
    "negative power": (replaced(5, "5,22.5,-900,"), "nothing below zero"),
    "never a reading": (text([f"{k},,900," for k in range(99)]), "no reading in any temperature"),
    "open quote": (replaced(5, '5,"22.5,900,'), "a CSV file"),
}


@pytest.mark.parametrize("kind", MALFORMED)
def test_a_malformed_log_gets_a_clear_message(kind: str, tmp_path: Path) -> None:
    content, said = MALFORMED[kind]
    path = tmp_path / "läuft.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(InputError) as refused:
        read_log(path, Columns())
    assert said in str(refused.value)
    assert "läuft.csv" in str(refused.value)


def test_what_is_no_file_is_said(tmp_path: Path) -> None:
    for path, said in ((tmp_path / "none.csv", "No such file"), (tmp_path, "Is a directory")):
        with pytest.raises(InputError, match=said):
            read_log(path, Columns())


def test_all_faults_of_all_logs_are_told_at_once(tmp_path: Path) -> None:
    bad = [f"{row}{'x' if k % 2 else ''}".replace("900,x", "x,") for k, row in enumerate(ROWS)]
    (tmp_path / "a.csv").write_text(text(bad), encoding="utf-8")
    (tmp_path / "b.csv").write_text(replaced(3, "3,cold,hot,"), encoding="utf-8")
    with pytest.raises(InputError) as refused:
        read_logs([tmp_path / "a.csv", tmp_path / "b.csv"], Columns())
    told = [str(fault) for fault in refused.value.faults]
    assert len(told) == 3 + 1 + 2  # three with their lines and how many there are; both of the other log
    assert any("50 such cells" in each for each in told)


def test_the_same_log_twice_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(text(), encoding="utf-8")
    with pytest.raises(InputError, match="the same readings"):
        read_logs([tmp_path / "a.csv", tmp_path / "a.csv"], Columns())


BAD_COLUMNS = {
    'delimiter = "|"': "delimiter",
    "[time]\nunit = 'days'": "time.unit",
    "[time]\nrate = 2.0": "time.rate",
    "[channels.brewtemp]\ncolumn = 'T1'": "brewtemp is no channel",
    "[channels.shot_C]\ncolumn = 'T1'\nunit = 'V'": "none of °C",
    "[channels.shot_C]\ncolumn = 'T1'\n[channels.casing_C]\ncolumn = 'T1'": "named twice",
    "[channels.shot_C]\ncolum = 'T1'": "did you mean 'column'",
    "channels = ": "Invalid value",
}


@pytest.mark.parametrize("content", BAD_COLUMNS)
def test_a_wrong_mapping_gets_a_clear_message(content: str, tmp_path: Path) -> None:
    path = tmp_path / "columns.toml"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(InputError, match=BAD_COLUMNS[content].replace("[", r"\[")):
        read_columns(path)


def test_units_commas_dates_and_names_are_mapped(tmp_path: Path) -> None:
    (tmp_path / "columns.toml").write_text(
        'delimiter = ";"\ndecimal = ","\nevent = "was"\n[time]\ncolumn = "Zeit"\nunit = "iso"\n'
        '[channels.brew_sensor_C]\ncolumn = "T 1"\nunit = "°F"\n[channels.brew_power_W]\ncolumn = "P"\nunit = "kW"\n',
        encoding="utf-8",
    )
    rows = [f"2026-03-01T07:{k // 60:02}:{k % 60:02};{212 + k / 10:.1f};0,9;" for k in range(120)]
    lines = "Zeit;T 1;P;was\n" + "\n".join(rows).replace(".", ",")
    (tmp_path / "a.csv").write_text(lines, encoding="utf-8")
    log = read_log(tmp_path / "a.csv", read_columns(tmp_path / "columns.toml"))
    assert log.time_s[-1] == 120.0  # the first row's power covers the second before it
    assert log.values["brew_sensor_C"][0] == pytest.approx(100.0)  # water boils at 212 °F
    assert log.values["brew_power_W"][0] == pytest.approx(900.0)


def written(tmp_path: Path, rows: list[str]) -> Log:
    path = tmp_path / "a.csv"
    path.write_text(text(rows), encoding="utf-8")
    return read_log(path, Columns())


def test_a_clock_that_was_set_goes_on(tmp_path: Path) -> None:
    rows = [f"{k if k < 50 else k + 3600 if k < 70 else k - 40},{22 + 0.1 * k:.1f},900," for k in range(100)]
    log = written(tmp_path, rows)
    assert log.time_s == pytest.approx(np.arange(1.0, 101.0))
    assert any("the clock was set 2 times" in note for note in log.notes)


def test_outliers_gaps_repeats_and_empty_cells_are_mended(tmp_path: Path) -> None:
    rows = [row for k, row in enumerate(ROWS) if not 40 <= k < 55]
    rows[10] = "10,150.0,900,"  # alone among its neighbours
    rows[20] = "20,,900,"
    rows[30:30] = [rows[30]]
    log = written(tmp_path, rows)
    assert np.isnan(log.values["brew_sensor_C"][[10, 20]]).all()
    assert log.time_s.size == np.unique(log.time_s).size
    said = " ".join(log.notes)
    assert "1 outliers" in said
    assert "1 gaps, the longest 16 s" in said
    assert "1 rows repeat a time" in said


def test_events_that_mean_nothing_are_noted(tmp_path: Path) -> None:
    rows = [row + {3: "coffee spilled", 9: "shot fast"}.get(k, "") for k, row in enumerate(ROWS)]
    log = written(tmp_path, rows)
    assert log.notes == ["events that mean nothing here: coffee spilled"]


def test_ice_and_boil_rows_are_checks_and_no_course(tmp_path: Path) -> None:
    warming = [f"{100 + k},{22 + 0.1 * k:.1f},900,{'on' if k == 5 else ''}" for k in range(100)]
    rows = ["0,0.4,0,ice", "60,100.6,0,boil brew_sensor_C", *warming]
    log = written(tmp_path, rows)
    assert log.checks == {"brew_sensor_C": [("ice", 0.4), ("boil", 100.6)]}
    assert log.time_s[0] == 1.0
    assert log.values["brew_sensor_C"][0] == pytest.approx(22.5)  # switched on


@settings(max_examples=60, deadline=None)
@given(
    data=st.lists(
        st.tuples(
            st.sampled_from(["", "1", "-1", "nan", "x", "1e400", "22,5", '"', "\n", "\t"]),
            st.integers(0, 400),
        ),
        max_size=12,
    )
)
def test_whatever_is_scribbled_over_a_log_gives_a_log_or_faults(
    data: list[tuple[str, int]], tmp_path_factory: pytest.TempPathFactory
) -> None:
    content = text()
    for scrap, place in data:
        content = content[:place] + scrap + content[place + 1 :]
    path = tmp_path_factory.mktemp("scribbled") / "a.csv"
    path.write_text(content, encoding="utf-8")
    try:
        log = read_log(path, Columns())
    except InputError:
        return
    assert (np.diff(log.time_s) > 0.0).all()
