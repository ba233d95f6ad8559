"""What moves a candidate: the effects of its variables and its tolerances as tables, the largest first."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from math import inf

import pyarrow as pa

from boilerfront.model.brief import Brief
from boilerfront.model.coefficients import COEFFICIENTS
from boilerfront.model.glossary import COLUMNS, MARGINS, OBJECTIVES, Column
from boilerfront.model.scatter import power_factor
from boilerfront.model.sensitivity import (
    Effect,
    Sensitivity,
    neighbours,
    tolerance_effects,
    variable_effects,
)
from boilerfront.model.tolerances import NOMINAL, POWERS, TEXTS
from boilerfront.model.variables import VARIABLES, Value, base_name
from boilerfront.results.candidates import Candidate
from boilerfront.results.resolution import RESOLUTION
from boilerfront.results.schema import added_field, digits_of, unit_of
from boilerfront.results.show import cell_text
from boilerfront.shared.errors import Fault, InputError

CHANGE = "change_"
KEY_FIGURES = (
    *("brew_ready_s", "worst_shot_K", "idle_shot_K", "steam_time_s", "recovery_s", "overshoot_K"),
    *("peak_current_A", "holding_power_W"),
)
"""Figures whose changes are in the table besides the objectives'."""
SAME = 1e-6
"""Relative difference to the ledger up to which a design computed again is the same."""

IN_SWEEP = "in_sweep"
OUTSIDE = "*"
"""Behind a value that the sweep could not have chosen."""

NOMINALLY = "nominal"
"""Where a tolerance stands before it is moved."""

Tell = Callable[[str], None]
Offers = Callable[[str, Value], bool]


@dataclass(frozen=True)
class Explained:
    """A candidate's effects: `variables` and `tolerances`, rows by their size; `notes` for people.

    `ends` says for each variable that the model can move one way only why a step is missing.
    """

    variables: pa.Table
    tolerances: pa.Table
    notes: tuple[str, ...]
    ends: tuple[str, ...]

    def limited(self, rows: int | None) -> Explained:
        """Return it with so many rows of each table at most."""
        if rows is None:
            return self
        return replace(
            self, variables=self.variables.slice(0, rows), tolerances=self.tolerances.slice(0, rows)
        )

    def together(self) -> pa.Table:
        """Return both as one table, with a column `kind`."""
        kinds = ("variable", "tolerance")
        tables = (self.variables, self.tolerances)
        field = added_field("kind", pa.string(), text="what was moved")
        return pa.concat_tables(
            [
                table.add_column(0, field, [pa.array([kind] * table.num_rows, pa.string())])
                for kind, table in zip(kinds, tables, strict=True)
            ]
        )


def explain(
    candidate: Candidate, brief: Brief, *, offers: Offers, tell: Tell, by: str | None = None
) -> Explained:
    """Move every variable and every tolerance of a candidate alone, as far as the model allows.

    `offers` tells which values the sweep could have chosen: a move to another is marked. `by` is a figure that the
    rows are sorted by instead of by all objectives; `tell` hears how much there is to compute. Raises `InputError`
    for a figure that is not in the table.
    """
    if by is not None and by not in (*OBJECTIVES, *KEY_FIGURES):
        raise InputError([Fault("--by", by, ", ".join((*OBJECTIVES, *KEY_FIGURES)))])
    moves = len(neighbours(candidate.design))
    sites = f", at each of {len(brief.sites)} sites" if brief.sites else ""
    tell(f"{candidate.label}: rating {moves} neighbours{sites}")
    variables = variable_effects(candidate.design, brief)
    fails = _why_not(variables) is not None
    by_site = tolerance_effects(candidate.design, brief)
    rows = [
        _tolerance_row(effect, site, candidate, brief)
        for site, found in by_site.items()
        for effect in found.effects
    ]
    schema = _schema(brief.prices.currency, sites=bool(brief.sites))
    return Explained(
        variables=_table(
            [_variable_row(effect, offers=offers, fails=fails) for effect in variables.effects], schema, by
        ),
        tolerances=_table(rows, schema, by),
        notes=(*_ledger_notes(candidate, variables), *_site_notes(by_site)),
        ends=tuple(_end_text(name, way, candidate) for name, way in variables.ends),
    )


