"""Blocks as a PDF of A4 pages, made without a browser."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import matplotlib as mpl
from fpdf import FPDF
from fpdf.enums import Align, MethodReturnValue, TableBordersLayout, VAlign, XPos, YPos
from fpdf.fonts import FontFace, TTFFont

from boilerfront.results.pack.blocks import Block, Caution, Heading, Picture, Points, Table, Text

FAMILY = "sans-serif"
"""The family that the drawings name; its letters are those that matplotlib brings along, so they are everywhere."""
_FONTS = {"": "DejaVuSans.ttf", "B": "DejaVuSans-Bold.ttf"}
_SIZES = {1: 18.0, 2: 13.0, 3: 10.5}
_BODY, _SMALL, _TABLE = 9.0, 7.5, 7.8
_LINE = 1.35
"""Height of a line over the size of its letters."""
_POINT_MM = 25.4 / 72.0
_MARGIN_MM = 14.0
_BLUE, _RED, _PINK = (31, 111, 178), (192, 57, 43), (251, 238, 238)
_KEEP_MM = 40.0
"""What is longer than a page does not begin with less room than this below it."""
_ROLL_MM = 20_000.0
"""Length of a page on which nothing breaks: there blocks are measured."""


class _Document(FPDF):
    """A4 pages with a line at the foot of each."""

    def __init__(self, foot: str, *, size: str | tuple[float, float] = "A4") -> None:
        super().__init__(format=size)
        self._foot = foot
        folder = Path(mpl.get_data_path()) / "fonts" / "ttf"
        for style, name in _FONTS.items():
            self.add_font(FAMILY, style, folder / name)
        self.set_margin(_MARGIN_MM)
        self.set_auto_page_break(True, margin=_MARGIN_MM + 4.0)

    def footer(self) -> None:
        """Write the foot: what this is, and which page."""
        self.set_y(-_MARGIN_MM)
        self.set_font(FAMILY, "", _SMALL)
        self.set_text_color(90)
        self.cell(self.epw - 20.0, 4.0, self._foot)
        self.cell(20.0, 4.0, f"{self.page_no()} of {{nb}}", align=Align.R)
        self.set_text_color(0)

    def paragraph(self, text: str, *, size: float = _BODY, style: str = "", indent: float = 0.0) -> None:
        """Write a paragraph over the whole width, less an indent."""
        self.set_font(FAMILY, style, size)
        self.set_x(self.l_margin + indent)
        height = size * _POINT_MM * _LINE
        self.multi_cell(self.epw - indent, height, text, align=Align.L, new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    def height_of(self, text: str, width: float, *, style: str = "") -> float:
        """Return the height of a paragraph of the body [mm]."""
        self.set_font(FAMILY, style, _BODY)
        height = self.multi_cell(
            width,
            _BODY * _POINT_MM * _LINE,
            text,
            align=Align.L,
            dry_run=True,
            output=MethodReturnValue.HEIGHT,
        )
        assert isinstance(height, float)
        return height

    def keep(self, height_mm: float) -> None:
        """Begin a new page where less than so much is left of this one."""
        if self.will_page_break(height_mm):
            self.add_page()


def pdf_document(title: str, foot: str, blocks: Sequence[Block], *, made: datetime) -> bytes:
    """Return the document; the same blocks at the same moment give the same bytes."""
    document = _Document(foot)
    document.set_title(title)
    document.set_creation_date(made)
    document.add_page()
    heights = _heights(blocks)
    for number, block in enumerate(blocks):
        together = sum(heights[number : _last_of(blocks, number) + 1])
        document.keep(together if together <= document.eph else _KEEP_MM)
        _draw(document, block)
    return bytes(document.output())


def _last_of(blocks: Sequence[Block], number: int) -> int:
    """Return the place of the last block that stands on the same page.

    Headings stand with what they head, and what they say before a table with the table.
    """
    if not isinstance(blocks[number], Heading):
        return number
    while isinstance(blocks[number], Heading) and number + 1 < len(blocks):
        number += 1
    before_table = number + 1 < len(blocks) and isinstance(blocks[number + 1], Table)
    return number + 1 if before_table and isinstance(blocks[number], Text | Caution) else number


def _heights(blocks: Sequence[Block]) -> list[float]:
    """Return the height of every block on a page [mm]; long lists count as their first item, for they may break."""
    roll = _Document("", size=(210.0, _ROLL_MM))
    roll.add_page()
    heights = []
    for block in blocks:
        if isinstance(block, Picture):
            roll.set_font(FAMILY, "", _SMALL)
            heights.append(_picture_mm(roll, block))
            continue
        top = roll.y
        _draw(roll, replace(block, items=block.items[:1]) if isinstance(block, Points) else block)
        heights.append(roll.y - top)
        if roll.y > 0.5 * _ROLL_MM:
            roll.set_y(roll.t_margin)
    for font in roll.fonts.values():  # what is written out closes them; the roll never is
        if isinstance(font, TTFFont):
            font.close()
    return heights


def _draw(document: _Document, block: Block) -> None:
    match block:
        case Heading(text, level):
            _heading(document, text, level)
        case Text(text):
            document.paragraph(text)
            document.ln(1.5)
        case Caution(text):
            _caution(document, text)
        case Points(items, numbered):
            _points(document, items, numbered=numbered)
        case Table():
            _table(document, block)
        case Picture():
            _picture(document, block)


def _heading(document: _Document, text: str, level: int) -> None:
    if level == 2:
        document.ln(4.0)
        document.set_draw_color(*_BLUE)
        document.set_line_width(0.5)
        document.line(document.l_margin, document.y, document.l_margin + document.epw, document.y)
        document.set_draw_color(0)
        document.set_line_width(0.2)
        document.ln(1.5)
    elif level == 3:
        document.ln(1.5)
    document.paragraph(text, size=_SIZES[level], style="B")
    document.ln(1.0)


def _caution(document: _Document, text: str) -> None:
    height = document.height_of(text, document.epw - 4.0, style="B") + 3.0
    top = document.y
    document.set_fill_color(*_PINK)
    document.rect(document.l_margin, top, document.epw, height, style="F")
    document.set_fill_color(*_RED)
    document.rect(document.l_margin, top, 1.5, height, style="F")
    document.set_y(top + 1.5)
    document.paragraph(text, style="B", indent=4.0)
    document.ln(3.0)


def _points(document: _Document, items: Sequence[str], *, numbered: bool) -> None:
    height = _BODY * _POINT_MM * _LINE
    for number, item in enumerate(items, start=1):
        document.keep(document.height_of(item, document.epw - 6.0))
        document.set_x(document.l_margin)
        document.cell(6.0, height, f"{number}." if numbered else "•")
        document.paragraph(item, indent=6.0)
        document.ln(0.7)
    document.ln(1.0)


def _table(document: _Document, table: Table) -> None:
    document.set_font(FAMILY, "", _TABLE)
    document.set_draw_color(170)
    document.set_fill_color(255)
    has_head = any(table.head)
    aligned = tuple(Align.R if column in table.numbers else Align.L for column in range(len(table.head)))
    with document.table(
        borders_layout=TableBordersLayout.HORIZONTAL_LINES,
        col_widths=table.widths or None,
        first_row_as_headings=has_head,
        headings_style=FontFace(emphasis="BOLD"),
        line_height=_TABLE * _POINT_MM * _LINE,
        padding=(0.7, 1.2, 0.7, 1.2),
        text_align=aligned,
        v_align=VAlign.T,
    ) as drawn:
        for number, cells in enumerate((table.head, *table.rows) if has_head else table.rows):
            strong = has_head and number - 1 in table.strong
            drawn.row(cells, style=FontFace(emphasis="BOLD") if strong else None)
    document.set_draw_color(0)
    document.ln(2.5)


def _picture(document: _Document, picture: Picture) -> None:
    width = document.epw * picture.width
    data = picture.svg.encode() if picture.svg else picture.png
    document.image(io.BytesIO(data), w=width, alt_text=picture.alt)
    document.paragraph(picture.caption, size=_SMALL)
    document.ln(2.5)


def _picture_mm(document: _Document, picture: Picture) -> float:
    """Return the height of a picture with its caption [mm]."""
    lines = document.multi_cell(
        document.epw, text=picture.caption, align=Align.L, dry_run=True, output=MethodReturnValue.LINES
    )
    assert isinstance(lines, list)
    caption = len(lines) * _SMALL * _POINT_MM * _LINE
    return document.epw * picture.width * _shape(picture) + caption + 2.5


def _shape(picture: Picture) -> float:
    """Return a picture's height over its width."""
    if picture.svg:
        _, _, width, height = picture.svg.partition('viewBox="')[2].partition('"')[0].split()
        return float(height) / float(width)
    width_px = int.from_bytes(picture.png[16:20], "big")
    return int.from_bytes(picture.png[20:24], "big") / width_px
