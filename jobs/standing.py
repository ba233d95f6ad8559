"""Which kept picks of a run still stand under the calibration of another one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from boilerfront.jobs.launch import frozen_sweep
from boilerfront.jobs.sweep import Sweep
from boilerfront.model import evaluate_many
from boilerfront.results.candidates import Candidate, candidates
from boilerfront.results.front import front_of
from boilerfront.results.picks import kept_picks
from boilerfront.results.proof import why_not
from boilerfront.results.resolution import RESOLUTION
from boilerfront.results.run_folder import RunFolder
from boilerfront.results.schema import digits_of, group_of, unit_of
from boilerfront.results.show import cell_text
from boilerfront.shared.errors import InputError


def standing_picks(runs: Sequence[RunFolder]) -> Iterator[str]:
    """Yield a sentence for each kept pick of each run, rated as every run of another calibration rates.

    A pick stands when it meets every margin there and no design of that run's front is better by what may be called
    a difference in one objective and as good in the others. Runs whose sweep cannot be read any more are passed over.
    """
    sweeps = {run.path: sweep for run in runs if (sweep := _sweep(run)) is not None}
    for run in runs:
        for other in runs:
            if run.path not in sweeps or other.path not in sweeps:
                continue
            if sweeps[run.path].calibration == sweeps[other.path].calibration:
                continue
            letters = list(_kept(run))
            for candidate in candidates(run, letters) if letters else []:
                yield _sentence(candidate, run, other, sweeps[other.path])


def _sweep(run: RunFolder) -> Sweep | None:
    try:
        return frozen_sweep(run)
    except InputError:
        return None


def _kept(run: RunFolder) -> Mapping[str, object]:
    try:
        return kept_picks(run)
    except InputError:
        return {}


def _sentence(candidate: Candidate, run: RunFolder, other: RunFolder, sweep: Sweep) -> str:
    name = f"{candidate.label} of {run.name}, rated as in {other.name}"
    try:
        row = dict(evaluate_many([candidate.design], sweep.brief())[0])
    except InputError as error:
        return f"{name}: cannot be rated there ({error})"
    if not row["feasible"]:
        return f"{name}: no longer stands, {why_not(row)}"
    moved = ", ".join(
        _move(objective, candidate, row) for objective in group_of(candidate.schema, "objective")
    )
    better = _better(row, other, candidate)
    verdict = "stands" if better is None else f"is beaten by trial {better} of {other.name}"
    return f"{name}: {verdict} ({moved})"


def _move(objective: str, candidate: Candidate, row: Mapping[str, Any]) -> str:
    field = candidate.schema.field(objective)
    before, after = (cell_text(float(values[objective]), digits_of(field)) for values in (candidate.row, row))
    return f"{objective} {before} → {after} {unit_of(field)}"


def _better(row: Mapping[str, Any], other: RunFolder, candidate: Candidate) -> int | None:
    """Return a trial of another run's front that is better than a row and nowhere worse, None where there is none."""
    front, _ = front_of(other)
    names = [name for name in group_of(candidate.schema, "objective") if name in front.column_names]
    if not front.num_rows or not names:
        return None
    steps = np.array([RESOLUTION.get(name, 0.0) for name in names])
    values = np.column_stack([front[name].to_numpy() for name in names])
    ours = np.array([float(row[name]) for name in names])
    beats = (values <= ours).all(axis=1) & (values < ours - steps).any(axis=1)
    return int(front["trial"][int(np.argmax(beats))].as_py()) if beats.any() else None