def for_people(table: pa.Table, *, by: str | None = None) -> pa.Table:
    """Return what of a table of effects a person reads: the move, the objectives' changes, that of `by`, the
    consequence.

    Where a variable stands and where it is moved to are one column, to save room; tolerances all start nominal.
    """
    figures = [name for name in KEY_FIGURES if name != by]
    pairs = zip(table["before"].to_pylist(), table["after"].to_pylist(), strict=True)
    moves = [after if before == NOMINALLY else f"{before} → {after}" for before, after in pairs]
    offered = table[IN_SWEEP].to_pylist()
    moves = [f"{move}{OUTSIDE}" if fits is False else move for move, fits in zip(moves, offered, strict=True)]
    place = table.column_names.index("before")
    field = added_field("moved", pa.string(), text="from where it stands to where it is moved")
    moved = table.set_column(place, field, pa.array(moves, pa.string()))
    return moved.drop_columns(["after", IN_SWEEP, *(CHANGE + name for name in figures), "effect"])


def sorting(by: str | None) -> str:
    """Return in what order the rows of a table of effects stand, in words."""
    if by is not None:
        return f"The largest change of {by} first."
    steps = ", ".join(f"{step:g} {COLUMNS[name].unit}" for name, step in RESOLUTION.items())
    steps = steps.replace("currency", "in money")
    return f"The largest change of an objective first, counted in differences that matter ({steps})."


def most(table: pa.Table, by: str | None) -> str:
    """Return for each objective, or for `by`, the move that makes it worst, in a sentence."""
    said = []
    for name in OBJECTIVES if by is None else (by,):
        changes = [value or 0.0 for value in table[CHANGE + name].to_pylist()]
        if not changes or (worst := max(changes)) < RESOLUTION.get(name, SAME):
            continue
        field = table.schema.field(CHANGE + name)
        row = changes.index(worst)
        amount = f"{cell_text(worst, digits_of(field), signed=True)} {unit_of(field)}".rstrip()
        move = f"{table['name'][row].as_py()} {table['after'][row].as_py()}"
        said.append(f"{name} most by {move} ({amount})")
    if not said:
        return "Nothing makes an objective worse by a difference that matters."
    return f"What hurts: {', '.join(said)}."


# Rows


Cells = dict[str, float | str | bool | None]
DECIDES = "decides"
"""Key of a row, not in the table: whether a move makes a design come through its duty, or fail."""


def _schema(currency: str, *, sites: bool) -> pa.Schema:
    text = pa.string()
    fields = [added_field("name", text, text="variable or tolerance")]
    fields += [added_field("site", text, text="site of the machine")] if sites else []
    fields += [
        added_field("before", text, text="where it stands"),
        added_field("after", text, text="moved to"),
        added_field(
            IN_SWEEP, pa.bool_(), text="whether the sweep could have chosen it; null for a tolerance"
        ),
    ]
    for name in (*OBJECTIVES, *KEY_FIGURES):
        column = COLUMNS[name]
        unit = currency if column.unit == "currency" else column.unit
        digits = column.digits + (name in OBJECTIVES)
        words = f"change of {name}"
        field = added_field(CHANGE + name, pa.float64(), unit=unit, text=words, digits=digits, signed=True)
        fields.append(field)
    consequence = added_field("consequence", text, text="margins broken or mended, or why it fails")
    fields.insert(len(fields) - len(KEY_FIGURES), consequence)
    fields.append(
        added_field("effect", pa.float64(), text="largest change, in differences that count", digits=1)
    )
    return pa.schema(fields)


def _table(rows: list[Cells], schema: pa.Schema, by: str | None) -> pa.Table:
    """Return rows by their size: first what decides whether it comes through, then `by` or the largest change."""

    def size(row: Cells) -> float:
        value = row["effect"] if by is None else row.get(CHANGE + by)
        return inf if row[DECIDES] else abs(float(value or 0.0))

    return pa.Table.from_pylist(sorted(rows, key=size, reverse=True), schema)


def _variable_row(effect: Effect, *, offers: Offers, fails: bool) -> Cells:
    column = COLUMNS[base_name(effect.name)]
    return {
        "name": effect.name,
        "before": _value_text(effect.before, column),
        "after": _value_text(effect.after, column),
        IN_SWEEP: offers(effect.name, effect.after),
        **_consequences(effect, fails=fails),
    }


def _value_text(value: Value, column: Column) -> str:
    return f"{cell_text(value, column.digits)} {column.unit}".rstrip()


