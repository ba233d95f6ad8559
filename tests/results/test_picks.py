"""Letters for designs: proposed, kept in a file that people edit, used in place of numbers."""

from __future__ import annotations

import threading
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boilerfront.results.picks import (
    Pick,
    drop,
    keep,
    kept_picks,
    picks_by_trial,
    propose_letters,
    proposed_picks,
    trial_numbers,
)
from boilerfront.results.run_folder import RunFolder
from boilerfront.shared import files
from boilerfront.shared.errors import InputError
from tests.faulty_disk import RefusingDisk

NOW = datetime(2026, 1, 31, 8, 0, tzinfo=UTC)


@pytest.fixture
def run(tmp_path: Path) -> RunFolder:
    return RunFolder(tmp_path)


def test_proposed_letters_stand_for_trials_until_others_are_proposed(run: RunFolder) -> None:
    assert propose_letters(run, [106, 5], now=NOW) == {106: "A", 5: "B"}
    assert trial_numbers(run, ["b", "A", "77"]) == [5, 106, 77]
    assert propose_letters(run, [9], now=NOW) == {9: "A"}
    assert trial_numbers(run, ["A"]) == [9]
    with pytest.raises(InputError, match=r"'B'; allowed: a trial's number or a letter: A \(trial 9\)"):
        trial_numbers(run, ["B"])


def test_a_kept_letter_stays_with_its_trial(run: RunFolder) -> None:
    propose_letters(run, [106, 5, 8], now=NOW)
    assert keep(run, 5, note=" for the show ", now=NOW) == Pick("B", 5, "for the show", date(2026, 1, 31))
    assert propose_letters(run, [1, 2, 5], now=NOW) == {1: "A", 2: "C", 5: "B"}
    assert trial_numbers(run, ["A", "B", "C"]) == [1, 5, 2]
    assert {trial: pick.letter for trial, pick in picks_by_trial(run).items()} == {1: "A", 5: "B", 2: "C"}


def test_a_letter_kept_for_a_trial_is_no_longer_proposed_for_another(run: RunFolder) -> None:
    propose_letters(run, [1, 2], now=NOW)
    keep(run, 7, letter="a", now=NOW)
    assert list(proposed_picks(run)) == ["B"]
    assert trial_numbers(run, ["A"]) == [7]


def test_kept_again_changes_the_note_alone(run: RunFolder) -> None:
    keep(run, 7, letter="C", note="first", now=NOW)
    assert keep(run, 7, now=NOW).note == "first"
    assert keep(run, 7, letter="C", note="second", now=NOW).note == "second"
    assert list(kept_picks(run)) == ["C"]


def test_letters_are_not_taken_away(run: RunFolder) -> None:
    keep(run, 7, letter="A", now=NOW)
    with pytest.raises(InputError, match="--as: found A, kept for trial 7; allowed: a free one, such as B"):
        keep(run, 8, letter="A", now=NOW)
    with pytest.raises(InputError, match="under which trial 7 is kept"):
        keep(run, 7, letter="B", now=NOW)
    for bad in ("", "ABC", "Ä", "1", "A B"):
        with pytest.raises(InputError, match="--as"):
            keep(run, 8, letter=bad, now=NOW)


def test_what_people_wrote_into_the_file_stays(run: RunFolder) -> None:
    keep(run, 7, letter="A", note="x", now=NOW)
    text = run.picks.read_text(encoding="utf-8")
    by_hand = "# Wednesday's round\n" + text + '# ask Eva\n\n[AB]\ntrial = 3\ndate = "2026-02-01"\n'
    run.picks.write_text(by_hand, encoding="utf-8")
    assert kept_picks(run)["AB"] == Pick("AB", 3, "", date(2026, 2, 1))
    keep(run, 7, note="y", now=NOW)
    keep(run, 4, now=NOW)
    changed = run.picks.read_text(encoding="utf-8")
    assert changed.startswith("# Wednesday's round\n")
    assert "# ask Eva\n" in changed
    assert {pick.letter: (pick.trial, pick.note) for pick in kept_picks(run).values()} == {
        "A": (7, "y"),
        "B": (4, ""),
        "AB": (3, ""),
    }
    assert drop(run, "ab", now=NOW).trial == 3
    assert list(kept_picks(run)) == ["A", "B"]
    assert "# ask Eva\n" in run.picks.read_text(encoding="utf-8")
    with pytest.raises(InputError, match="--drop: found 'Z'"):
        drop(run, "Z", now=NOW)


