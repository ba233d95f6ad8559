"""A price book read from its file, with every fault told at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from boilerfront.model.prices import ITEMS, PriceBook, read_price_book
from boilerfront.shared.errors import InputError

HEADER = "item,unit,price,note"


def rows() -> dict[str, str]:
    """Return a line for every item."""
    return {item: f"{item},{unit},{k + 0.5},invented" for k, (item, unit) in enumerate(ITEMS.items())}


def book_at(folder: Path, lines: list[str]) -> Path:
    path = folder / "prices.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def messages(path: Path) -> list[str]:
    with pytest.raises(InputError) as caught:
        read_price_book(path)
    return [str(fault) for fault in caught.value.faults]


def test_a_whole_book_is_read(tmp_path: Path) -> None:
    lines = ["# currency: CHF", "# date: 2026-01-01", "# note: all invented", "", HEADER, *rows().values()]
    book = read_price_book(book_at(tmp_path, lines))
    assert (book.currency, book.date, book.note) == ("CHF", "2026-01-01", "all invented")
    assert book.prices == {item: k + 0.5 for k, item in enumerate(ITEMS)}


def test_ten_faults_give_ten_messages(tmp_path: Path) -> None:
    lines = rows()
    lines["pump"] = "pump,piece,dear,"  # 1 not a number
    lines["wand"] = "wand,piece,-3,"  # 2 negative
    lines["valve"] = "valve,piece,inf,"  # 3 not finite
    lines["sensor"] = "sensor,m,1.0,"  # 4 another unit
    lines["element"] = "element,W,1.0"  # 5 a field is missing
    del lines["labour"], lines["insulation"]  # 6, 7 missing items
    extra = [
        "boiler,piece,1.0,",  # 8 unknown
        "controller,piece,2.0,again",  # 9 a second price
        "flow_meter,piece,3.0,again",  # 10 a second price
    ]
    found = messages(book_at(tmp_path, [HEADER, *lines.values(), *extra]))
    assert len(found) == 10, "\n".join(found)
    names = [
        "pump",
        "wand",
        "valve",
        "sensor",
        "element",
        "labour",
        "insulation",
        "boiler",
        "controller",
        "flow_meter",
    ]
    for name in names:
        assert sum(f": {name}: " in message for message in found) == 1, name


def test_a_wrong_header_is_the_only_message(tmp_path: Path) -> None:
    found = messages(book_at(tmp_path, ["item;unit;price;note", *rows().values()]))
    assert len(found) == 1
    assert HEADER in found[0]


def test_no_file_and_no_text(tmp_path: Path) -> None:
    assert len(messages(tmp_path / "none.csv")) == 1
    (tmp_path / "prices.csv").write_bytes(b"\xff\xfe\x00")
    assert len(messages(tmp_path / "prices.csv")) == 1
    assert len(messages(book_at(tmp_path, [""]))) == 1


def test_a_note_may_hold_commas_in_quotes(tmp_path: Path) -> None:
    lines = rows() | {"pump": 'pump,piece,9.0,"vibrating, 50 W"'}
    assert read_price_book(book_at(tmp_path, [HEADER, *lines.values()])).prices["pump"] == 9.0


def test_a_book_saved_by_a_spreadsheet_is_read(tmp_path: Path) -> None:
    path = tmp_path / "prices.csv"
    path.write_text("\r\n".join(["# currency: EUR", HEADER, *rows().values()]), encoding="utf-8", newline="")
    assert len(read_price_book(path).prices) == len(ITEMS)


def test_a_free_part_is_allowed() -> None:
    assert PriceBook(prices=dict.fromkeys(ITEMS, 0.0)).prices["pump"] == 0.0
