"""Sentences in lines that fit."""

from __future__ import annotations

import textwrap


def folded(text: str, *, width: int, indent: str = "  ") -> str:
    """Return a text in lines of at most `width`, those after the first behind `indent`; no word is broken."""
    return textwrap.fill(
        text, max(width, 1), subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
    )
