"""Runs of designs through the duty: from plants, machines of the batch and set-points to the kernel and back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import floor
from typing import NamedTuple

import numpy as np

from boilerfront.model.assemblies.group_head import group_surface
from boilerfront.model.assemblies.plant import CIRCUITS, Plant
from boilerfront.model.brief import Brief
from boilerfront.model.kernel import layout as at
from boilerfront.model.kernel.arrays import Net, Results, Runs
from boilerfront.model.kernel.bands import BREW_ABOVE_K, BREW_BELOW_K
from boilerfront.model.kernel.codes import DONE
from boilerfront.model.kernel.compile_step import Advance, compiled_step
from boilerfront.model.kernel.control import flicker_rate
from boilerfront.model.kernel.cooling import cool_down
from boilerfront.model.kernel.march import march
from boilerfront.model.kernel.straight_line import write_step
from boilerfront.model.network.graph import Network, Topology, topology
from boilerfront.model.parts import group
from boilerfront.model.props.air import pressure_at_altitude
from boilerfront.model.props.water import density, saturation_temperature
from boilerfront.model.scatter import Links, correct, scatter_powers
from boilerfront.model.tolerances import NOMINAL
from boilerfront.shared.shapes import Floats, Ints

SETTLE_S = 300
"""A settled run idles this long before its first shot."""
SETTLED_SHOTS = 4
SETTLED_EVERY_S = 60
BREW_BOILING_K = 2.0
"""Least distance of brew water from boiling at the idle line's pressure (definitions: margin_brew_boiling_K)."""
TRIM_LOW_K = -5.0
BELOW_BOILING_K = 2.0
FINE_STEPS = 4
"""Steps a second in a draw."""
PLACES = {
    "brew": (at.P_BREW_W, at.P_BREW_GAIN, at.P_BREW_RESETS_A_S, at.P_BREW_LAG_S),
    "group": (at.P_GROUP_W, at.P_GROUP_GAIN, at.P_GROUP_RESETS_A_S, at.P_GROUP_LAG_S),
    "steam": (at.P_STEAM_W, at.P_STEAM_GAIN, at.P_STEAM_RESETS_A_S, at.P_STEAM_LAG_S),
}
"""Where the kernel has a circuit's power, gain, resets a second and sensor lag."""
DRAWN = {
    "brew": (at.P_BREW_A, at.P_PER_BREW_W, at.P_BREW_FLICKER),
    "group": (at.P_GROUP_A, at.P_PER_GROUP_W, at.P_GROUP_FLICKER),
    "steam": (at.P_STEAM_A, at.P_PER_STEAM_W, at.P_STEAM_FLICKER),
}
"""Where the kernel has a circuit's current, one over its power, and its flicker rate."""
CALM_SPAN_S = 16
"""Samples that share one step in calm idling."""


@dataclass(frozen=True)
class Request:
    """One run of a plant (by its number): which machine of the batch, which set-points, which protocol."""

    plant: int
    user_C: float
    offset_K: float
    machine: Mapping[str, float]
    settled: bool = False
    start_C: Floats | None = None
    """Temperatures of the nodes at switch-on; by default those of the room."""


@dataclass(frozen=True)
class Ran:
    """What came of runs, in the order of the requests; see `kernel.layout` for the columns."""

    out: Floats
    shots: Floats
    final_C: Floats
    record: Floats


def boiling_C(brief: Brief) -> float:
    """Return the boiling point of open water at the site [°C]."""
    return saturation_temperature(pressure_at_altitude(brief.site.altitude_m))


def set_point_range_C(brief: Brief, narrow_K: float | None = None) -> tuple[float, float]:
    """Return the ends of the user's set-point range [°C], in whole degrees.

    Altitude cuts the top a kelvin below boiling, and takes the bottom along where it must. A machine may let its
    user go no further than `narrow_K` from the default.
    """
    top = min(float(brief.duty.set_point_high_C), floor(boiling_C(brief) - 1.0))
    low = min(float(brief.duty.set_point_low_C), top - 1.0)
    if narrow_K is None:
        return low, top
    default = default_user_C(brief)
    return max(low, default - narrow_K), min(top, default + narrow_K)


