"""What a small change does to a design: one variable, or one tolerance, moved alone.

A variable is moved by a step that a person would say in its unit (100 W, 0.2 m), down and up, as far as it may go;
each neighbour is trimmed and rated like a design of the search, with its whole batch of machines. A tolerance is
moved to both ends of its scatter in one machine that is nominal in all else, with the offset that the nominal
machine was trimmed to. Changes are after less before. What several moves do together is not said here: the robust
objectives have it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from boilerfront.model import figures as fig
from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.brief import Brief
from boilerfront.model.design import design_faults, read_design
from boilerfront.model.glossary import COLUMNS, OBJECTIVES
from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.codes import DONE, FAULTS, REASONS
from boilerfront.model.markets import design_at, evaluate_many
from boilerfront.model.rating import Batch, Row
from boilerfront.model.runs import Pool, Ran, Request
from boilerfront.model.tolerances import NOMINAL
from boilerfront.model.variables import VARIABLES, Value, base_name
from boilerfront.shared.errors import InputError

Reach = tuple[float, float] | tuple[str, ...]
"""How far a variable may be moved: between two numbers, or among texts."""

STEP_OF_UNIT = {"W": 100.0, "mL": 100.0, "m": 0.2, "mm": 1.0, "kg": 0.2, "°C": 2.0}
STEPS = {"group_power_W": 50.0, "insulation_mm": 5.0}
"""Steps of numbers: of these variables, and of all others by their unit (our judgement)."""

LEAST_MOVE = 0.05
"""Less than this part of a step is no move: the variable stands at the end of its range."""


@dataclass(frozen=True)
class Effect:
    """One move of a variable or a tolerance `name` from `before` to `after`, and what came of it.

    `changes` of every figure that has a number before and after; `broken` margins that were met and are no
    longer, with how much is missing; `mended` those that are met now. `reason` where the machine does not come
    through its duty any more: then there are no changes.
    """

    name: str
    before: Value
    after: Value
    changes: dict[str, float] = field(default_factory=dict)
    broken: dict[str, float] = field(default_factory=dict)
    mended: tuple[str, ...] = ()
    reason: str | None = None


@dataclass(frozen=True)
class Sensitivity:
    """A design's own row and the effects of moving it, in the order of variables or columns.

    `ends` are the steps that nobody can take: names of variables that stand at the least ("less") or the most
    ("more") that the model knows.
    """

    row: Row
    effects: list[Effect]
    ends: tuple[tuple[str, str], ...] = ()


def neighbours(
    design: Mapping[str, Value], reach: Mapping[str, Reach] | None = None
) -> list[tuple[str, Value, Value]]:
    """Return every move of one variable: its name, its value before and after.

    `reach` limits variables by name; others may go as far as the model allows. The architecture is no variable to
    be moved: others have other variables. Moves that make no design are left out.
    """
    architecture = str(design.get("architecture") or VARIABLES["architecture"].default)
    having = ARCHITECTURES[architecture].variables
    names = [name for name in design if "@" in name and base_name(name) in having]
    spread = set(map(base_name, names))
    names += [name for name in having if name not in spread and name != "architecture"]
    moves = []
    for name in sorted(names, key=lambda name: list(VARIABLES).index(base_name(name))):
        before = design.get(name)
        before = VARIABLES[base_name(name)].default if before is None else before
        if before is not None:
            moves += [(name, before, after) for after in _places(name, before, (reach or {}).get(name))]
    return [move for move in moves if not design_faults({base_name(move[0]): move[2]})]


def variable_effects(design: Mapping[str, Value], brief: Brief) -> Sensitivity:
    """Rate a design and all its neighbours under a brief, over all its sites; raises `InputError` for no design.

    Variables go as far as the model allows, whatever a sweep searched: a design often stands at the end of its
    sweep's range, and what lies beyond is then the question.
    """
    moves = [move for move in neighbours(design) if _is_design({**design, move[0]: move[2]}, brief)]
    designs = [design, *({**design, name: after} for name, _, after in moves)]
    base, *rows = evaluate_many(designs, brief)
    return Sensitivity(
        base,
        [_effect(*move, base=base, row=row) for move, row in zip(moves, rows, strict=True)],
        tuple(_ends(moves)),
    )


def tolerance_effects(design: Mapping[str, Value], brief: Brief) -> dict[str, Sensitivity]:
    """Return for each site (of a single one under an empty name) the nominal machine's row and the effects.

    A tolerance that changes nothing is left out. A nominal machine that does not come through its duty has a
    reason in its row and no effects. Raises `InputError` for no design.
    """
    return {site: _machines(design_at(design, site), own) for site, own in brief.by_site().items()}


def _places(name: str, before: Value, reach: Reach | None) -> list[Value]:
    """Return where a variable may be moved to from a value."""
    variable = VARIABLES[base_name(name)]
    if variable.kind == "choice":
        return [choice for choice in (reach or variable.choices) if choice != before]
    step = STEPS.get(variable.name, STEP_OF_UNIT[variable.unit])
    low, high = reach or (variable.low, variable.high)
    value = float(before)  # type: ignore[arg-type]
    clipped = [min(max(value + move, float(low)), float(high)) for move in (-step, step)]
    ways = zip(clipped, (-1.0, 1.0), strict=True)
    # a value outside of its range is not moved to the range's far side
    return [place for place, way in ways if way * (place - value) > LEAST_MOVE * step]


def _ends(moves: Sequence[tuple[str, Value, Value]]) -> Iterator[tuple[str, str]]:
    """Yield the numbers that are moved one way only, and the way that is shut."""
    for name in dict.fromkeys(name for name, _, _ in moves):
        ways = [
            after > before
            for key, before, after in moves
            if key == name and isinstance(before, float | int) and isinstance(after, float | int)
        ]
        if len(ways) == 1:
            yield name, "less" if ways[0] else "more"


def _is_design(design: Mapping[str, Value], brief: Brief) -> bool:
    """Return whether a neighbour can be built at all, such as a tube with a wall."""
    try:
        for site, own in brief.by_site().items():
            read_design(design_at(design, site), own.machine)
    except InputError:
        return False
    return True


def _effect(name: str, before: Value, after: Value, *, base: Row, row: Row) -> Effect:
    why = row.get("reason") or row.get("fault")
    if why is not None:
        return Effect(name, before, after, reason=str(why))
    was, now = _numbers(base), _numbers(row)
    margins = [key for key in now if COLUMNS[key].group == "margin"]
    return Effect(
        name,
        before,
        after,
        changes={key: now[key] - was[key] for key in now if key in was},
        broken={key: -now[key] for key in margins if now[key] < 0.0 <= was.get(key, 0.0)},
        mended=tuple(key for key in margins if was.get(key, 0.0) < 0.0 <= now[key]),
    )


def _numbers(row: Row) -> dict[str, float]:
    """Return a row's numbers, those of single sites left out."""
    return {
        name: float(value)
        for name, value in row.items()
        if name in COLUMNS
        and COLUMNS[name].group != "verdict"
        and isinstance(value, float | int)
        and not isinstance(value, bool)
    }


