"""A page written out: the template, its data, the pictures, all in one file that needs no network."""

from __future__ import annotations

import itertools
import json
import shlex
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import jinja2
import numpy as np
import pyarrow as pa
from bokeh.embed import file_html
from bokeh.models import ColumnDataSource
from bokeh.palettes import Cividis256
from bokeh.plotting import figure
from bokeh.resources import INLINE
from markupsafe import Markup

from boilerfront.model.brief import Brief
from boilerfront.results.cautions import CAUTIONS, SHORT_CAUTION
from boilerfront.results.page.content import Content, content_of
from boilerfront.results.page.effects import influence_text, shown_influence
from boilerfront.results.page.labels import SERIES
from boilerfront.results.page.pictures import growth_figures, pair_figures, trace_figures
from boilerfront.results.page.traced import SHOT
from boilerfront.results.page.words import growth_text, lede, nothing_text, proof_text, statistic, subset_text
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.show import write_out
from boilerfront.results.trace_plot import POWERS, TEMPERATURES

_ASSETS = Path(__file__).parent / "assets"
_SCRIPTS = ("base.js", "theme.js", "front.js", "table.js", "design.js", "start.js")
_SVG_DASHES = ("", "6 4", "2 3", "2 4 6 4", "6 4 2 4")
"""The same dashes as in the pictures, as SVG writes them."""
_RAMP_STEPS = 48
# The ends of the palette that would drown in a light or a dark ground are left out.
_RAMPS = {"light": (0, 225), "dark": (95, 255)}


@dataclass(frozen=True)
class _Pair:
    """A pair of objectives: the picture's name, its title, the column across."""

    name: str
    title: str
    across: str


def write_page(
    run: RunFolder, out: Path, brief: Brief | None, *, called: str = "", why_no_traces: str = ""
) -> Content:
    """Write the page of a run to `out` and return what it shows.

    `called` is how a person names the run on the command line, by default its path. Without a `brief` no
    design has traces; the page says why. Raises `InputError` when the run's own files cannot be read or `out`
    cannot be written.
    """
    content = content_of(run, brief, why_no_traces=why_no_traces)
    write_out(out, page_html(content, command=shlex.quote(called or str(run.path))).encode())
    return content


def page_html(content: Content, *, command: str) -> str:
    """Return the page as HTML; `command` is how the run is named on the command line."""
    has_designs = content.table.num_rows > 0
    growth = content.convergence["hypervolume"].null_count < content.convergence.num_rows
    pictures = [*_front_pictures(content)] if has_designs else []
    pictures += growth_figures(content.convergence) if growth else []
    variables = {
        "page": content,
        "command": command,
        "has_designs": has_designs,
        "growth": growth,
        "style": Markup(_asset("page.css")),
        "scripts": [Markup(_asset(name)) for name in _SCRIPTS],
        "data": _embedded(_data(content, command, has_pictures=bool(pictures))),
        "lede": lede(content),
        "subset": subset_text(content),
        "statistic": statistic(content),
        "nothing": nothing_text(content),
        "short_caution": SHORT_CAUTION,
        "cautions": CAUTIONS,
        "pairs": _pairs(content),
        "traces": list(_trace_titles()),
        "growth_text": growth_text(content),
        "proof_text": proof_text(content),
        "influence_text": influence_text(),
        "influences": [shown_influence(each, content.labels) for each in content.influences],
    }
    return _rendered(pictures, variables)


def _asset(name: str) -> str:
    return (_ASSETS / name).read_text(encoding="utf-8")