def default_user_C(brief: Brief) -> float:
    """Return the user's set-point at which shots are rated [°C].

    Under a top that altitude has cut, a kelvin lower: a shot's own spread must not boil.
    """
    top = set_point_range_C(brief)[1]
    cut = top < brief.duty.set_point_high_C
    return min(brief.duty.default_set_point_C, top - 1.0 if cut else top)


def trim_high_K(brief: Brief, user_C: float) -> float:
    """Return the highest offset: the boiler stays below boiling of the idle line."""
    idle_Pa = 1e5 * brief.machine.brew_water.idle_line_bar
    return saturation_temperature(idle_Pa) - BELOW_BOILING_K - user_C


class Kind(NamedTuple):
    """What all machines of an architecture share: topology, its bare arrays, its written-out step."""

    topology: Topology
    net: Net
    advance: Advance


_TOPOLOGIES: dict[str, Kind] = {}


def kind_of(name: str, network: Network) -> Kind:
    """Return what the machines of an architecture share; worked out once a process."""
    if name not in _TOPOLOGIES:
        fixed = topology(network)
        net = Net(
            stores=fixed.stores,
            links=fixed.links,
            flows=fixed.flows,
            roles=fixed.roles,
            laws=fixed.laws,
            ranges=np.array([*fixed.layers, *fixed.coil, *fixed.held, *fixed.block], dtype=np.int64),
        )
        _TOPOLOGIES[name] = Kind(fixed, net, compiled_step(write_step(fixed)))
    return _TOPOLOGIES[name]


def forget_kinds(name: str) -> None:
    """Forget what the machines of an architecture share: its name is free for another one."""
    _TOPOLOGIES.pop(name, None)


