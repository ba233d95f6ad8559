"""Picked designs: letters that can be said aloud, kept with a note in the run's folder.

`picks.toml` belongs to people: a table for each letter, which may be edited by hand and keeps its comments.
`proposed.toml` remembers the letters that were proposed last, until others are.
"""

from __future__ import annotations

import itertools
import re
import string
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Annotated

from pydantic import Field, field_validator

from boilerfront.results.run_folder import RunFolder
from boilerfront.shared.errors import Fault, InputError
from boilerfront.shared.files import write_atomically
from boilerfront.shared.lock import Holder, locked
from boilerfront.shared.schema import Section, validated
from boilerfront.shared.toml_text import toml_text

PATIENCE_S = 10.0
"""How long a change of the picks waits for another one, which takes milliseconds."""
LONGEST_NOTE = 2000

_LETTER = re.compile("[A-Z]{1,2}")
_SPOKEN = [letter for letter in string.ascii_uppercase if letter not in "IO"]
_LETTERS = "one or two letters of A to Z"
_HEADING = "# Kept designs of this run, a table for each letter. It may be edited by hand.\n"


Day = date
"""Another name for the type: `_Entry` has a field called date."""


class _Entry(Section):
    """What `picks.toml` says of one letter."""

    trial: Annotated[int, Field(ge=0)]
    note: Annotated[str, Field(max_length=LONGEST_NOTE)] = ""
    date: Day | None = None

    @field_validator("date", mode="before")
    @classmethod
    def _from_text(cls, value: object) -> object:
        """A date between quotes is as good as TOML's own."""
        if not isinstance(value, str):
            return value
        try:
            return Day.fromisoformat(value)
        except ValueError:
            raise ValueError("a date such as 2026-01-31") from None


@dataclass(frozen=True)
class Pick:
    """A design that somebody picked; `on` is the day."""

    letter: str
    trial: int
    note: str = ""
    on: date | None = None


def kept_picks(run: RunFolder) -> dict[str, Pick]:
    """Return the kept picks by letter, in the order of the letters.

    Raises `InputError` with every fault of the file.
    """
    return _parsed(run.picks, _read(run.picks))


def proposed_picks(run: RunFolder) -> dict[str, Pick]:
    """Return what was proposed last under letters that nothing is kept under; a bad file counts as none."""
    try:
        proposed = _parsed(run.proposed, _read(run.proposed))
    except InputError:
        return {}
    kept = kept_picks(run)
    return {letter: pick for letter, pick in proposed.items() if letter not in kept}


def trial_numbers(run: RunFolder, words: Sequence[str]) -> list[int]:
    """Return the trials that `words` mean: numbers as they stand, letters of kept and of proposed picks.

    Raises `InputError` with every word that means none. Whether the run has such a trial is not looked at.
    """
    letters: dict[str, Pick] = {}
    if not all(_is_number(word) for word in words):
        letters = {**proposed_picks(run), **kept_picks(run)}
    faults = [
        Fault("TRIAL", repr(word), _allowed(letters))
        for word in words
        if not _is_number(word) and word.upper() not in letters
    ]
    if faults:
        raise InputError(faults)
    return [int(word) if _is_number(word) else letters[word.upper()].trial for word in words]


def picks_by_trial(run: RunFolder) -> dict[int, Pick]:
    """Return the pick of each trial that has a letter, a kept one before a proposed one."""
    picks = [*proposed_picks(run).values(), *reversed(kept_picks(run).values())]
    return {pick.trial: pick for pick in picks}


def propose_letters(run: RunFolder, trials: Sequence[int], *, now: datetime) -> dict[int, str]:
    """Give each of `trials` a letter, its own where it is kept, and remember them in place of the last ones.

    Raises `DiskError` when the folder cannot be written.
    """
    with _changing(run, now):
        kept = kept_picks(run)
        own = {pick.trial: pick.letter for pick in kept.values()}
        free = free_letters(kept)
        letters = {trial: own.get(trial) or next(free) for trial in trials}
        tables = {letter: {"trial": trial} for trial, letter in letters.items() if trial not in own}
        write_atomically(run.proposed, toml_text(tables).encode())
    return letters


def keep(
    run: RunFolder, trial: int, *, letter: str | None = None, note: str | None = None, now: datetime
) -> Pick:
    """Keep a trial under a letter (default: the one it has, else a free one); again changes the note.

    Raises `InputError` when the letter is another trial's or the trial has another letter, `DiskError` when
    the folder cannot be written. Nobody's pick is lost when two keep at once.
    """
    wanted = None if letter is None else letter.strip().upper()
    if wanted is not None and not _LETTER.fullmatch(wanted):
        raise InputError([Fault("--as", repr(letter), _LETTERS)])
    if note is not None and len(note) > LONGEST_NOTE:
        raise InputError([Fault("--note", f"{len(note)} characters", f"at most {LONGEST_NOTE}")])
    with _changing(run, now):
        text = _read(run.picks)
        kept = _parsed(run.picks, text)
        own = next((pick for pick in kept.values() if pick.trial == trial), None)
        chosen = wanted or (own.letter if own else _proposed_letter(run, trial)) or next(free_letters(kept))
        _refuse_taken(kept, own, chosen, trial)
        was = own.note if own else ""
        pick = Pick(chosen, trial, was if note is None else note.strip(), now.date())
        _write(run.picks, text, {**kept, chosen: pick}, changed=pick)
    return pick