def _embedded(data: object) -> Markup:
    """Return data as JSON that cannot end the script element it stands in."""
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return Markup(text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029"))


def _rendered(pictures: Sequence[figure], variables: dict[str, Any]) -> str:
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(_ASSETS),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    template = environment.get_template("page.html")
    if not pictures:
        return template.render(**variables, bokeh_js="", plot_script="")
    return file_html(pictures, INLINE, template=template, template_variables=variables)


def _front_pictures(content: Content) -> Iterator[figure]:
    objectives = content.of_group("objective")
    yield from pair_figures(_designs(content), objectives, letters=_letters(content))
    yield from trace_figures()


def _designs(content: Content) -> ColumnDataSource:
    """Return every column of the designs shown, as in the ledger, and the look of each design."""
    columns = {name: _array(content.table[name]) for name in content.table.column_names}
    looks = {family.name: family for family in content.families}
    shown = columns["architecture"]
    return ColumnDataSource(
        {
            **columns,
            "marker": [looks[name].marker for name in shown],
            "family": [looks[name].label for name in shown],
            "colour": ["gray"] * len(shown),
        },
        name="designs",
    )


def _letters(content: Content) -> ColumnDataSource:
    lettered = content.table.filter(
        pa.array([bool(_letter(content, trial)) for trial in content.table["trial"].to_pylist()], pa.bool_())
    )
    names = [label.name for label in content.of_group("objective")]
    columns = {name: _array(lettered[name]) for name in names}
    letters = [_letter(content, trial) for trial in lettered["trial"].to_pylist()]
    return ColumnDataSource({**columns, "letter": letters})


def _letter(content: Content, trial: int) -> str:
    mark = content.marks.get(trial)
    return mark.letter if mark else ""


def _array(column: pa.ChunkedArray) -> Any:
    """Return a column as Bokeh keeps it exactly: doubles, NaN for null; whole numbers and texts in a list."""
    if pa.types.is_floating(column.type):
        return np.asarray(column.to_numpy(), dtype=np.float64)
    return column.to_pylist()


def _data(content: Content, command: str, *, has_pictures: bool) -> dict[str, Any]:
    """Return what the scripts know besides Bokeh's document, which there is if the page `has_pictures`."""
    return {
        "has_pictures": has_pictures,
        "command": command,
        "columns": [asdict(label) for label in content.labels],
        "objectives": [label.name for label in content.of_group("objective")],
        "variables": [label.name for label in content.of_group("variable")],
        "families": [asdict(family) for family in content.families],
        "series": SERIES,
        "ramps": {look: _ramp(*ends) for look, ends in _RAMPS.items()},
        "marks": {str(trial): asdict(mark) for trial, mark in content.marks.items()},
        "traces": {str(trial): asdict(trace) for trial, trace in content.traces.items()},
        "first": _first(content),
        "traced_site": content.sites[0] if len(content.sites) > 1 else "",
    }


def _ramp(first: int, last: int) -> list[str]:
    return [Cividis256[round(place)] for place in np.linspace(first, last, _RAMP_STEPS)]


def _first(content: Content) -> int | None:
    """Return the trial that is shown first: the first kept one, else one with a letter, else the knee."""
    ordered = sorted(
        content.marks.items(),
        key=lambda item: (not item[1].kept, item[1].letter or "~", "knee" not in item[1].tags),
    )
    return ordered[0][0] if ordered else None


def _pairs(content: Content) -> list[_Pair]:
    pairs = itertools.combinations(content.of_group("objective"), 2)
    return [
        _Pair(f"pair-{place}", f"{up.label} against {across.label}", across.name)
        for place, (across, up) in enumerate(pairs)
    ]


def _trace_titles() -> Iterator[dict[str, Any]]:
    """Yield the name, title and lines of each picture of traces."""
    for name, title, lines in (
        ("trace-temperature", "Temperatures", (SHOT, *TEMPERATURES)),
        ("trace-shot", "Every shot, numbered in the order of the duty", ()),
        ("trace-power", "Electrical power", POWERS),
    ):
        shown = [
            {"column": line[0], "series": place, "dashes": _SVG_DASHES[place % len(_SVG_DASHES)]}
            for place, line in enumerate(lines)
        ]
        yield {"name": name, "title": title, "lines": shown}