def _end_text(name: str, way: str, candidate: Candidate) -> str:
    value = candidate.design.get(name)
    value = VARIABLES[base_name(name)].default if value is None else value
    end = "least" if way == "less" else "most"
    return f"{name} {_value_text(value, COLUMNS[base_name(name)])} is the {end}"


def _tolerance_row(effect: Effect, site: str, candidate: Candidate, brief: Brief) -> Cells:
    return {
        "name": TEXTS[effect.name] if effect.name in TEXTS else COEFFICIENTS[effect.name].text,
        "site": site,
        "before": NOMINALLY,
        "after": _deviation_text(effect, site, candidate, brief),
        **_consequences(effect, fails=False),
    }


def _deviation_text(effect: Effect, site: str, candidate: Candidate, brief: Brief) -> str:
    """Return how far a tolerance is from nominal, in words."""
    end = float(effect.after or 0.0)
    if effect.name in POWERS:
        variable = f"{effect.name}_W"
        rated = candidate.design.get(f"{variable}@{site}") or candidate.design.get(variable)
        rated = VARIABLES[variable].default if rated is None else rated
        return f"{100.0 * (power_factor(float(rated or 0.0), end) - 1.0):+.1f} %"
    if effect.name == "scale":
        return f"{1e3 * end * brief.tolerances.scale_conductivity_W_mK:.2g} mm"
    if effect.name in COEFFICIENTS:
        return f"{end:.3g} {COEFFICIENTS[effect.name].unit}".rstrip()
    if NOMINAL[effect.name] == 1.0:
        return f"{100.0 * (end - 1.0):+.0f} %"
    return f"{end:+.2g} K"


def _consequences(effect: Effect, *, fails: bool) -> Cells:
    """Return what a move changes, of a design that comes through its duty or `fails`."""
    changes: Cells = {
        CHANGE + name: effect.changes[name] + 0.0
        for name in (*OBJECTIVES, *KEY_FIGURES)
        if name in effect.changes
    }
    sizes = [abs(effect.changes[name]) / RESOLUTION[name] for name in OBJECTIVES if name in effect.changes]
    through = effect.reason is None
    words = _words(effect)
    return {
        **changes,
        "consequence": f"comes through{', ' if words else ''}{words or ''}" if fails and through else words,
        "effect": max(sizes, default=None),
        DECIDES: through == fails,
    }


def _words(effect: Effect) -> str | None:
    """Return what a move breaks or mends."""
    if effect.reason is not None:
        return f"does not come through: {effect.reason}"
    broken = [f"breaks {_margin_text(name, missing)}" for name, missing in effect.broken.items()]
    mended = [f"mends {name.removeprefix('margin_')}" for name in effect.mended]
    return ", ".join((*broken, *mended)) or None


def _margin_text(name: str, missing: float) -> str:
    column = COLUMNS[name]
    return f"{name.removeprefix('margin_')} by {cell_text(missing, max(column.digits, 2))} {column.unit}".rstrip()


# Notes


def _ledger_notes(candidate: Candidate, found: Sensitivity) -> list[str]:
    """Say where the design computed again is not what the ledger has of it."""
    differing = []
    for name in OBJECTIVES:
        was, now = candidate.row.get(name), found.row.get(name)
        if isinstance(was, float) and isinstance(now, float) and abs(now - was) > SAME * max(abs(was), 1e-9):
            digits = COLUMNS[name].digits + 2
            differing.append(f"{name} {cell_text(now, digits)} instead of {cell_text(was, digits)}")
    notes = []
    if differing:
        notes.append(
            "computed again it differs from the ledger, the model has changed: " + ", ".join(differing)
        )
    reason = _why_not(found)
    if reason is not None:
        notes.append(
            f"the design does not come through its duty ({reason}): its neighbours' changes are not known"
        )
    violated = [name for name in MARGINS if (value := found.row.get(name)) is not None and float(value) < 0.0]
    if violated:
        notes.append("the design is not feasible: " + ", ".join(f"{name} is negative" for name in violated))
    return notes


def _why_not(found: Sensitivity) -> str | None:
    """Return why a design does not come through its duty."""
    reason = found.row.get("reason") or found.row.get("fault")
    return None if reason is None else str(reason)


def _site_notes(by_site: Mapping[str, Sensitivity]) -> list[str]:
    where = {site: f" at site {site}" if site else "" for site in by_site}
    return [
        f"no tolerances{where[site]}: the nominal machine does not come through its duty ({found.row['reason']})"
        for site, found in by_site.items()
        if found.row.get("reason") is not None
    ]
