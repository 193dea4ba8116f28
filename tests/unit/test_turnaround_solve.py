"""The search of the day plan: verified, repeatable, never worse than the rule, and it survives its solver."""

from __future__ import annotations

import time

import pytest

from keyhook.errors import BadInput, NoPlan
from keyhook.turnaround import exact
from keyhook.turnaround.anneal import Annealer, Limits, anneal
from keyhook.turnaround.checker import violations
from keyhook.turnaround.decoder import decode, genes_for, lay_out
from keyhook.turnaround.dispatch import dispatch
from keyhook.turnaround.events import ReturnsAt
from keyhook.turnaround.generate import generate_day
from keyhook.turnaround.plan import Plan
from keyhook.turnaround.problem import Break, Departure, Mode, Person, Place, Problem, Suits, Task, Vehicle
from keyhook.turnaround.recount import objective
from keyhook.turnaround.replan import day_from_now
from keyhook.turnaround.solve import Progress, solve

STEPS = Limits(step_count=3000)
DAYS = [(5, "calm", 1), (8, "normal", 2), (10, "tight", 3), (10, "normal", 4)]


@pytest.mark.parametrize(("size", "staffing", "seed"), DAYS)
def test_what_the_decoder_counts_is_what_the_recount_finds_and_the_checker_passes(size, staffing, seed):
    problem = generate_day(size, staffing, seed)
    start = dispatch(problem)
    assert isinstance(start, Plan)
    walker = Annealer(lay_out(problem), start, seed)
    for _ in range(4):
        walker.walk(Limits(step_count=1000))
        assert walker.is_plan
        plan = walker.plan()
        assert violations(problem, plan) == ()
        assert objective(problem, plan) == walker.objective


@pytest.mark.parametrize(("size", "staffing", "seed"), DAYS)
def test_the_same_seed_and_steps_give_the_same_plan_and_never_a_worse_one_than_the_rule(size, staffing, seed):
    problem = generate_day(size, staffing, seed)
    rule = dispatch(problem)
    assert isinstance(rule, Plan)
    one, two = solve(problem, STEPS, seed=7), solve(problem, STEPS, seed=7)
    assert one == two
    assert one.objective <= objective(problem, rule)
    assert violations(problem, one.plan) == ()
    assert solve(problem, STEPS, seed=8).plan != one.plan


def test_what_is_reported_gets_better_each_time_and_is_verified():
    problem, seen = generate_day(10, "tight", 5), list[Progress]()
    found = solve(problem, Limits(seconds=4.0, clock=time.perf_counter), seed=1, report=seen.append)
    costs = [progress.objective for progress in seen]
    assert costs == sorted(costs, reverse=True)
    assert len(set(costs)) == len(costs) >= 2
    assert costs[-1] == found.objective
    assert all(violations(problem, progress.plan) == () for progress in seen)


def test_what_is_reported_while_planning_again_gets_better_each_time_and_keeps_what_has_begun():
    problem = generate_day(12, "tight", 2)
    held = solve(problem, STEPS, seed=1).plan
    rest, seen = day_from_now(problem, held, 11 * 60), list[Progress]()
    found = solve(rest, Limits(seconds=3.0, clock=time.perf_counter), seed=1, report=seen.append)
    costs = [progress.objective for progress in seen]
    assert costs == sorted(costs, reverse=True)
    assert len(set(costs)) == len(costs) >= 2
    assert costs[-1] == found.objective
    assert all(violations(rest, progress.plan) == () for progress in seen)
    begun = [one.task for one in held.tasks if one.start_min < 11 * 60]
    assert begun
    assert all(found.plan.by_task[name].people == held.by_task[name].people for name in begun)


def test_limits_are_shared_out_by_steps_or_by_seconds():
    assert Limits(step_count=1000).share(0.2) == Limits(step_count=200)
    by_time = Limits(seconds=3.0, clock=time.perf_counter, rounds=2)
    assert by_time.share(0.5) == Limits(seconds=1.5, clock=time.perf_counter, rounds=2)


def test_a_small_day_is_proven_and_no_plan_tried_by_chance_goes_below_its_bound():
    problem = generate_day(3, "normal", 1)
    found = solve(problem, Limits(seconds=20.0, clock=time.perf_counter), seed=1)
    assert found.status == "proven"
    assert found.proven_levels >= 1
    assert found.bound == found.objective.lateness
    start = dispatch(problem)
    assert isinstance(start, Plan)
    for seed in range(5):
        assert objective(problem, anneal(problem, start, Limits(step_count=2000), seed=seed)).lateness >= found.bound


