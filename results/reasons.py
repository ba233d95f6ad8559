"""Why a design was picked: a sentence for each, with differences that deserve the word."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from boilerfront.results.front import objective_values
from boilerfront.results.resolution import RESOLUTION
from boilerfront.results.schema import group_of, kept_by, metadata_of
from boilerfront.shared.shapes import Floats

CALLED = {**RESOLUTION, "shot_deviation_K": 0.1}
"""The least difference that a text may call a difference, in the objective's own unit."""


class _Words(NamedTuple):
    best: str
    tied: str
    gain: str
    loss: str


_WORDS = {
    "shot_deviation_K": _Words("the steadiest", "as steady as any", "{} {} steadier", "{} {} less steady"),
    "warm_up_s": _Words(
        "the soonest ready", "ready as soon as any", "ready {} {} sooner", "ready {} {} later"
    ),
    "energy_kWh_day": _Words(
        "the one that takes the least energy", "as thrifty as any", "{} {} a day less", "{} {} a day more"
    ),
    "part_cost": _Words("the cheapest", "as cheap as any", "{} {} cheaper", "{} {} dearer"),
}


def reasons(picks: pa.Table, names: Sequence[str]) -> list[str]:
    """Return why each row of `picks` stands among them; `names` are what people call the rows."""
    objectives = [name for name in group_of(picks.schema, "objective") if name in _WORDS]
    steps = np.array([CALLED[name] for name in objectives])
    values = objective_values(picks.select(objectives))
    families = picks["architecture"].to_pylist()
    sentences = []
    for place in range(picks.num_rows):
        parts = [_praise(objectives, values / steps, place)]
        if families.count(families[place]) == 1 and len(set(families)) > 1:
            parts.append(f"the only {families[place]} of them")
        parts.append(_comparison(picks.schema, objectives, values, place, names))
        said = "; ".join(part for part in parts if part) or _small_gain(objectives, values / steps, place)
        sentences.append(f"{said[0].upper()}{said[1:]}. {_batch(picks, place)}")
    return sentences


def _praise(objectives: Sequence[str], scaled: Floats, place: int) -> str:
    """Return in what a row is the best of all, or as good as the best; `scaled` in nameable steps."""
    others = np.delete(scaled, place, axis=0)
    if not len(others):
        return ""
    lead = others.min(axis=0) - scaled[place]
    behind = others.max(axis=0) - scaled[place]
    best = [_WORDS[name].best for name, by in zip(objectives, lead, strict=True) if by >= 1.0]
    tied = [
        _WORDS[name].tied
        for name, by, most in zip(objectives, lead, behind, strict=True)
        if -1.0 < by < 1.0 <= most
    ]
    return _listed([*best, *tied])


def _small_gain(objectives: Sequence[str], scaled: Floats, place: int) -> str:
    """Return what a row has that the others have not, where no difference deserves the word."""
    if len(scaled) == 1:
        return "dominates most of what the front offers"
    lead = np.delete(scaled, place, axis=0).min(axis=0) - scaled[place]
    return f"{_WORDS[objectives[int(np.argmax(lead))]].best}, though by less than can be told apart"


def _comparison(
    schema: pa.Schema, objectives: Sequence[str], values: Floats, place: int, names: Sequence[str]
) -> str:
    """Return what a row gains and gives up against the nearest other that it beats in something."""
    steps = np.array([CALLED[name] for name in objectives])
    ahead = (values - values[place]) / steps
    rivals = [other for other in range(len(values)) if other != place and (ahead[other] >= 1.0).any()]
    if not rivals:
        return ""
    rival = min(rivals, key=lambda other: float(np.abs(ahead[other]).sum()))
    texts: dict[bool, list[str]] = {True: [], False: []}
    for name, steps_ahead, difference in zip(
        objectives, ahead[rival], np.abs(values[rival] - values[place]), strict=True
    ):
        if abs(steps_ahead) >= 1.0:
            metadata = metadata_of(schema.field(name))
            # A digit less than the value's own would call 0.1 K nothing.
            amount = f"{difference:.{int(metadata['digits'])}f}"
            is_gain = bool(steps_ahead > 0.0)
            words = _WORDS[name].gain if is_gain else _WORDS[name].loss
            texts[is_gain].append(words.format(amount, metadata["unit"]))
    given_up = f", but {_listed(texts[False])}" if texts[False] else ""
    return f"against {names[rival]} {_listed(texts[True])}{given_up}"


def _batch(picks: pa.Table, place: int) -> str:
    """Return how steady the machines of a row's batch are beside the nominal one."""
    robust, nominal = (
        picks[name][place].as_py() for name in ("shot_deviation_K", "shot_deviation_K_nominal")
    )
    share = kept_by(picks.schema.field("shot_deviation_K"))
    if share is None:
        return f"Its nominal machine keeps {robust:.2f} K; no batch was rated."
    beside = "" if nominal is None else f", its nominal machine {nominal:.2f} K"
    return f"Its batch keeps {robust:.2f} K ({share}){beside}."


def _listed(texts: Sequence[str]) -> str:
    return " and ".join([", ".join(texts[:-1]), texts[-1]]) if len(texts) > 1 else "".join(texts)