class Pool:
    """Plants of one architecture under one brief, ready to be run."""

    def __init__(
        self,
        plants: Sequence[Plant],
        brief: Brief,
        *,
        fine_steps: int = FINE_STEPS,
        calm_s: int = CALM_SPAN_S,
    ) -> None:
        self.plants = plants
        self.brief = brief
        self.topology, self.net, self.advance = kind_of(plants[0].design.architecture, plants[0].network)
        self._sizes = np.array([plant.network.sizes for plant in plants])
        self._laws = np.array([plant.laws for plant in plants])
        self._refill = np.array([plant.refill_C for plant in plants])
        self._numbers = [np.array(plant.network.numbers) for plant in plants]
        self._base = [_parameters(plant, brief, fine_steps, calm_s).tolist() for plant in plants]
        self._default_C = default_user_C(brief)
        self._group_surface = group_surface(brief)
        self._links = Links(plants[0].network)
        self._corrections = {} if brief.calibration is None else brief.calibration.machine()
        self._queues, self._counts = _queues(brief)
        kinds = self._queues[:, :, at.E_KIND] == at.KIND_SHOT
        self._most_shots = int(np.max(np.sum(kinds, axis=1)))

    def run(self, requests: Sequence[Request], *, record: bool = False) -> Ran:
        """March the requested runs; a record is kept of the first one only."""
        runs = self.arrays(requests)
        count = len(requests)
        nodes = len(self.topology.names)
        results = Results(
            out=np.zeros((count, at.NO)),
            shots=np.zeros((count, self._most_shots, at.NH)),
            final_C=np.zeros((count, nodes)),
            record=np.zeros((at_most_rows() if record else 0, at.NR + nodes)),
            record_rows=np.zeros(1, dtype=np.int64),
        )
        march(self.advance, self.net, runs, results)
        return Ran(results.out, results.shots, results.final_C, results.record[: results.record_rows[0]])

    def arrays(self, requests: Sequence[Request]) -> Runs:
        """Return the kernel's arrays of the requested runs."""
        links = len(self.plants[0].network.links)
        parameters = np.array([self._request_parameters(request) for request in requests])
        return Runs(
            design=np.array([request.plant for request in requests], dtype=np.int64),
            queue=np.array([int(request.settled) for request in requests], dtype=np.int64),
            parameters=parameters,
            numbers=np.array([self._request_numbers(request) for request in requests]).reshape(-1, links, 3),
            sizes=self._sizes,
            laws=self._laws,
            refill_C=self._refill,
            events=self._queues,
            event_counts=self._counts,
            start_C=self._starts(requests, parameters),
        )

    def _starts(self, requests: Sequence[Request], parameters: Floats) -> Floats:
        """Return where each run begins [runs, nodes]."""
        starts = np.repeat(parameters[:, at.P_ROOM_C : at.P_ROOM_C + 1], len(self.topology.names), axis=1)
        for k, request in enumerate(requests):
            if request.start_C is not None:
                starts[k] = request.start_C
        return starts

    def live_a_day(self, requests: Sequence[Request], ran: Ran) -> None:
        """Note in the results of cold-started runs what each later session of the duty's day takes.

        After the last event and the gap, in which it cools down, a machine is put through the duty again; further
        sessions are like the second. What fails then fails as a whole. With one session nothing is done.
        """
        duty = self.brief.duty
        through = np.flatnonzero(ran.out[:, at.O_CODE] == DONE)
        if duty.sessions == 1 or not len(through):
            return
        again = [requests[int(k)] for k in through]
        cooled = ran.final_C[through].copy()
        weights = np.ascontiguousarray(ran.out[through, at.O_STEAM_END_KG])
        cool_down(self.advance, self.net, self.arrays(again), weights, duty.session_gap_s, cooled)
        later = self.run([replace(each, start_C=start) for each, start in zip(again, cooled, strict=True)])
        ran.out[through, at.O_LATER_J] = later.out[:, at.O_ENERGY_J]
        ran.out[through, at.O_LATER_S] = later.out[:, at.O_END_S]
        failed = through[later.out[:, at.O_CODE] != DONE]
        for place in (at.O_CODE, at.O_SHORTFALL):
            ran.out[failed, place] = later.out[later.out[:, at.O_CODE] != DONE, place]

    def _set_point_C(self, request: Request) -> float:
        """Return the set-point of the circuit that the factory trims."""
        moved = self.plants[request.plant].setting.per_user_K * (request.user_C - self._default_C)
        return self._default_C + moved + request.offset_K

    def _request_parameters(self, request: Request) -> list[float]:
        p: list[float] = self._base[request.plant].copy()
        site = self.brief.site
        machine = {**NOMINAL, **self._corrections, **request.machine}
        trimmed = self.plants[request.plant].setting.circuit
        # A loop holds what its sensor reads: reality then lies beside the set-point by the sensor's error.
        brew_C = self._set_point_C(request) - machine[f"{trimmed}_sensor"]
        group_C = request.user_C + self.brief.machine.group.offset_K - machine["group_sensor"]
        p[at.P_STEAM_SET_C] -= machine["steam_sensor"]
        p[at.P_ROOM_C] += machine["ambient"]
        correct(p, machine)
        scatter_powers(p, machine)
        inlet_C = site.inlet_C + machine["inlet"]
        p[at.P_INLET_C] = inlet_C
        p[at.P_VOLTAGE_V] = site.voltage_V * machine["mains"]
        p[at.P_POWER_FACTOR] = machine["mains"] ** 2
        p[at.P_FLOW_FACTOR] = machine["flow"]
        p[at.P_IMMERSED_FACTOR] = machine["coil_immersed"]
        p[at.P_INLET_RHO] = density(inlet_C)
        p[at.P_REFILL_KG_S] = 1e-6 * self.brief.machine.steam_vessel.refill_mL_s * density(inlet_C)
        p[at.P_USER_C] = request.user_C
        p[at.P_BREW_SET_C] = brew_C
        if trimmed == "steam":
            p[at.P_STEAM_SET_C] = brew_C
        p[at.P_GROUP_SET_C] = group_C
        heater_W = p[at.P_GROUP_W] * p[at.P_POWER_FACTOR]
        link = group.link_W_K(self.plants[request.plant].design, self.brief.machine.group)
        p[at.P_GROUP_REACH_C] = group.reach_C(
            link, heater_W, brew_C, group_C, p[at.P_ROOM_C], self._group_surface
        )
        p[at.P_SETTLED] = float(request.settled)
        p[at.P_PUMP_A] = p[at.P_PUMP_W] / p[at.P_VOLTAGE_V]
        p[at.P_ELECTRONICS_A] = p[at.P_ELECTRONICS_W] / p[at.P_VOLTAGE_V]
        for name, circuit in self.plants[request.plant].circuits.items():
            amperes, per_watt, flicker = DRAWN[name]
            power_W = p[PLACES[name][0]]
            p[amperes] = power_W * p[at.P_POWER_FACTOR] / p[at.P_VOLTAGE_V]
            p[per_watt] = 1.0 / power_W if power_W > 0.0 else 0.0
            p[flicker] = flicker_rate(p[amperes], p[at.P_VOLTAGE_V], circuit.window_s)
        return p

    def _request_numbers(self, request: Request) -> Floats:
        machine = {**self._corrections, **request.machine}
        return self._links.scattered(self._numbers[request.plant], machine)