def test_a_layout_that_is_not_ours_is_read_but_not_rewritten(run: RunFolder) -> None:
    text = 'A = { trial = 7, note = "x" }\n'
    run.picks.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="change A there by hand"):
        keep(run, 7, note="y", now=NOW)
    assert run.picks.read_text(encoding="utf-8") == text
    assert keep(run, 8, now=NOW).letter == "B"
    assert list(kept_picks(run)) == ["A", "B"]


def test_every_fault_of_a_broken_file_at_once(run: RunFolder) -> None:
    run.picks.write_text(
        '[A]\ntrial = "7"\n[b]\ntrial = 1\n[C]\ntrial = -1\nnots = "x"\n[D]\nnote = "no trial"\n'
        '[E]\ntrial = 1\ndate = "soon"\n[ABC]\ntrial = true\n',
        encoding="utf-8",
    )
    with pytest.raises(InputError) as caught:
        trial_numbers(run, ["A"])
    places = [fault.where.rpartition(": ")[2] for fault in caught.value.faults]
    assert places == ["A.trial", "b", "C.trial", "C.nots", "D.trial", "E.date", "ABC", "ABC.trial"]
    assert "did you mean 'note'?" in str(caught.value)
    assert trial_numbers(run, ["7"]) == [7]  # a number needs no letters


@pytest.mark.parametrize("data", [b"\xff\xfe", b"[A\n", b"A = 1\n", b"[A]\ntrial = 1" + b"0" * 5000])
def test_a_file_that_cannot_be_read_changes_nothing(run: RunFolder, data: bytes) -> None:
    run.picks.write_bytes(data)
    with pytest.raises(InputError):
        keep(run, 3, now=NOW)
    assert run.picks.read_bytes() == data


def test_a_bad_file_of_proposals_counts_as_none(run: RunFolder) -> None:
    run.proposed.write_text("nonsense", encoding="utf-8")
    assert proposed_picks(run) == {}
    assert propose_letters(run, [4], now=NOW) == {4: "A"}


def test_no_pick_is_lost_when_many_keep_at_once(run: RunFolder) -> None:
    """Each thread opens the lock's file anew, so the kernel keeps them apart as it does processes."""
    workers = [threading.Thread(target=keep, args=(run, trial), kwargs={"now": NOW}) for trial in range(12)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert sorted(pick.trial for pick in kept_picks(run).values()) == list(range(12))
    assert list(kept_picks(run)) == list("ABCDEFGHJKLM")  # I looks like a 1


def test_after_the_alphabet_come_pairs(run: RunFolder) -> None:
    letters = propose_letters(run, range(30), now=NOW)
    assert list(letters.values())[23:27] == ["Z", "AA", "AB", "AC"]


def test_a_disk_that_refuses_loses_nothing(run: RunFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    keep(run, 1, note="first", now=NOW)
    for call in range(1, 20):
        disk = RefusingDisk(at=call)
        monkeypatch.setattr(files, "DISK", disk)
        try:
            keep(run, 2, now=NOW)
        except files.DiskError:
            assert kept_picks(run)["A"].note == "first"
        else:
            break
    assert disk.calls < call
    assert list(kept_picks(run)) == ["A", "B"]


NOTES = st.text(st.characters(exclude_categories=["Cs"]), max_size=60)


@given(notes=st.dictionaries(st.integers(0, 20), NOTES, min_size=1, max_size=3), again=NOTES)
@settings(max_examples=25, deadline=None)
def test_notes_of_any_text_come_back(
    tmp_path_factory: pytest.TempPathFactory, notes: dict[int, str], again: str
) -> None:
    run = RunFolder(tmp_path_factory.mktemp("run"))
    for trial, note in notes.items():
        keep(run, trial, note=note, now=NOW)
    first = next(iter(notes))
    keep(run, first, note=again, now=NOW)
    expected = {**notes, first: again}
    assert {pick.trial: pick.note for pick in kept_picks(run).values()} == {
        trial: note.strip() for trial, note in expected.items()
    }
