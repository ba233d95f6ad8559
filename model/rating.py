"""Designs at one site: in by public names, one row of figures each out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import inf

import numpy as np

from boilerfront.model import figures as fig
from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.assemblies.plant import Plant
from boilerfront.model.balance import residuals
from boilerfront.model.brief import Brief
from boilerfront.model.built import plant_figures, plant_margins
from boilerfront.model.design import read_design
from boilerfront.model.duty import Duty
from boilerfront.model.glossary import OBJECTIVES
from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.codes import DONE, FAULTS, REASONS
from boilerfront.model.prices import PriceBook
from boilerfront.model.runs import (
    CALM_SPAN_S,
    FINE_STEPS,
    SETTLED_SHOTS,
    TRIM_LOW_K,
    Pool,
    Ran,
    Request,
    default_user_C,
    set_point_range_C,
    trim_high_K,
)
from boilerfront.model.site import Markets, Site
from boilerfront.model.tolerances import NOMINAL, robust, robust_margin
from boilerfront.model.trim import Trim
from boilerfront.model.variables import Value
from boilerfront.shared.shapes import Floats

Row = dict[str, float | int | bool | str | None]

TRIM_SHORTFALL = 0.01
"""How far a design is that only the trim fails; the bias left adds to it."""


def evaluate(
    design: Mapping[str, Value], site: Site, duty: Duty, *, prices: PriceBook, brief: Brief | None = None
) -> Row:
    """Return the row of one design at a site through a duty; other sections come from `brief`.

    Raises `InputError` where the design is not one.
    """
    base = Brief(prices=prices) if brief is None else brief
    alone = {"site": site, "sites": {}, "markets": Markets(), "duty": duty, "prices": prices}
    return rows_at_site([design], base.model_copy(update=alone))[0]


def rows_at_site(designs: Sequence[Mapping[str, Value]], brief: Brief, *, finer: int = 1) -> list[Row]:
    """Return one row for each design at the brief's one site: objectives, figures, margins, verdict (see `glossary`).

    A design's row never depends on its neighbours. A design that does not come through its duty has a
    `reason` and no objectives. Raises `InputError` where a design is not one. `finer` cuts the steps of draws and
    the spans of calm idling into so many parts; the second, in which controllers act, stays.
    """
    read = [read_design(values, brief.machine) for values in designs]
    rows: list[Row] = [{} for _ in designs]
    for name, architecture in ARCHITECTURES.items():
        places = [i for i, design in enumerate(read) if design.architecture == name]
        if places:
            plants = [architecture.build(read[i], brief) for i in places]
            pool = Pool(plants, brief, fine_steps=finer * FINE_STEPS, calm_s=CALM_SPAN_S // finer)
            for i, row in zip(places, Batch(pool).rows(), strict=True):
                rows[i] = row
    return rows


class Batch:
    """The evaluation of all plants of a pool, stage by stage: trim, set-point range, machines of the batch."""

    def __init__(self, pool: Pool) -> None:
        self.pool = pool
        self.brief = pool.brief
        self.user_C = default_user_C(pool.brief)
        self.count = len(pool.plants)
        self.failed: dict[int, tuple[float, float]] = {}  # plant: code, shortfall

    def rows(self) -> list[Row]:
        """Return the rows, in the order of the plants."""
        trims, nominal = self.trimmed()
        self._live_a_day(trims, nominal)
        fit = [i for i in range(self.count) if i not in self.failed and trims[i].done]
        low, high = self.set_point_errors(fit, trims)
        batch = self.machines(fit, trims)
        rows = []
        for i in range(self.count):
            if i in self.failed:
                rows.append(_failed_row(*self.failed[i]))
            elif not trims[i].done:
                rows.append(_verdict("trim", TRIM_SHORTFALL * (1.0 + abs(trims[i].bias_K))))
            else:
                rows.append(self._row(i, trims[i], nominal[i], (low[i], high[i]), batch.get(i)))
        return rows

    def trimmed(self) -> tuple[list[Trim], dict[int, tuple[Floats, Floats, float]]]:
        """Trim every plant; return the trims and each plant's last run (out, shots, energy residual)."""
        high = trim_high_K(self.brief, self.user_C)
        trims = [
            Trim(
                plant.setting.first_K(self.user_C),
                TRIM_LOW_K,
                high,
                plant.setting.per_user_K,
                at.P_FLUSH_M3 in plant.parameters,
            )
            for plant in self.pool.plants
        ]
        last: dict[int, tuple[Floats, Floats, float]] = {}
        shots = fig.shot_count(self.brief)
        active = list(range(self.count))
        for _ in range(max(trim.most_runs for trim in trims)):
            if not active:
                break
            ran = self.pool.run([Request(i, self.user_C, trims[i].offset_K, NOMINAL) for i in active])
            left = self._residuals(active, ran)
            for k, i in enumerate(active):
                last[i] = (ran.out[k], ran.shots[k], left[k])
                done = int(np.count_nonzero(ran.shots[k, :shots, at.H_SECONDS]))
                self.failed.pop(i, None)
                if ran.out[k, at.O_CODE] != DONE:
                    self.failed[i] = (ran.out[k, at.O_CODE], ran.out[k, at.O_SHORTFALL])
                    if not trims[i].jumps or done == 0:
                        continue
                # What fails at one set-point may do at the next, where the set-point also steams or flushes.
                trims[i].note(float(np.mean(ran.shots[k, :done, at.H_MEAN])))
            active = [i for i in active if self._goes_on(trims[i], i in self.failed)]
        return trims, last

    @staticmethod
    def _goes_on(trim: Trim, failed: bool) -> bool:
        """Say whether a plant takes another trim run."""
        noted = bool(trim.tried) and (not failed or trim.jumps)
        return noted and not trim.done and not trim.given_up

    def _live_a_day(self, trims: list[Trim], nominal: dict[int, tuple[Floats, Floats, float]]) -> None:
        """Put the nominal machines through the later sessions of their day, where the duty has some."""
        if self.brief.duty.sessions == 1:
            return
        fit = [i for i in range(self.count) if i not in self.failed and trims[i].done]
        requests = [Request(i, self.user_C, trims[i].offset_K, NOMINAL) for i in fit]
        if not fit:
            return
        ran = self.pool.run(requests)
        self.pool.live_a_day(requests, ran)
        for k, i in enumerate(fit):
            nominal[i] = (ran.out[k], *nominal[i][1:])
            if ran.out[k, at.O_CODE] != DONE:
                self.failed[i] = (ran.out[k, at.O_CODE], ran.out[k, at.O_SHORTFALL])

    def set_point_errors(
        self, fit: Iterable[int], trims: list[Trim]
    ) -> tuple[dict[int, float], dict[int, float]]:
        """Return the mean error of settled shots at the ends of the user's range, by plant."""
        plants = list(fit)
        ends = {i: self.range_C(i) for i in plants}
        errors: list[dict[int, float]] = []
        for end in (0, 1):
            requests = [Request(i, ends[i][end], trims[i].offset_K, NOMINAL, settled=True) for i in plants]
            ran = self.pool.run(requests) if requests else None
            errors.append(
                {i: fig.settled_error(ran.shots[k], SETTLED_SHOTS) for k, i in enumerate(plants)}
                if ran
                else {}
            )
        return errors[0], errors[1]

    def range_C(self, plant: int) -> tuple[float, float]:
        """Return the ends of the set-points that the user of a plant has [°C]."""
        return set_point_range_C(self.brief, self.pool.plants[plant].setting.narrow_K)

    def machines(self, fit: Sequence[int], trims: list[Trim]) -> dict[int, Ran]:
        """Run every machine of the batch for every plant; return each plant's runs."""
        scatter = self.brief.machines()
        count = self.brief.tolerances.samples
        if count == 0 or not fit:
            return {}
        machines = [{name: float(values[k]) for name, values in scatter.items()} for k in range(count)]
        requests = [Request(i, self.user_C, trims[i].offset_K, machine) for i in fit for machine in machines]
        ran = self.pool.run(requests)
        self.pool.live_a_day(requests, ran)
        return {
            i: Ran(
                ran.out[k * count : (k + 1) * count],
                ran.shots[k * count : (k + 1) * count],
                ran.final_C[k * count : (k + 1) * count],
                ran.record,
            )
            for k, i in enumerate(fit)
        }

    def _residuals(self, plants: Sequence[int], ran: Ran) -> Floats:
        built = [self.pool.plants[i] for i in plants]
        return residuals(
            self.pool.topology.stores,
            np.array([plant.network.sizes for plant in built]),
            np.array([plant.parameters.get(at.P_STEAM_M3, 0.0) for plant in built]),
            np.full(len(built), self.brief.site.ambient_C),
            ran.out,
            ran.final_C,
        )

    def _row(
        self,
        i: int,
        trim: Trim,
        nominal: tuple[Floats, Floats, float],
        errors: tuple[float, float],
        batch: Ran | None,
    ) -> Row:
        plant, brief = self.pool.plants[i], self.brief
        out, shots, residual = nominal
        values = fig.objectives(out, shots, plant, brief)
        margins = fig.run_margins(out, plant, brief)
        rated = dict(values)
        if batch is not None:
            bad = batch.out[:, at.O_CODE] != DONE
            rated, margins = _over_batch(batch, plant, brief, values["part_cost"])
            if not np.isfinite(rated["warm_up_s"]):
                worst = int(np.argmax(np.where(bad, batch.out[:, at.O_SHORTFALL], -1.0)))
                return _failed_row(batch.out[worst, at.O_CODE], batch.out[worst, at.O_SHORTFALL])
        margins |= plant_margins(plant, brief, trim.offset_K)
        margins["margin_setpoint_K"] = brief.limits.setpoint_K - max(map(abs, errors))
        margins["margin_trim_K"] = fig.trim_margin(trim.offset_K, self.user_C, brief)
        feasible = all(value >= 0.0 for value in margins.values() if value is not None)
        return {
            **rated,
            **{f"{name}_nominal": values[name] for name in OBJECTIVES},
            **fig.run_figures(out, plant, brief),
            **fig.shot_figures(shots, brief),
            **plant_figures(plant, brief, trim.offset_K),
            "error_low_K": errors[0],
            "error_high_K": errors[1],
            "trim_offset_K": trim.offset_K + 0.0,  # no -0.0
            "trim_residual_K": trim.bias_K,
            "trim_runs": float(len(trim.tried)),
            "energy_residual": float(residual),
            **margins,
            **_verdict(None, 0.0, feasible=feasible),
        }


