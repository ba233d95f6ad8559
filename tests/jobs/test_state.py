"""The small file that says how far a run is: a report, so whatever stands in it ends nothing."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from pathlib import Path

import pytest

from boilerfront.jobs.state import State, read_state, write_state
from boilerfront.results.run_folder import RunFolder


def test_what_was_written_is_read(tmp_path: Path) -> None:
    run = RunFolder(tmp_path)
    state = State(phase="stopped", trials=5, budget=10, rate_per_s=2.5, seconds=4.0, why="as asked")
    write_state(run, state)
    assert read_state(run) == state


def test_a_key_of_a_later_version_is_passed_over_and_a_missing_one_has_its_default(tmp_path: Path) -> None:
    run = RunFolder(tmp_path)
    run.state.write_text(json.dumps({"phase": "stopped", "seconds": 4, "of_a_later_version": 1}))
    assert read_state(run) == State(phase="stopped", seconds=4.0)


@pytest.mark.parametrize(
    "text",
    [
        *("", "[]", "3", "null", "[" * 100_000, "9" * 5000, "{", "\udcff"),
        *('{"phase": 3}', '{"phase": "asleep"}', '{"phase": null}'),
        *(
            '{"trials": "many"}',
            '{"trials": null}',
            '{"trials": true}',
            '{"trials": 1e999}',
            '{"trials": 2.5}',
        ),
        *(
            '{"seconds": null}',
            '{"seconds": "x"}',
            '{"seconds": NaN}',
            '{"seconds": 1' + 400 * "0" + "}",
            '{"rate_per_s": []}',
            '{"why": 3}',
        ),
    ],
)
def test_garbage_counts_as_no_state(tmp_path: Path, text: str) -> None:
    run = RunFolder(tmp_path)
    run.state.write_bytes(text.encode(errors="surrogateescape"))
    assert read_state(run) == State()


def test_running_without_a_holder_is_dead(tmp_path: Path) -> None:
    run = RunFolder(tmp_path)
    write_state(run, State(phase="running", trials=5))
    assert asdict(read_state(run)) == asdict(
        replace(State(), phase="died", trials=5, why="its driver ended without a word")
    )
