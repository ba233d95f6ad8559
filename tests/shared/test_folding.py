"""Sentences are folded between words, whatever the width."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from boilerfront.shared.folding import folded


def test_by_hand() -> None:
    assert folded("one two three four", width=11) == "one two\n  three\n  four"
    assert folded("", width=9) == ""
    assert folded("/a/very-long/path stays whole", width=5).split("\n")[0] == "/a/very-long/path"


@given(st.lists(st.text("abcd-_./", min_size=1, max_size=12), max_size=20), st.integers(0, 60))
def test_no_word_is_lost_or_broken(words: list[str], width: int) -> None:
    lines = folded(" ".join(words), width=width).split("\n")
    assert [word for line in lines for word in line.split()] == words
    assert all(len(line) <= width or len(line.split()) == 1 for line in lines)
