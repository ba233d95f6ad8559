"""The driver as a pure machine: what it asks for, in which order, whatever the workers do."""

from __future__ import annotations

import random
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boilerfront.jobs.driver import (
    UNEXPLAINED,
    UNEXPLAINED_DEATHS,
    Begin,
    CloseGeneration,
    Driver,
    Event,
    Finish,
    Instruction,
    PlanGeneration,
    Planned,
    StopAsked,
    Store,
    StoreFault,
    Submit,
    Task,
    TaskDone,
    TaskLost,
    Tick,
)
from boilerfront.jobs.plan import Generations, Plan


class Machine:
    """Carries instructions out in memory, with a clock of its own; workers answer when told to."""

    def __init__(self, driver: Driver, workers: int = 2, kinds: int = 1) -> None:
        self.driver = driver
        self.kinds = kinds
        self.now = 0.0
        self.log: list[Instruction] = []
        self.flying: list[Task] = []
        self.stored: list[int] = []
        self.give(Begin(self.now, workers))

    def give(self, event: Event) -> Sequence[Instruction]:
        instructions = self.driver.handle(event)
        self.log += instructions
        for instruction in instructions:
            match instruction:
                case PlanGeneration(generation, missing):
                    self.give(
                        Planned(generation, [missing[kind :: self.kinds] for kind in range(self.kinds)])
                    )
                case Submit(task):
                    self.flying.append(task)
                case Store(task, _) | StoreFault(task, _):
                    self.stored += task.trials
        return instructions

    def finish(self, which: int = 0, seconds: float = 1.0) -> None:
        self.now += seconds
        task = self.flying.pop(which)
        self.give(TaskDone(self.now, task, [{"trial": trial} for trial in task.trials]))

    def lose(self, which: int = 0, cause: str | None = None) -> Task:
        task = self.flying.pop(which)
        self.give(TaskLost(self.now, task, cause))
        return task

    def run(self) -> None:
        while self.flying:
            self.finish()

    @property
    def outcome(self) -> str | None:
        ends = [each.outcome for each in self.log if isinstance(each, Finish)]
        assert len(ends) <= 1
        return ends[0] if ends else None

    def order(self) -> list[tuple[str, int]]:
        names = {PlanGeneration: "plan", CloseGeneration: "close"}
        return [
            (names[type(each)], each.generation)
            for each in self.log
            if isinstance(each, PlanGeneration | CloseGeneration)
        ]


def plan(budget: int = 40, done: frozenset[int] = frozenset()) -> Plan:
    return Plan(Generations(10), budget, done)


def test_an_undisturbed_run_evaluates_every_trial_once() -> None:
    machine = Machine(Driver(plan()))
    machine.run()
    assert sorted(machine.stored) == list(range(40))
    assert machine.outcome == "finished"


def test_without_lag_a_generation_waits_for_the_one_before() -> None:
    machine = Machine(Driver(plan(20), lag=0))
    machine.run()
    assert machine.order() == [("plan", 0), ("close", 0), ("plan", 1), ("close", 1)]


def test_with_a_lag_of_one_the_next_generation_is_planned_while_one_runs() -> None:
    machine = Machine(Driver(plan(30), lag=1))
    machine.run()
    expected = [("plan", 0), ("plan", 1), ("close", 0), ("plan", 2), ("close", 1), ("close", 2)]
    assert machine.order() == expected


def test_the_first_generations_wait_for_all_before_them() -> None:
    machine = Machine(Driver(plan(40), lag=1, ahead_from=2))
    machine.run()
    early = [("plan", 0), ("close", 0), ("plan", 1), ("plan", 2), ("close", 1), ("plan", 3)]
    assert machine.order() == [*early, ("close", 2), ("close", 3)]


@given(
    seed=st.integers(0, 10**6), lag=st.integers(0, 2), ahead_from=st.integers(0, 4), workers=st.integers(1, 5)
)
def test_the_order_of_planning_and_closing_never_depends_on_the_workers(
    seed: int, lag: int, ahead_from: int, workers: int
) -> None:
    reference = Machine(Driver(plan(57), lag=lag, ahead_from=ahead_from), workers=1)
    reference.run()
    machine = Machine(Driver(plan(57), lag=lag, ahead_from=ahead_from), workers)
    draw = random.Random(seed)
    while machine.flying:
        which = draw.randrange(len(machine.flying))
        if draw.random() < 0.3:
            machine.lose(which)
        else:
            machine.finish(which)
    assert machine.order() == reference.order()
    assert sorted(machine.stored) == list(range(57))
    assert machine.outcome == "finished"


def test_a_resumed_run_asks_only_for_what_is_missing() -> None:
    machine = Machine(Driver(plan(40, frozenset(range(17)))))
    machine.run()
    assert sorted(machine.stored) == list(range(17, 40))
    assert machine.order()[0] == ("plan", 0)


def test_a_finished_run_has_nothing_to_send() -> None:
    machine = Machine(Driver(plan(40, frozenset(range(40)))))
    assert machine.flying == []
    assert machine.outcome == "finished"


def test_a_generation_cut_by_the_budget_is_not_told() -> None:
    machine = Machine(Driver(plan(25)))
    machine.run()
    closes = [each for each in machine.log if isinstance(each, CloseGeneration)]
    assert [each.tell for each in closes] == [True, True, False]


def test_more_budget_goes_on_as_if_asked_for_at_once() -> None:
    short = Machine(Driver(plan(25)))
    short.run()
    longer = Machine(Driver(plan(40, frozenset(short.stored))))
    longer.run()
    whole = Machine(Driver(plan(40)))
    whole.run()
    assert sorted(short.stored + longer.stored) == sorted(whole.stored)
    assert longer.order() == whole.order()


