"""The service protocol that every design is put through: a queue of shots and steam events."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from boilerfront.shared.schema import Section

DAY_S = 86_400.0
Positive = Annotated[float, Field(gt=0)]


class Flow(Section):
    """A way of pulling a shot: steady flow [mL/s] and time of the pump's stop after its start [s]."""

    steady_mL_s: Annotated[float, Field(gt=0, le=8)]
    stop_s: Annotated[int, Field(ge=12, le=120)]


class Event(Section):
    """One event of the queue, planned `at_s` after ready or `after_s` after the last pump stop."""

    kind: Literal["shot", "steam"] = "shot"
    flow: str = "nominal"
    at_s: Annotated[int | None, Field(ge=0, le=20000)] = None
    after_s: Annotated[int | None, Field(ge=600, le=20000)] = None

    @model_validator(mode="after")
    def _one_time(self) -> Self:
        if (self.at_s is None) == (self.after_s is None):
            raise ValueError("exactly one of at_s and after_s")
        return self


def _default_flows() -> dict[str, Flow]:
    return {
        "nominal": Flow(steady_mL_s=1.55, stop_s=28),
        "fast": Flow(steady_mL_s=2.40, stop_s=20),
        "slow": Flow(steady_mL_s=0.95, stop_s=40),
    }


def _default_events(*, milk: bool = True) -> tuple[Event, ...]:
    shots = ((60, "nominal"), (210, "fast"), (360, "slow"))
    back_to_back = (575, 630, 685, 740)
    steaming = (Event(kind="steam", at_s=510),) if milk else ()
    return (
        *(Event(at_s=at, flow=flow) for at, flow in shots),
        *steaming,
        *(Event(at_s=at) for at in back_to_back),
        Event(after_s=1200),
    )


class Duty(Section):
    """Fill, steady flows, the queue of events and the user's set-point range.

    Values are our judgement: see the comments of the starters.
    """

    fill_mL_s: Annotated[float, Field(gt=0, le=10)] = 5.2
    fill_s: Annotated[int, Field(ge=1, le=10)] = 4
    ramp_s: Annotated[int, Field(ge=1, le=10)] = 3
    """Linear change from the fill flow to the steady flow [s]."""
    window_start_s: Annotated[int, Field(ge=2, le=10)] = 6
    """The shot's error is rated from here to the pump stop [s after pump start]."""
    flows: dict[str, Flow] = Field(default_factory=_default_flows)
    steam_boiler: Literal["on", "off"] = "on"
    """off: the user holds it off and steams no milk. A machine that brews through its only boiler heats it all the
    same."""
    events: tuple[Event, ...] = Field(default_factory=_default_events)
    portafilter: Literal["locked", "cold"] = "locked"
    """locked in from switch-on, or locked in cold for each shot."""
    portafilter_off_s: Annotated[int, Field(ge=0, le=60)] = 20
    """How long the portafilter is off after each shot [s]."""
    milk_g: Annotated[float, Field(ge=0, le=1000)] = 206.0
    milk_heat_capacity_J_gK: Positive = 3.93
    milk_from_C: Annotated[float, Field(ge=1, le=30)] = 5.0
    milk_to_C: Annotated[float, Field(ge=40, le=75)] = 65.0
    jug_J: Annotated[float, Field(ge=0)] = 4000.0
    user_set_point_C: Annotated[float | None, Field(ge=80, le=98)] = None
    """The user's brew set-point; by default 93 °C or the top of the range, whichever is lower."""
    sessions: Annotated[int, Field(ge=1, le=6)] = 1
    """How often a day the machine is switched on and put through the events."""
    session_gap_s: Annotated[float, Field(ge=60, le=86_400)] = 14_400.0
    """From switching off until switching on again [s]: the machine begins as warm as it then still is."""
    set_point_low_C: Annotated[int, Field(ge=80, le=98)] = 86
    set_point_high_C: Annotated[int, Field(ge=80, le=98)] = 96

    @model_validator(mode="before")
    @classmethod
    def _without_milk(cls, data: object) -> object:
        """Leave the milk out of the default events where the steam boiler is off."""
        if isinstance(data, Mapping) and data.get("steam_boiler") == "off" and "events" not in data:
            return {**data, "events": _default_events(milk=False)}
        return data

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        faults = [
            f"events[{index}].flow: '{event.flow}' is not one of {', '.join(self.flows)}"
            for index, event in enumerate(self.events)
            if event.flow not in self.flows
        ]
        if "nominal" not in self.flows:
            faults.append("flows needs 'nominal': the set-point check uses it")
        if not any(event.kind == "shot" for event in self.events):
            faults.append("events needs at least one shot")
        if self.steam_boiler == "off" and any(event.kind == "steam" for event in self.events):
            faults.append('events steam milk, which steam_boiler = "off" cannot')
        if not any(event.after_s is not None for event in self.events):
            faults.append("events needs one with after_s: holding power is measured in the idling before it")
        if self.events and self.events[0].after_s is not None:
            faults.append("the first event cannot be planned after a pump stop")
        times = [event.at_s for event in self.events if event.at_s is not None]
        if times != sorted(times):
            faults.append("events must stand in the order of their times")
        if self.set_point_low_C >= self.set_point_high_C:
            faults.append("set_point_low_C must be below set_point_high_C")
        user = self.user_set_point_C
        if user is not None and not self.set_point_low_C <= user <= self.set_point_high_C:
            faults.append(
                f"user_set_point_C {user:g} must lie within {self.set_point_low_C} to {self.set_point_high_C}"
            )
        if (self.sessions - 1) * self.session_gap_s >= DAY_S:
            faults.append(
                f"{self.sessions} sessions with gaps of {self.session_gap_s:g} s are more than a day"
            )
        if faults:
            raise ValueError("; ".join(faults))
        return self

    @property
    def steam_heat_J(self) -> float:
        """Return the heat that one steam event gives to milk and jug [J]."""
        rise_K = self.milk_to_C - self.milk_from_C
        return self.milk_g * self.milk_heat_capacity_J_gK * rise_K + self.jug_J

    @property
    def default_set_point_C(self) -> float:
        """Return the set-point at which shots are rated [°C], before any cut by altitude."""
        return (
            min(93.0, float(self.set_point_high_C))
            if self.user_set_point_C is None
            else self.user_set_point_C
        )


def mean_flow_mL_s(duty: Duty) -> float:
    """Return the nominal shot's mean flow from pump start to pump stop [mL/s]."""
    flow = duty.flows["nominal"]
    ramp = 0.5 * (duty.fill_mL_s + flow.steady_mL_s)
    steady_s = flow.stop_s - duty.fill_s - duty.ramp_s
    return (duty.fill_mL_s * duty.fill_s + ramp * duty.ramp_s + flow.steady_mL_s * steady_s) / flow.stop_s