def _machines(design: Mapping[str, Value], brief: Brief) -> Sensitivity:
    read = read_design(design, brief.machine)
    pool = Pool([ARCHITECTURES[read.architecture].build(read, brief)], brief)
    batch = Batch(pool)
    trims, _ = batch.trimmed()
    if 0 in batch.failed:
        return Sensitivity({"reason": _why(batch.failed[0][0])}, [])
    if not trims[0].done:
        return Sensitivity({"reason": "trim"}, [])
    moves: list[tuple[str, float]] = [
        (name, end) for name, limits in brief.ends().items() for end in limits if end != NOMINAL.get(name)
    ]
    machines: Sequence[Mapping[str, float]] = [NOMINAL, *({**NOMINAL, name: end} for name, end in moves)]
    requests = [Request(0, batch.user_C, trims[0].offset_K, machine) for machine in machines]
    ran = pool.run(requests)
    pool.live_a_day(requests, ran)
    base, *rows = (_row(ran, k, pool, brief) for k in range(len(machines)))
    effects = [
        _effect(name, NOMINAL.get(name), end, base=base, row=row)
        for (name, end), row in zip(moves, rows, strict=True)
    ]
    return Sensitivity(base, [each for each in effects if each.reason or any(each.changes.values())])


def _why(code: float) -> str:
    return REASONS.get(int(code)) or FAULTS[int(code)]


def _row(ran: Ran, k: int, pool: Pool, brief: Brief) -> Row:
    """Return the row of one run: objectives, figures and margins of a single machine."""
    out, shots, plant = ran.out[k], ran.shots[k], pool.plants[0]
    if out[at.O_CODE] != DONE:
        return {"reason": _why(out[at.O_CODE])}
    objectives = fig.objectives(out, shots, plant, brief)
    return {
        **{name: objectives[name] for name in OBJECTIVES},
        **fig.run_figures(out, plant, brief),
        **fig.shot_figures(shots, brief),
        **fig.run_margins(out, plant, brief),
        "reason": None,
    }
