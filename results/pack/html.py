"""Blocks as one self-contained HTML page that prints well: no script, no link, no network."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from html import escape

from boilerfront.results.pack.blocks import Block, Caution, Heading, Picture, Points, Table, Text

_NUMBER, _STRONG = ' class="number"', ' class="strong"'
_STYLE = """
:root { color-scheme: light; }
body { font: 15px/1.45 system-ui, "DejaVu Sans", sans-serif; color: #222; background: #fff; margin: 0 auto;
  max-width: 62rem; padding: 1.5rem; }
h1 { font-size: 1.7rem; margin: 0 0 .5rem; }
h2 { font-size: 1.25rem; margin: 2rem 0 .5rem; padding-top: .4rem; border-top: 2px solid #1f6fb2; }
h3 { font-size: 1.02rem; margin: 1.2rem 0 .3rem; }
p, li { max-width: 52rem; }
.caution { border-left: 6px solid #c0392b; background: #fbeeee; padding: .5rem .8rem; font-weight: 600; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; margin: .4rem 0; font-size: .9rem; }
th { text-align: left; vertical-align: bottom; border-bottom: 1.5px solid #222; padding: .2rem .5rem; }
td { vertical-align: top; border-bottom: 1px solid #ccc; padding: .2rem .5rem; }
.number { text-align: right; font-variant-numeric: tabular-nums; }
td.number { white-space: nowrap; }
tr.strong td { font-weight: 700; border-top: 1.5px solid #222; }
figure { margin: .8rem 0; }
figure svg, figure img { width: 100%; height: auto; }
figcaption { font-size: .85rem; color: #555; }
@page { size: A4; margin: 14mm 13mm; }
@media print {
  html { font-size: 9.5pt; }
  body { font-size: 9.5pt; padding: 0; max-width: none; }
  h2 { margin-top: 1.2rem; }
  h2, h3 { break-after: avoid; }
  figure, .caution { break-inside: avoid; }
  thead { display: table-header-group; }
  table, tr { break-inside: avoid; }
  .caution { -webkit-print-color-adjust: exact; print-color-adjust: exact; }
}
"""


def html_page(title: str, blocks: Sequence[Block]) -> str:
    """Return the page."""
    body = "\n".join(_block(block) for block in blocks)
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n{body}\n</body>\n</html>\n"
    )


def _block(block: Block) -> str:
    match block:
        case Heading(text, level):
            return f"<h{level}>{escape(text)}</h{level}>"
        case Text(text):
            return f"<p>{escape(text)}</p>"
        case Caution(text):
            return f'<p class="caution">{escape(text)}</p>'
        case Points(items, numbered):
            tag = "ol" if numbered else "ul"
            return f"<{tag}>" + "".join(f"<li>{escape(item)}</li>" for item in items) + f"</{tag}>"
        case Table():
            return _table(block)
        case Picture():
            return _picture(block)


def _table(table: Table) -> str:
    def row(cells: Sequence[str], tag: str) -> str:
        return "".join(
            f"<{tag}{_NUMBER if column in table.numbers else ''}>{escape(cell)}</{tag}>"
            for column, cell in enumerate(cells)
        )

    head = f"<thead><tr>{row(table.head, 'th')}</tr></thead>" if any(table.head) else ""
    rows = "\n".join(
        f"<tr{_STRONG if number in table.strong else ''}>{row(cells, 'td')}</tr>"
        for number, cells in enumerate(table.rows)
    )
    shares = [100.0 * width / sum(table.widths) for width in table.widths]
    columns = "".join(f'<col style="width:{share:.1f}%">' for share in shares)
    return f'<div class="wide"><table><colgroup>{columns}</colgroup>{head}\n<tbody>\n{rows}\n</tbody></table></div>'


def _picture(picture: Picture) -> str:
    if picture.svg:
        shown = picture.svg
    else:
        data = base64.b64encode(picture.png).decode()
        shown = f'<img alt="{escape(picture.alt)}" src="data:image/png;base64,{data}">'
    width = f' style="width:{100.0 * picture.width:g}%"' if picture.width < 1.0 else ""
    return f"<figure{width}>{shown}<figcaption>{escape(picture.caption)}</figcaption></figure>"