def at_most_rows() -> int:
    """Return how many rows a record may have: four steps a second for four hours."""
    return 4 * 14_400


def _parameters(plant: Plant, brief: Brief, fine_steps: int, calm_s: int) -> Floats:
    """Return the parameters that do not change between runs of a plant."""
    p = np.zeros(at.NP)
    machine, site, duty = brief.machine, brief.site, brief.duty
    control, wand = machine.control, machine.wand
    p[at.P_ROOM_C] = site.ambient_C
    p[at.P_AMBIENT_PA] = pressure_at_altitude(site.altitude_m)
    p[at.P_LIMIT_A] = site.current_limit_A
    p[at.P_PUMP_W] = control.pump_W
    p[at.P_ELECTRONICS_W] = control.electronics_W
    p[at.P_BREW_LAG_S], p[at.P_GROUP_LAG_S] = control.brew_lag_s, control.group_lag_s
    p[at.P_STEAM_LAG_S] = control.steam_lag_s
    for name in CIRCUITS:
        power, gain, resets, lag = PLACES[name]
        if name in plant.circuits:
            circuit = plant.circuits[name]
            p[power], p[gain], p[resets] = circuit.power_W, circuit.loop.gain_W_K, 1.0 / circuit.loop.reset_s
            p[lag] = circuit.sensor_lag_s
    p[at.P_TRACKING] = 1.0 / control.tracking_to_reset
    p[at.P_FILL_M3_S] = 1e-6 * duty.fill_mL_s
    p[at.P_FILL_S], p[at.P_RAMP_S], p[at.P_WINDOW_S] = duty.fill_s, duty.ramp_s, duty.window_start_s
    vessel = machine.steam_vessel
    p[at.P_WAND_M2] = wand.discharge * wand.holes * np.pi / 4.0 * (1e-3 * wand.hole_mm) ** 2
    p[at.P_WAND_LOSS] = wand.pressure_loss
    p[at.P_DRYNESS] = vessel.dryness
    p[at.P_MILK_J] = duty.steam_heat_J
    p[at.P_MILK_FROM_C], p[at.P_MILK_TO_C] = duty.milk_from_C, duty.milk_to_C
    p[at.P_PORTAFILTER_OFF_S] = duty.portafilter_off_s
    p[at.P_PORTAFILTER_COLD] = float(duty.portafilter == "cold")
    p[at.P_COUNTS_ALL] = float(brief.warm_up.counts == "all")
    p[at.P_WAIT_LIMIT_S] = brief.limits.wait_s
    p[at.P_BREW_BELOW_K], p[at.P_BREW_ABOVE_K] = BREW_BELOW_K, BREW_ABOVE_K
    p[at.P_STEAM_KEPT] = 1.0
    p[at.P_FINE], p[at.P_CALM_S] = fine_steps, calm_s
    p[list(plant.parameters)] = list(plant.parameters.values())
    return p


def _queues(brief: Brief) -> tuple[Floats, Ints]:
    """Return the events of the duty and of the settled runs [2, events, NE], and how many each has."""
    duty = brief.duty
    nominal = duty.flows["nominal"]
    settled = [
        (at.KIND_SHOT, SETTLE_S + SETTLED_EVERY_S * i, at.NEVER, 1e-6 * nominal.steady_mL_s, nominal.stop_s)
        for i in range(SETTLED_SHOTS)
    ]
    rows = []
    for event in duty.events:
        kind = at.KIND_SHOT if event.kind == "shot" else at.KIND_STEAM
        flow = duty.flows[event.flow]
        at_s = at.NEVER if event.at_s is None else event.at_s
        after_s = at.NEVER if event.after_s is None else event.after_s
        rows.append((kind, at_s, after_s, 1e-6 * flow.steady_mL_s, flow.stop_s))
    length = max(len(rows), len(settled))
    queues = np.zeros((2, length, at.NE))
    queues[0, : len(rows)] = rows
    queues[1, : len(settled)] = settled
    return queues, np.array([len(rows), len(settled)], dtype=np.int64)