def drop(run: RunFolder, letter: str, *, now: datetime) -> Pick:
    """Keep a pick no longer and return it. Raises `InputError` when nothing is kept under the letter."""
    with _changing(run, now):
        text = _read(run.picks)
        kept = _parsed(run.picks, text)
        gone = kept.pop(letter.strip().upper(), None)
        if gone is None:
            raise InputError([Fault("--drop", repr(letter), _allowed(kept))])
        _write(run.picks, text, kept, changed=Pick(gone.letter, -1))
    return gone


def _changing(run: RunFolder, now: datetime) -> AbstractContextManager[Holder]:
    return locked(run.picks_lock, now=now, patience_s=PATIENCE_S, use="edited")


def _refuse_taken(kept: Mapping[str, Pick], own: Pick | None, letter: str, trial: int) -> None:
    there = kept.get(letter)
    if there is not None and there.trial != trial:
        free = next(free_letters(kept))
        raise InputError(
            [Fault("--as", f"{letter}, kept for trial {there.trial}", f"a free one, such as {free}")]
        )
    if own is not None and own.letter != letter:
        allowed = f"{own.letter}, under which trial {trial} is kept (--drop {own.letter} lets it go)"
        raise InputError([Fault("--as", letter, allowed)])


def _proposed_letter(run: RunFolder, trial: int) -> str | None:
    return next((pick.letter for pick in proposed_picks(run).values() if pick.trial == trial), None)


def free_letters(taken: Iterable[str]) -> Iterator[str]:
    """Yield letters that nobody has: I and O look like numbers and are left out."""
    used = set(taken)
    pairs = (first + second for first, second in itertools.product(_SPOKEN, repeat=2))
    return (letter for letter in itertools.chain(_SPOKEN, pairs) if letter not in used)


def _is_number(word: str) -> bool:
    return word.isascii() and word.isdigit()


def _allowed(letters: Mapping[str, Pick]) -> str:
    listed = ", ".join(f"{pick.letter} (trial {pick.trial})" for pick in letters.values())
    return f"a trial's number or a letter: {listed}" if listed else "a trial's number; no letter is given yet"


# The file


def _read(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        return ""
    except (OSError, UnicodeDecodeError) as error:
        raise InputError([Fault(str(path), str(error), "a readable file in UTF-8")]) from None


def _parsed(path: Path, text: str) -> dict[str, Pick]:
    """Return the picks that a file's text states; raises `InputError` with every fault."""
    try:
        tables = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError([Fault(str(path), f"no TOML: {error}", "TOML 1.0")]) from None
    faults: list[Fault] = []
    picks = []
    for letter, table in tables.items():
        where = f"{path}: {letter}"
        if not _LETTER.fullmatch(letter):
            faults.append(Fault(where, "a table of this name", _LETTERS))
        if not isinstance(table, Mapping):
            faults.append(Fault(where, repr(table), "a table with trial, note and date"))
            continue
        try:
            entry = validated(_Entry, table, where=where)
        except InputError as error:
            faults += error.faults
        else:
            picks.append(Pick(letter, entry.trial, entry.note, entry.date))
    if faults:
        raise InputError(faults)
    return {pick.letter: pick for pick in sorted(picks, key=lambda pick: (len(pick.letter), pick.letter))}


def _write(path: Path, text: str, picks: Mapping[str, Pick], *, changed: Pick) -> None:
    """Write `text` with one letter's table changed (trial -1: removed), all other lines as they stand."""
    new = _with_table(text, changed)
    try:
        as_meant = _parsed(path, new) == picks
    except InputError:
        as_meant = False
    if not as_meant:
        found = f"{changed.letter}, laid out in a way that is not ours"
        raise InputError([Fault(str(path), found, f"change {changed.letter} there by hand")])
    write_atomically(path, new.encode())


def _with_table(text: str, pick: Pick) -> str:
    lines = (text or _HEADING).rstrip("\n").split("\n")
    header = re.compile(rf"\s*\[\s*\"?{pick.letter}\"?\s*\]\s*(#.*)?")
    start = next((number for number, line in enumerate(lines) if header.fullmatch(line)), None)
    if start is None:
        return "\n".join([*lines, *([] if pick.trial < 0 else ["", *_table_lines(pick)])]) + "\n"
    after = (number for number in range(start + 1, len(lines)) if lines[number].lstrip().startswith("["))
    end = next(after, len(lines))
    people = [line for line in lines[start + 1 : end] if not line.strip() or line.lstrip().startswith("#")]
    table = [] if pick.trial < 0 else _table_lines(pick)
    return "\n".join([*lines[:start], *table, *people, *lines[end:]]) + "\n"


def _table_lines(pick: Pick) -> list[str]:
    entry: dict[str, object] = {"trial": pick.trial, "note": pick.note}
    day = [] if pick.on is None else [f"date = {pick.on.isoformat()}"]
    return [*toml_text({pick.letter: entry}).rstrip("\n").split("\n"), *day]
