"""A condition that a person typed: proven to be one expression over our columns, and cut into its terms.

DuckDB's own parser reads it, without running it; then every node of the syntax tree must be of a kind that is
known to be harmless. So `;`, sub-queries, table functions and whatever a later DuckDB may learn are refused.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from boilerfront.results.sandbox import TABLE, Sandbox, Tree
from boilerfront.shared.errors import Fault, InputError

LONGEST = 2000
"""Characters of a condition at most."""
DEEPEST = 200
"""Levels of its syntax tree at most."""

_EVERYDAY = {
    **dict.fromkeys(("price", "money", "eur", "usd"), "part_cost"),
    **dict.fromkeys(("stability", "accuracy", "temperature"), "shot_deviation_K"),
    **dict.fromkeys(("heating", "heat_up", "startup", "start_up", "preheat"), "warm_up_s"),
    **dict.fromkeys(("consumption", "electricity"), "energy_kWh_day"),
}
"""Words that people type for a column whose name has none of their letters."""

_PLACE = "--where"
_HEAD = f"SELECT 1 FROM {TABLE} WHERE "
_KINDS = {
    "BETWEEN",
    "CASE",
    "CAST",
    "COLUMN_REF",
    "COMPARISON",
    "CONJUNCTION",
    "CONSTANT",
    "FUNCTION",
    "OPERATOR",
    "TYPE",
}
_FUNCTIONS = {
    *("+", "-", "*", "/", "//", "%", "^", "**", "abs", "round", "floor", "ceil", "ceiling", "sign"),
    *("sqrt", "pow", "power", "exp", "ln", "log", "log10", "least", "greatest"),
    *("~~", "!~~", "~~*", "!~~*", "contains", "starts_with", "lower", "upper"),
}
_SIGNS = {
    "COMPARE_LESSTHAN": -1,
    "COMPARE_LESSTHANOREQUALTO": -1,
    "COMPARE_GREATERTHAN": 1,
    "COMPARE_GREATERTHANOREQUALTO": 1,
    "COMPARE_EQUAL": 0,
}


@dataclass(frozen=True)
class Term:
    """One of the conditions that AND joins.

    `gap` is an SQL expression of how far a row is from meeting it (0 when met, in the unit of `column`), or
    None where there is no such distance, as with texts. `equals` is the text that `column` is asked for.
    """

    text: str
    gap: str | None
    column: str | None
    equals: str | None = None


@dataclass(frozen=True)
class Condition:
    """A checked condition: safe to run as SQL; `terms` are joined by AND at the top."""

    text: str
    terms: tuple[Term, ...]


def parse_condition(expression: str, names: Sequence[str], sandbox: Sandbox) -> Condition:
    """Return the condition that `expression` states over the columns `names`.

    Raises `InputError` when it is not exactly one expression, is not true or false, has an unknown column
    (named with its nearest), or anything that is not a plain comparison or computation.
    """
    statement = _one_statement(_with_sites_quoted(expression), sandbox)
    root = statement["statements"][0]["node"]["where_clause"]
    _check_nodes(root, names)

    def text_of(node: Tree) -> str:
        node_statement = statement["statements"][0]
        changed = {**node_statement, "node": {**node_statement["node"], "where_clause": node}}
        sql = sandbox.text_of({**statement, "statements": [changed]})
        return sql.partition(" WHERE ")[2].strip()

    text = text_of(root)
    kind = sandbox.type_of(text)
    if kind != "BOOLEAN":
        raise _refused(expression, f"a condition that is true or false (this is of type {kind})")
    is_and = root["type"] == "CONJUNCTION_AND"
    canonical = {name.lower(): name for name in names}
    terms = [_term(node, text_of, canonical) for node in (root["children"] if is_and else [root])]
    return Condition(text, tuple(terms))


def _with_sites_quoted(expression: str) -> str:
    """Return the expression with the columns of single sites, such as warm_up_s@us, as SQL wants to have them."""

    def quoted(match: re.Match[str]) -> str:
        return match[0] if match[0][0] in "'\"" else f'"{match[0]}"'

    # what stands in quotes is taken as a whole and left as it is
    return re.sub(r"'[^']*'|\"[^\"]*\"|\w+@[A-Za-z]\w*", quoted, expression)


def unknown_columns(place: str, wanted: Iterable[str], names: Sequence[str]) -> list[Fault]:
    """Return a fault for each of `wanted` that is no column, with the nearest that are."""
    return [Fault(place, f"no column '{name}'", _near(name, names)) for name in wanted if name not in names]


def _near(name: str, names: Sequence[str]) -> str:
    folded = {known.lower(): known for known in names}
    close = [folded[near] for near in difflib.get_close_matches(name.lower(), folded, n=3, cutoff=0.5)]
    parts = [known for known in names if name.lower() in known.lower()]
    meant = _EVERYDAY.get(name.lower(), name)
    near = list(dict.fromkeys(known for known in (meant, *close, *parts) if known in names))[:3]
    return (
        f"did you mean {' or '.join(near)}?"
        if near
        else "a column of the table, such as " + ", ".join(names[:6])
    )


def _one_statement(expression: str, sandbox: Sandbox) -> Tree:
    """Return the tree of `SELECT 1 FROM trials WHERE (expression)`.

    The text must parse with and without parentheses round it. Without, a parenthesis cannot be closed that it
    did not open; with, nothing but one expression fits.
    """
    if len(expression) > LONGEST:
        raise _refused(expression, f"at most {LONGEST} characters")
    if not expression.strip():
        raise _refused(expression, "a condition, such as shot_deviation_K <= 0.5 AND warm_up_s <= 600")
    try:
        bare = sandbox.syntax(f"{_HEAD}{expression}\n")
        enclosed = sandbox.syntax(f"{_HEAD}(\n{expression}\n)")
    except RecursionError:
        raise _refused(expression, "fewer levels of nesting") from None
    for tree in (bare, enclosed):
        if tree["error"]:
            raise _refused(expression, f"exactly one condition ({tree['error_message']})")
        if len(tree["statements"]) != 1:
            raise _refused(expression, "exactly one condition, without ;")
    return enclosed


def _check_nodes(root: Tree, names: Sequence[str]) -> None:
    faults: list[Fault] = []
    for node in _nodes(root):
        kind = node["class"]
        if kind not in _KINDS:
            word = kind.lower().replace("_", "-")
            faults.append(Fault(_PLACE, f"a {word}", "comparisons and computations over the columns"))
        elif kind == "COLUMN_REF":
            faults += _column_faults(".".join(node["column_names"]), names)
        elif kind == "FUNCTION" and (node["function_name"] not in _FUNCTIONS or node.get("schema")):
            allowed = ", ".join(sorted(name for name in _FUNCTIONS if name.isidentifier()))
            faults.append(Fault(_PLACE, f"the function {node['function_name']}", allowed))
    if faults:
        raise InputError(dict.fromkeys(faults))


def _column_faults(name: str, names: Sequence[str]) -> list[Fault]:
    if name.lower() in {known.lower() for known in names}:
        return []
    (fault,) = unknown_columns(_PLACE, [name], names)
    return [Fault(fault.where, fault.found, f"{fault.allowed} (texts stand in 'single quotes')")]


def _nodes(root: Tree) -> Iterator[Tree]:
    """Yield every expression in a tree (anything that has a class is one), down to a depth of `DEEPEST`."""
    waiting: list[tuple[Any, int]] = [(root, 0)]
    while waiting:
        item, depth = waiting.pop()
        if depth > DEEPEST:
            raise InputError([Fault(_PLACE, "a condition nested too deeply", f"at most {DEEPEST} levels")])
        if isinstance(item, dict):
            if "class" in item:
                yield item
            waiting.extend((value, depth + 1) for value in item.values())
        elif isinstance(item, list):
            waiting.extend((value, depth + 1) for value in item)


def _term(node: Tree, text_of: Callable[[Tree], str], canonical: Mapping[str, str]) -> Term:
    """Return a term with its gap; `canonical` gives a column's name by its lower-case form."""

    def number(part: str) -> str:
        return f"TRY_CAST({text_of(node[part])} AS DOUBLE)"

    def column(part: str) -> str | None:
        return (
            canonical[node[part]["column_names"][0].lower()] if node[part]["class"] == "COLUMN_REF" else None
        )

    text = text_of(node)
    if node["class"] == "BETWEEN":
        middle, low, high = map(number, ("input", "lower", "upper"))
        gap = f"{_positive(f'{low} - {middle}')} + {_positive(f'{middle} - {high}')}"
        return Term(_plain(text), gap, column("input"))
    sign = _SIGNS.get(node["type"])
    if sign is None:
        return Term(_plain(text), None, None)
    left, right = map(number, ("left", "right"))
    gap = f"abs({left} - {right})" if sign == 0 else _positive(f"{sign} * ({right} - {left})")
    return Term(_plain(text), gap, column("left") or column("right"), _text_in(node) if sign == 0 else None)


def _text_in(comparison: Tree) -> str | None:
    """Return the text that a comparison has on one of its sides."""
    for side in (comparison["left"], comparison["right"]):
        literal = side.get("literal", {})
        if literal.get("kind") == "STRING":
            return str(literal["text"])
    return None


def _positive(sql: str) -> str:
    """Return an expression's value where it is positive, else 0; null of a null, which `greatest` would pass over."""
    return f"(abs({sql}) + ({sql})) / 2"


def _plain(text: str) -> str:
    """Return SQL text without the parentheses that enclose all of it."""
    depth, quote = 0, ""
    for place, sign in enumerate(text):
        if quote:
            quote = "" if sign == quote else quote
        elif sign in "'\"":
            quote = sign
        else:
            depth += (sign == "(") - (sign == ")")
        if depth == 0 and place < len(text) - 1:
            return text
    return text[1:-1]


def _refused(expression: str, allowed: str) -> InputError:
    shown = expression if len(expression) <= 60 else expression[:57] + "..."
    return InputError([Fault(_PLACE, f"'{shown}'", allowed)])
