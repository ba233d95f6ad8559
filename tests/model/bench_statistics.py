"""How often the fit tells the truth: many invented benches with hidden coefficients, with and without an effect
that the model does not have.

    .venv/bin/python -m tests.model.bench_statistics --benches 200
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.brief import Brief
from boilerfront.model.coefficients import LAGS, coefficients_of
from boilerfront.model.design import read_design
from boilerfront.model.duty import Duty, Event
from boilerfront.model.fit.columns import Columns
from boilerfront.model.fit.held_back import predicted
from boilerfront.model.fit.inputs import Case, case_of
from boilerfront.model.fit.log import Log
from boilerfront.model.fit.solve import Fit, fit
from boilerfront.model.runs import Pool
from boilerfront.shared.shapes import Floats
from tests.model.invented_bench import Frame, Instruments, as_logged, true_courses
from tests.model.random_designs import NOMINAL, random_designs

SHOTS = Duty(
    events=(
        Event(at_s=60), Event(at_s=150, flow="fast"), Event(at_s=260, flow="slow"), Event(kind="steam", at_s=380),
        Event(at_s=460, flow="fast"), Event(after_s=600),
    )
)  # fmt: skip
OTHER = Duty(
    events=(Event(at_s=120, flow="slow"), Event(at_s=260, flow="fast"), Event(at_s=330), Event(after_s=700))
)
HELD = Duty(
    events=(Event(at_s=60), Event(at_s=120), Event(at_s=180, flow="fast"), Event(after_s=600, flow="slow"))
)
COOL_DOWN_S = (1500, 0, 0)
"""Two logs to fit, the first with a cool-down, and one that is held back."""
FITTED = coefficients_of("dual_boiler_coil")[:10]
HIDDEN_SPREAD = 0.25
"""Spread of the logarithms of hidden coefficients."""
ARCHITECTURE = "dual_boiler_coil"


@dataclass(frozen=True)
class Bench:
    """One invented bench: its machine, what is hidden, its three logs, and their true errors of shot water [K]."""

    pool: Pool
    truth: dict[str, float]
    cases: list[Case]


@dataclass(frozen=True)
class Judged:
    """What the fit said of one bench: of each coefficient whether it was told and whether the interval holds."""

    told: dict[str, bool]
    inside: dict[str, bool]
    width: dict[str, float]
    white: bool
    shot_K: tuple[float, float, float]
    """Error of the shot water in the log held back: by the design's coefficients, the fitted ones, the true ones."""


def _pool(design: dict[str, float | int | str | None], duty: Duty) -> Pool:
    brief: Brief = NOMINAL.model_copy(update={"duty": duty})
    built = ARCHITECTURES[ARCHITECTURE].build(read_design(design, brief.machine), brief)
    return Pool([built], brief, calm_s=1)


def _hidden(rng: np.random.Generator, pool: Pool) -> dict[str, float]:
    control = pool.brief.machine.control
    own = {
        "brew_lag_s": control.brew_lag_s,
        "group_lag_s": control.group_lag_s,
        "steam_lag_s": control.steam_lag_s,
    }
    return {
        name: (own[name] if name in LAGS else 1.0) * float(np.exp(HIDDEN_SPREAD * rng.standard_normal()))
        for name in FITTED
    }


def benches(count: int, *, seed: int, effect: bool) -> Iterator[Bench]:
    """Yield benches in groups of machines of one design each, so that their courses are marched together."""
    group = 8
    for first in range(0, count, group):
        rng = np.random.default_rng([seed, first, int(effect)])
        design = random_designs(1, seed + first, architecture=ARCHITECTURE)[0]
        pools = [_pool(design, duty) for duty in (SHOTS, OTHER, HELD)]
        truths = [_hidden(rng, pools[0]) for _ in range(group)]
        links = rng.uniform(0.2, 0.6, group) if effect else np.zeros(group)
        frames = [Frame(900.0, float(link)) for link in links]
        logs: list[list[dict[str, Floats]]] = []
        for pool, off_s in zip(pools, COOL_DOWN_S, strict=True):
            about = [
                {**truth, "ambient": float(rng.uniform(-4, 4)), "inlet": float(rng.uniform(-4, 4))}
                for truth in truths
            ]
            courses = true_courses(pool, about, frames, user_C=93.0, offset_K=1.0, off_s=off_s)
            logs.append(
                [_with_surroundings(course, machine) for course, machine in zip(courses, about, strict=True)]
            )
        for k in range(min(group, count - first)):
            yield Bench(
                pools[0], truths[k], [_case(pools[0], each[k], rng, i) for i, each in enumerate(logs)]
            )