def _over_batch(
    batch: Ran, plant: Plant, brief: Brief, part_cost: float
) -> tuple[dict[str, float], fig.Figures]:
    """Return robust objectives and margins over the machines of a batch, whose parts cost the same."""
    share = brief.tolerances.share
    each = [
        {**fig.run_objectives(out, shots, brief), "part_cost": part_cost}
        if out[at.O_CODE] == DONE
        else dict.fromkeys(OBJECTIVES, inf)
        for out, shots in zip(batch.out, batch.shots, strict=True)
    ]
    rated = {name: robust(np.array([one[name] for one in each]), share) for name in OBJECTIVES}
    done = [out for out in batch.out if out[at.O_CODE] == DONE]
    slack = [fig.run_margins(out, plant, brief) for out in done]
    missing = [-inf] * (len(batch.out) - len(done))
    margins: fig.Figures = {}
    for name in slack[0] if slack else ():
        if slack[0][name] is None:
            margins[name] = None
            continue
        values = np.array([one[name] for one in slack] + missing, dtype=np.float64)
        worst = name in fig.WORST_OF_ALL
        margins[name] = float(np.min(values[np.isfinite(values)])) if worst else robust_margin(values, share)
    return rated, margins


def _failed_row(code: float, shortfall: float) -> Row:
    number = int(code)
    if number in FAULTS:
        return _verdict(None, 0.0, fault=FAULTS[number])
    return _verdict(REASONS[number], float(shortfall))


def _verdict(
    reason: str | None, shortfall: float, *, feasible: bool = False, fault: str | None = None
) -> Row:
    return {"feasible": feasible, "reason": reason, "shortfall": shortfall, "fault": fault}