def test_when_the_solver_fails_the_last_verified_plan_stays(monkeypatch):
    def fails(*_: object, **__: object) -> None:
        raise RuntimeError("out of memory")

    monkeypatch.setattr(exact.DayModel, "solve", fails)
    problem = generate_day(6, "tight", 1)
    found = solve(problem, Limits(seconds=1.0, clock=time.perf_counter), seed=1)
    assert violations(problem, found.plan) == ()
    assert found.status in {"no bound known", "within"}


def test_a_solver_that_answers_nonsense_is_not_believed(monkeypatch):
    problem = generate_day(6, "tight", 1)
    empty = Plan((), tuple((departure.id, None) for departure in problem.departures))
    monkeypatch.setattr(exact.DayModel, "solve", lambda *_, **__: exact.Exact(empty, 0, proven=False))
    found = solve(problem, Limits(seconds=1.0, clock=time.perf_counter), seed=1)
    assert violations(problem, found.plan) == ()
    assert found.plan != empty


def test_planning_again_begins_from_the_plan_people_hold_and_keeps_what_has_begun():
    problem = generate_day(8, "calm", 3)
    held = solve(problem, STEPS, seed=1).plan
    late = next(vehicle for vehicle in problem.vehicles if vehicle.arrives_min > 9 * 60)
    rest = day_from_now(problem, held, 9 * 60, [ReturnsAt(late.id, late.arrives_min + 45)])
    found = solve(rest, STEPS, seed=1)
    assert violations(rest, found.plan) == ()
    for task in rest.tasks:
        if task.fixed is not None:
            planned = found.plan.by_task[task.id]
            assert (planned.start_min, planned.end_min) == (task.fixed.start_min, task.fixed.end_min)
    stand = {task.task: task.start_min for task in found.plan.tasks}
    same = sum(1 for one in rest.held if stand.get(one.task) == one.start_min)
    assert same > 0.5 * len(rest.held)


def _day(**changes: object) -> Problem:
    values = {
        "opening_min": 0,
        "closing_min": 100,
        "people": (Person("pansy", frozenset({"clean"}), (0, 60), breaks=(Break(20, 30, 10),)),),
        "places": (Place("hall", 1),),
        "vehicles": (Vehicle("van"),),
        "tasks": (Task("wash", "wash", (Mode(1, 25, "clean"),), vehicle="van", place="hall"),),
        "departures": (Departure("d1", promised_min=30, vehicles=(Suits("van"),)),),
    }
    return Problem(**{**values, **changes})  # type: ignore[arg-type]


def test_a_day_that_cannot_be_done_names_the_task_that_does_not_fit():
    long = Task("wash", "wash", (Mode(1, 70, "clean"),), vehicle="van")
    with pytest.raises(NoPlan, match="wash"):
        solve(_day(tasks=(long,)), STEPS)


def test_a_place_without_a_slot_is_bad_input():
    with pytest.raises(BadInput, match="hall"):
        solve(_day(places=(Place("hall", 0),)), STEPS)


def test_a_perfect_plan_needs_no_search():
    found = solve(_day(), STEPS)
    assert found.objective == (0, 0, 0, 0)
    assert (found.status, found.proven_levels, found.steps) == ("proven", 4, 0)


def test_the_day_worked_by_hand_in_the_theory_decodes_as_written_there():
    tasks = tuple(
        Task(name, "wash", (Mode(1, minutes, "clean"),)) for name, minutes in (("A", 15), ("B", 18), ("C", 5))
    )
    bench = lay_out(_day(tasks=tasks, departures=()))
    found = decode(bench, genes_for(bench, ["A", "B", "C"], {}))
    assert found is not None
    spans = {one.task: (one.start_min, one.end_min) for one in found[0].tasks}
    assert spans == {"A": (0, 15), "B": (30, 48), "C": (15, 20)}
    assert [rest.start_min for rest in found[0].breaks] == [20]


def test_a_day_without_hand_overs_that_is_planned_again_is_laid_out_and_not_walked():
    """Every step of a walk helps some departure; where there is none it has nothing to point at."""
    hand = Person("ada", frozenset({"yard"}), (480, 600), overtime_max_min=120)
    washes = tuple(Task(f"{name}.wash", "wash", (Mode(1, 60, "yard"),), vehicle=name) for name in ("A1", "B1", "C1"))
    day = Problem(480, 720, (hand,), (), tuple(map(Vehicle, ("A1", "B1", "C1"))), washes, ())
    held = dispatch(day)
    rest = day_from_now(day, held, 490)
    found = solve(rest, Limits(step_count=500), seed=1)
    assert found.objective.overtime > 0, "there would be something to search for"
    assert found.steps == 0
    assert violations(rest, found.plan) == ()
