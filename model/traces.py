"""One design through the duty, with its traces: temperatures, powers, flows, events."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from boilerfront.model.architectures import ARCHITECTURES
from boilerfront.model.brief import Brief
from boilerfront.model.design import read_design
from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.codes import DONE, REASONS, SENTENCES
from boilerfront.model.markets import design_at
from boilerfront.model.props.water import saturation_pressure
from boilerfront.model.rating import Batch
from boilerfront.model.runs import Pool, Request
from boilerfront.model.tolerances import NOMINAL
from boilerfront.model.variables import Value
from boilerfront.shared.errors import Fault, InputError
from boilerfront.shared.shapes import Floats

PHASES = {
    at.BREWING: "brews again",
    at.HEATING_UP: "heats up for steam",
    at.VENTING: "vents water",
    at.STEAMING: "ready to steam",
    at.REFILLING: "refills",
    at.COOLING: "cools by flushing",
    at.RETURNING: "waits for its band",
}
"""What a machine does that brews and steams with the same heater."""


@dataclass(frozen=True)
class Trace:
    """The nominal machine's course through its last trim run.

    `time_s` [rows] since switch-on; `columns` by public name with units, each [rows]; `events` as (time, what
    begins or ends); `user_set_point_C` what the user set; `ready_s` is None where it never got ready; `verdict` in
    words; a shot is scored from `scored_from_s` after its pump's start.
    """

    time_s: Floats
    columns: dict[str, Floats]
    events: list[tuple[float, str]]
    user_set_point_C: float
    ready_s: float | None
    verdict: str
    scored_from_s: float = 0.0

    def spans(self, what: str) -> list[tuple[float, float]]:
        """Return when each `what` (shot, steam) begins and ends [s]; one that was cut ends with the trace."""
        begins = [time_s for time_s, word in self.events if word == f"{what} begins"]
        ends = [time_s for time_s, word in self.events if word == f"{what} ends"]
        last = [float(self.time_s[-1])] * (len(begins) - len(ends))
        return list(zip(begins, [*ends, *last], strict=True))

    def table(self) -> dict[str, Floats]:
        """Return time and all columns by name."""
        return {"time_s": self.time_s, **self.columns}


def simulate(design: Mapping[str, Value], brief: Brief, *, site: str | None = None) -> Trace:
    """Trim the design's nominal machine and return its traces, of several sites at `site` or the first.

    Raises `InputError` for a bad design or an unknown site.
    """
    sites = brief.by_site()
    if site is not None and site not in brief.sites:
        raise InputError([Fault("site", site, ", ".join(brief.sites) or "none: there is one [site]")])
    name = site or next(iter(sites))
    brief = sites[name]
    read = read_design(design_at(design, name), brief.machine)
    pool = Pool([ARCHITECTURES[read.architecture].build(read, brief)], brief)
    batch = Batch(pool)
    trims, _ = batch.trimmed()
    offset_K = trims[0].tried[-1][0] if trims[0].tried else trims[0].offset_K
    return trace_of(pool, Request(0, batch.user_C, offset_K, NOMINAL))


def trace_of(pool: Pool, request: Request) -> Trace:
    """Return the traces of one run."""
    ran = pool.run([request], record=True)
    out, record = ran.out[0], ran.record
    code = int(out[at.O_CODE])
    verdict = "came through its duty" if code == DONE else SENTENCES.get(REASONS.get(code, ""), "fault")
    ready = float(out[at.O_READY_S])
    return Trace(
        time_s=record[:, at.R_TIME_S],
        columns=_columns(record, pool.topology.names, int(pool.topology.roles[at.N_SCREEN])),
        events=_events(record, ready),
        user_set_point_C=request.user_C,
        ready_s=ready if ready > 0.0 else None,
        verdict=verdict,
        scored_from_s=float(pool.brief.duty.window_start_s),
    )


def _columns(record: Floats, names: tuple[str, ...], screen: int) -> dict[str, Floats]:
    nodes = {f"{name}_C": record[:, at.NR + i] for i, name in enumerate(names)}
    shot = np.where(record[:, at.R_MODE] == at.MODE_SHOT, record[:, at.NR + screen], np.nan)
    return {
        "shot_C": shot,
        "brew_sensor_C": record[:, at.R_BREW_Y],
        "group_sensor_C": record[:, at.R_GROUP_Y],
        "steam_sensor_C": record[:, at.R_STEAM_Y],
        **nodes,
        "brew_power_W": record[:, at.R_BREW_W],
        "group_power_W": record[:, at.R_GROUP_W],
        "steam_power_W": record[:, at.R_STEAM_W],
        "flow_g_s": 1e3 * record[:, at.R_FLOW_KG_S],
        "refill_g_s": 1e3 * record[:, at.R_REFILL_KG_S],
        "steam_flow_g_s": 1e3 * record[:, at.R_WAND_KG_S],
        **({"loop_flow_g_s": 1e3 * record[:, at.R_LOOP_KG_S]} if "riser_C" in nodes else {}),
        **_of_steam(nodes, record),
    }


def _of_steam(nodes: dict[str, Floats], record: Floats) -> dict[str, Floats]:
    """Return pressure and level of a steam boiler, where there is one."""
    if "steam_C" not in nodes:
        return {}
    pressure = np.array([saturation_pressure(t) for t in nodes["steam_C"]])
    return {"steam_pressure_bar": 1e-5 * pressure, "steam_level": record[:, at.R_LEVEL]}


def _events(record: Floats, ready_s: float) -> list[tuple[float, str]]:
    """Return what begins and ends when, from the changes of the mode."""
    events = [(ready_s, "ready")] if ready_s > 0.0 else []
    mode = record[:, at.R_MODE]
    words = {at.MODE_SHOT: "shot", at.MODE_STEAM: "steam", at.MODE_FLUSH: "flush"}
    for row in np.flatnonzero(np.diff(mode)):
        when = float(record[row, at.R_TIME_S])
        if mode[row] != at.MODE_IDLE:
            events.append((when, f"{words[float(mode[row])]} ends"))
        if mode[row + 1] != at.MODE_IDLE:
            events.append((when, f"{words[float(mode[row + 1])]} begins"))
    phase = record[:, at.R_PHASE]
    for row in np.flatnonzero(np.diff(phase)):
        events.append((float(record[row, at.R_TIME_S]), PHASES[int(phase[row + 1])]))
    return sorted(events)