def _with_surroundings(course: dict[str, Floats], machine: dict[str, float]) -> dict[str, Floats]:
    count = course["time_s"].size
    site = NOMINAL.site
    return {
        **course,
        "room_C": np.full(count, site.ambient_C + machine["ambient"]),
        "inlet_C": np.full(count, site.inlet_C + machine["inlet"]),
    }


def _case(pool: Pool, course: dict[str, Floats], rng: np.random.Generator, number: int) -> Case:
    logged = as_logged(course, rng, Instruments())
    for name, error in (("room_C", 0.3), ("inlet_C", 0.3)):
        logged[name] = logged[name] + error * rng.standard_normal()
    flow, power = 1.0 + 0.02 * rng.standard_normal(), 1.0 + 0.01 * rng.standard_normal()
    for name in ("flow_g_s", "refill_g_s", "steam_flow_g_s"):
        logged[name] = logged[name] / flow
    for name in ("brew_power_W", "group_power_W", "steam_power_W"):
        logged[name] = logged[name] / power
    time_s = logged.pop("time_s")
    return case_of(Log(f"log {number}", time_s, logged, [], Columns()), pool)


def judged(bench: Bench) -> Judged:
    """Fit the first two logs of a bench, predict the third, and compare with what is hidden."""
    found = fit(bench.pool, bench.cases[:2], FITTED, starts=1)
    return Judged(
        told={each.name: each.told for each in found.found},
        inside={each.name: each.low <= bench.truth[each.name] <= each.high for each in found.found},
        width={each.name: float(np.log(each.high / each.value)) for each in found.found},
        white=found.white,
        shot_K=_shot_errors_K(bench, found),
    )


def _shot_errors_K(bench: Bench, found: Fit) -> tuple[float, float, float]:
    values = {each.name: each.value for each in found.found}
    ours, theirs = (
        next(p for p in predicted(bench.pool, bench.cases[2], 2, machine) if p.channel == "shot_C")
        for machine in (values, bench.truth)
    )
    return ours.before_rms_K, ours.after_rms_K, theirs.after_rms_K


def summary(results: list[Judged]) -> str:
    """Return the figures of many benches as text."""
    lines = [f"{'coefficient':14} told  inside of told  median half width"]
    for name in FITTED:
        told = [r for r in results if r.told[name]]
        inside = np.mean([r.inside[name] for r in told]) if told else np.nan
        width = np.median([r.width[name] for r in results])
        lines.append(f"{name:14} {len(told) / len(results):4.0%}  {inside:14.1%}  {width:17.3f}")
    pairs = [r.inside[name] for r in results for name in FITTED if r.told[name]]
    lines.append(
        f"inside where told, all together: {np.mean(pairs) if pairs else np.nan:.1%} of {len(pairs)}"
    )
    lines.append(f"warned of residuals that are not white: {np.mean([not r.white for r in results]):.1%}")
    kept = [a <= max(b / 3.0, 1.2 * floor) for b, a, floor in (r.shot_K for r in results)]
    before, after, floor = np.median(np.array([r.shot_K for r in results]), axis=0)
    lines.append(
        f"shot water of the log held back: rms {before:.2f} K before, {after:.2f} K after, {floor:.2f} K left by "
        f"noise and effect (medians); at most a third or 1.2 of what is left in {np.mean(kept):.1%}"
    )
    return "\n".join(lines)


def main() -> None:
    """Print the figures, without and with the effect."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--benches", type=int, default=200)
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--effect", choices=("without", "with", "both"), default="both")
    wanted = parser.parse_args()
    for effect in {"without": (False,), "with": (True,), "both": (False, True)}[wanted.effect]:
        results = []
        for bench in benches(wanted.benches, seed=wanted.seed, effect=effect):
            results.append(judged(bench))
            if len(results) % 20 == 0:
                print(f"{len(results)} benches, {os.times().user:.0f} s", flush=True)
        print(
            f"\n{len(results)} benches {'with' if effect else 'without'} the effect\n{summary(results)}\n",
            flush=True,
        )


if __name__ == "__main__":
    main()