def test_a_lost_task_is_cut_in_two() -> None:
    machine = Machine(Driver(plan(10)), workers=1)
    lost = machine.lose()
    again = [each.task.trials for each in machine.log if isinstance(each, Submit)][-1]
    assert again == lost.trials[: len(lost.trials) // 2]
    machine.run()
    assert sorted(machine.stored) == list(range(10))


def test_a_suspect_runs_alone() -> None:
    machine = Machine(Driver(plan(4), lag=0), workers=2)
    assert [task.trials for task in machine.flying] == [(0,), (1,), (2,), (3,)]
    machine.lose(0, "signal 11")
    assert all(task.trials != (0,) for task in machine.flying)
    for _ in range(3):
        machine.finish()
    assert [task.trials for task in machine.flying] == [(0,)]
    machine.finish()
    assert machine.outcome == "finished"


def crash_alone(machine: Machine, trial: int, causes: Sequence[str | None]) -> None:
    """Let one trial die with these causes, everything else come back."""
    remaining = list(causes)
    while machine.flying:
        hit = [which for which, task in enumerate(machine.flying) if trial in task.trials]
        if hit and len(machine.flying[hit[0]].trials) > 1:
            machine.lose(hit[0], "signal 11")
        elif hit and remaining:
            machine.lose(hit[0], remaining.pop(0))
        else:
            machine.finish()


def faults(machine: Machine) -> list[tuple[int, str]]:
    return [(each.task.trials[0], each.cause) for each in machine.log if isinstance(each, StoreFault)]


def test_a_design_that_kills_its_worker_three_times_is_one_faulty_trial() -> None:
    machine = Machine(Driver(plan(40)))
    crash_alone(machine, 13, ["signal 11"] * 5)
    assert faults(machine) == [(13, "signal 11")]
    assert sorted(machine.stored) == list(range(40))
    assert machine.outcome == "finished"


def test_kills_from_outside_are_repeated() -> None:
    machine = Machine(Driver(plan(40)))
    crash_alone(machine, 13, [None] * (UNEXPLAINED_DEATHS - 1))
    assert faults(machine) == []
    assert sorted(machine.stored) == list(range(40))


def test_a_design_with_which_every_worker_is_lost_does_not_hold_the_run_up_for_ever() -> None:
    """As on a cluster, whose workers' ends nobody explains."""
    machine = Machine(Driver(plan(40)))
    crash_alone(machine, 13, [None] * 100)
    assert faults(machine) == [(13, UNEXPLAINED)]
    assert sorted(machine.stored) == list(range(40))
    assert machine.outcome == "finished"


def test_different_causes_do_not_add_up() -> None:
    machine = Machine(Driver(plan(40)))
    crash_alone(machine, 13, ["signal 11", "signal 6", "signal 11", "signal 6", "signal 6"])
    assert faults(machine) == []


def test_a_task_that_comes_back_after_it_was_given_up_is_not_stored_twice() -> None:
    machine = Machine(Driver(plan(10)), workers=1)
    lost = machine.lose()
    machine.give(TaskDone(1.0, lost, [{"trial": trial} for trial in lost.trials]))
    machine.run()
    assert sorted(machine.stored) == list(range(10))


def test_stop_ends_the_running_generation_and_no_more() -> None:
    machine = Machine(Driver(plan(400)))
    machine.finish()
    machine.give(StopAsked(at_once=False))
    machine.run()
    assert machine.outcome == "stopped"
    assert set(range(10)) <= set(machine.stored)
    assert len(machine.stored) <= 20


def test_stop_before_any_task_is_back_ends_the_generation_all_the_same() -> None:
    machine = Machine(Driver(plan(400), lag=0), workers=1, kinds=5)
    assert sum(len(task.trials) for task in machine.flying) < 10
    machine.give(StopAsked(at_once=False))
    machine.run()
    assert machine.outcome == "stopped"
    assert sorted(machine.stored) == list(range(10))


def test_stop_at_once_waits_only_for_what_is_in_flight() -> None:
    machine = Machine(Driver(plan(400)))
    flying = [trial for task in machine.flying for trial in task.trials]
    machine.give(StopAsked(at_once=True))
    machine.run()
    assert sorted(machine.stored) == sorted(flying)
    assert machine.outcome == "stopped"


def test_a_stop_in_the_last_generation_still_finishes() -> None:
    machine = Machine(Driver(plan(10)))
    machine.give(StopAsked(at_once=False))
    machine.run()
    assert machine.outcome == "finished"


def test_no_generation_starts_that_would_end_after_the_deadline() -> None:
    driver = Driver(plan(4000), deadline=100.0)
    machine = Machine(driver)
    while machine.flying:
        machine.finish(seconds=2.5)  # 4 tasks a generation: 10 s
    assert machine.outcome == "until"
    assert 80.0 <= machine.now <= 100.0


def test_the_deadline_itself_stops_what_has_not_been_sent() -> None:
    machine = Machine(Driver(plan(4000), deadline=100.0))
    machine.now = 150.0
    machine.give(Tick(150.0))
    machine.run()
    assert machine.outcome == "until"


@pytest.mark.parametrize("workers", [1, 3, 8])
def test_two_tasks_a_worker_are_in_flight_and_no_more(workers: int) -> None:
    machine = Machine(Driver(Plan(Generations(96), 960)), workers)
    while machine.flying:
        assert len(machine.flying) <= 2 * workers
        machine.finish()
    assert machine.outcome == "finished"
