"""Margins as people read them: limit, value, slack, and how many of the fresh machines hold it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from boilerfront.model.brief import Brief
from boilerfront.model.figures import WORST_OF_ALL
from boilerfront.model.glossary import COLUMNS, MARGINS, OBJECTIVES
from boilerfront.model.limits import SOURCES
from boilerfront.model.runs import BREW_BOILING_K
from boilerfront.model.tolerances import robust_margin
from boilerfront.results.confirm import FRESH_MACHINES
from boilerfront.results.pack.blocks import Block, Caution, Table, Text
from boilerfront.results.pack.subject import Subject
from boilerfront.results.question import COST
from boilerfront.results.resolution import RESOLUTION
from boilerfront.results.show import NO_VALUE

Limit = Callable[[Brief], float]


@dataclass(frozen=True)
class Rule:
    """What a margin is the slack of: a value that is at most, or at least, a limit."""

    what: str
    limit: Limit
    at_most: bool = True


def _at_least(what: str, limit: Limit = lambda brief: 0.0) -> Rule:
    return Rule(what, limit, at_most=False)


RULES: dict[str, Rule] = {
    "margin_mains_A": Rule("largest element, pump, electronics", lambda b: b.site.current_limit_A),
    "margin_served": Rule("longest time without power over warm-up", lambda b: b.limits.served),
    "margin_watt_density_W_cm2": Rule("highest surface load", lambda b: b.limits.watt_density_W_cm2),
    "margin_level_mm": _at_least("lowest water line above the element"),
    "margin_outlet_boiling_K": _at_least(
        "hottest water at the screen below boiling", lambda b: b.limits.outlet_boiling_K
    ),
    "margin_brew_boiling_K": _at_least("hottest brew water below boiling", lambda b: BREW_BOILING_K),
    "margin_coil_boiling_K": _at_least("hottest coil water below boiling"),
    "margin_steam_s": Rule("steaming time", lambda b: b.limits.steam_s),
    "margin_overshoot_K": Rule("overshoot", lambda b: b.limits.overshoot_K),
    "margin_setpoint_K": Rule("error at the ends of the set-points", lambda b: b.limits.setpoint_K),
    "margin_trim_K": _at_least("trim offset from its bounds"),
    "margin_wait_s": Rule("sum of waits", lambda b: b.limits.wait_s),
    "margin_coil_fit_mm": _at_least("room around the helix"),
    "margin_envelope_mm": _at_least("room in the casing"),
    "margin_wall_mm": _at_least("wall beyond the required one"),
    "margin_volume_category_L": Rule("steam boiler's volume", lambda b: b.limits.volume_category_L),
    "margin_steam_valve_bar": _at_least("steam below the safety valve", lambda b: b.limits.steam_valve_bar),
    "margin_pump_bar": _at_least("pump beyond what the puck asks"),
}
"""Of every margin of the glossary."""

REQUIRED_FIGURES: dict[str, Limit] = {
    "steam_time_s": RULES["margin_steam_s"].limit,
    "overshoot_K": RULES["margin_overshoot_K"].limit,
    "peak_current_A": lambda b: b.site.current_limit_A,
}
"""What the sweep asks of figures that the bench measures, each at most."""


@dataclass(frozen=True)
class Held:
    """A margin of a candidate: slack in the ledger and on the fresh machines, and their share that holds it.

    What no machine of a batch changes has no fresh slack and no share.
    """

    name: str
    slack: float
    fresh: float | None
    share: float | None

    def value(self, brief: Brief) -> float:
        """Return the value that is compared with the limit, of the ledger."""
        rule = RULES[self.name]
        return rule.limit(brief) - self.slack if rule.at_most else rule.limit(brief) + self.slack


def held(subject: Subject) -> list[Held]:
    """Return all margins that the candidate has."""
    found = []
    for name in MARGINS:
        slack = subject.number(name)
        if slack is None:
            continue
        values = subject.spread.margins.get(name)
        if values is None:
            found.append(Held(name, slack, None, None))
            continue
        came = values[np.isfinite(values)]
        worst = name in WORST_OF_ALL and came.size
        kept = float(came.min()) if worst else robust_margin(values, subject.brief.tolerances.share)
        found.append(Held(name, slack, kept, float(np.mean(values >= 0.0))))
    return found


def margin_blocks(subject: Subject) -> list[Block]:
    """Return the table of margins, and what the fresh machines say otherwise than the ledger."""
    share = 100.0 * subject.brief.tolerances.share
    own = (
        f"those of the nominal machine, computed again for {subject.site}"
        if subject.site
        else f"the ledger's ({subject.statistic})"
    )
    worst = sum(each.name in WORST_OF_ALL and each.fresh is not None for each in held(subject))
    return [
        Text(
            f"Slack is what is left to the limit, and met when it is not negative. Value and slack are "
            f"{own}; beside them the slack on {FRESH_MACHINES} fresh machines that {share:g} % of "
            f"them keep{', or all where every machine must keep it' if worst else ''}, and the share of them that "
            "holds the limit. What machines do not differ in has neither."
        ),
        _table(subject),
    ]


def differences(subject: Subject) -> list[Block]:
    """Return what to say where the ledger's robust figures are not those of the fresh machines."""
    broken = [
        each for each in held(subject) if each.slack >= 0.0 and each.fresh is not None and each.fresh < 0.0
    ]
    moved = []
    for name in OBJECTIVES:
        own, fresh = subject.number(name), subject.fresh(name)
        if name != COST and own is not None and (fresh is None or abs(fresh - own) >= RESOLUTION[name]):
            text = f"{subject.shown(name, fresh)} {subject.unit(name)} instead of {subject.text(name)}"
            moved.append(f"{COLUMNS[name].text}: {text}")
    found: list[Block] = []
    met = "by the nominal machine" if subject.site else "in the ledger"
    also = (
        ""
        if subject.was_computed_alike
        else ", and the ledger's were computed by another version of the model"
    )
    if moved:
        found.append(
            Text(
                f"On {FRESH_MACHINES} fresh machines, otherwise than in the ledger: {'; '.join(moved)}. Trust the "
                f"fresh ones: they are more{also}."
            )
        )
    if broken:
        names = ", ".join(f"{RULES[each.name].what} ({100.0 * (each.share or 0.0):.1f} %)" for each in broken)
        found.append(
            Caution(
                f"Met {met} and not on {FRESH_MACHINES} fresh machines: {names}; in brackets the share of "
                "them that holds the limit."
            )
        )
    return found


def _table(subject: Subject) -> Table:
    rows = []
    for each in held(subject):
        rule, unit = RULES[each.name], subject.unit(each.name)
        limit = f"{'≤' if rule.at_most else '≥'} {subject.shown(each.name, rule.limit(subject.brief))}"
        rows.append(
            (
                rule.what,
                unit or "1",
                limit,
                subject.shown(each.name, each.value(subject.brief)),
                subject.shown(each.name, each.slack),
                NO_VALUE if each.fresh is None else subject.shown(each.name, each.fresh),
                NO_VALUE if each.share is None else f"{_percent(each.share)} %",
                SOURCES.get(each.name, ""),
            )
        )
    head = (
        "what is limited",
        "unit",
        "limit",
        "value",
        "slack",
        "slack, fresh",
        "hold it",
        "where the limit comes from",
    )
    return Table(
        head, tuple(rows), numbers=frozenset({2, 3, 4, 5, 6}), widths=(3.8, 1.7, 1.7, 1.6, 1.5, 1.5, 1.6, 7.6)
    )


def _percent(share: float) -> str:
    """Return a share in percent that says 100 only where it is all."""
    return "100" if share == 1.0 else f"{min(100.0 * share, 99.9):.1f}"
