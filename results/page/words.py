"""What a page says of its run in words."""

from __future__ import annotations

from boilerfront.results.page.content import MOST_DESIGNS, Content
from boilerfront.results.proof import summary

_LATE_SHARE = 0.1
"""Share of the designs, the last ones, whose gain says whether a longer night would find more."""


def lede(content: Content) -> str:
    """Return how many designs of which families there are, for which site, from when."""
    settings = dict(content.settings)
    started = dict(settings.get("run", ())).get("started", "")[:10]
    counts = f"{content.trials:,} evaluated, {content.feasible:,} of them feasible"
    parts = [
        f"{content.front_size:,} designs on the front of {counts}",
        ", ".join(family.label for family in content.families),
        " and ".join(content.sites),
        f"started {started}" if started else "",
    ]
    return " · ".join(part for part in parts if part) + "."


def subset_text(content: Content) -> str:
    """Return whether all of the front is shown, and if not, which part of it."""
    if content.kept_share == 1.0:
        return "All designs of the front are in this page."
    return (
        f"This page holds {content.table.num_rows:,} of the {content.front_size:,} designs of the front, at most "
        f"{MOST_DESIGNS:,}: those that together dominate most of the objectives' space, "
        f"{100 * content.kept_share:.1f} % of what the whole front dominates. All of them are in front.parquet."
    )


def statistic(content: Content) -> str:
    """Return what the objectives are, as their columns say."""
    for label in content.of_group("objective"):
        if label.kept_by is not None:
            return f"what {label.kept_by} of each design keep"
    return "those of the nominal machine"


def nothing_text(content: Content) -> str:
    """Return why there is no front."""
    if not content.trials:
        return "No design has been evaluated yet."
    return (
        f"None of the {content.trials:,} designs evaluated is feasible yet; boilerfront query with --all shows "
        "every trial with its reason and its margins."
    )


def growth_text(content: Content) -> str:
    """Return how far the run is and what its last designs have brought."""
    known = [row for row in content.convergence.to_pylist() if row["hypervolume"]]
    if not known:
        return "Nothing is on the front yet."
    last = known[-1]
    text = f"{last['trials']:,} designs in {last['generation'] + 1:,} generations."
    before = [row for row in known if row["trials"] <= (1.0 - _LATE_SHARE) * last["trials"]]
    if not before:
        return text
    grown = last["hypervolume"] / before[-1]["hypervolume"] - 1.0
    return (
        f"{text} The last {last['trials'] - before[-1]['trials']:,} designs made the hypervolume {100 * grown:.2f} % "
        "larger; where the curve is still steep, a longer night finds more."
    )


def proof_text(content: Content) -> str:
    """Return what the night's proof says of the designs shown; empty where there was none."""
    said = summary(content.table)
    return f"Proof: {said}; each design's own in the column proof_status of front.parquet." if said else ""
