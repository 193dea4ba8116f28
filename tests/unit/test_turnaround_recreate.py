"""Taking departures out of a plan and putting them back: nothing is left behind, nothing is lost, chains are found."""

from __future__ import annotations

import dataclasses
from itertools import pairwise, product

import numpy as np
import pytest

from keyhook.turnaround import layout as at
from keyhook.turnaround.anneal import Annealer, Limits, anneal, order_of
from keyhook.turnaround.arrays import index_of
from keyhook.turnaround.checker import violations
from keyhook.turnaround.choosing import CUT, SOONER, UNIT_ROW
from keyhook.turnaround.decoder import LEVELS, genes_for, lay_out
from keyhook.turnaround.dispatch import dispatch
from keyhook.turnaround.events import PersonAway, ReturnsAt
from keyhook.turnaround.generate import generate_day
from keyhook.turnaround.plan import Plan, PlannedTask
from keyhook.turnaround.problem import After, Departure, Mode, NotBy, Person, Place, Problem, Suits, Task, Vehicle
from keyhook.turnaround.putting_back import lay_as_planned
from keyhook.turnaround.recount import objective
from keyhook.turnaround.replan import day_from_now
from keyhook.turnaround.solve import plan_held, solve
from keyhook.turnaround.taking_out import take_out

DAYS = [(6, "calm", 1), (8, "normal", 2), (12, "tight", 3)]


def _rule(problem: Problem) -> Plan:
    plan = dispatch(problem)
    assert isinstance(plan, Plan)
    return plan


def _laid(problem: Problem, plan: Plan):
    """The arrays of a plan: tables, blank state, state, genes, outcome, cost."""
    bench, index = lay_out(problem), index_of(problem)
    modes = {planned.task: planned.mode for planned in plan.tasks}
    genes = genes_for(bench, order_of(problem, plan), plan.vehicle_of, modes)
    outcome = bench.outcome.copy().reshape(len(problem.tasks), -1)
    for planned in plan.tasks:
        crew = sorted(index.person[name] for name in planned.people)
        row = outcome[index.task[planned.task]]
        row[[at.D_START, at.D_END]] = planned.start_min, planned.end_min
        row[at.D_CREW : at.D_CREW + len(crew)] = crew
    state, lain, cost = bench.state.copy(), outcome.ravel(), np.zeros(LEVELS, np.int64)
    done = lay_as_planned(bench.tables, state, genes, lain, cost)
    return bench, state, genes, lain, cost, done


def _meaning(tables, state):
    """What a state says, without what lies unused behind the counts, and without the last minutes worked."""
    people = state[tables[at.S_PERSON] : tables[at.S_PLACE]].reshape(-1, tables[at.S_PERSON_ROW])
    begins = at.REST_AT + tables[at.BREAKS]
    said = [(*row[at.REST_AT : begins], *row[begins : begins + 2 * row[at.COUNT]]) for row in people.tolist()]
    places = state[tables[at.S_PLACE] : tables[at.S_VEHICLE]].reshape(-1, tables[at.S_PLACE_ROW])
    said += [tuple(row[1 : 1 + 2 * row[at.COUNT]]) for row in places.tolist()]
    vehicles = state[tables[at.S_VEHICLE] : tables[at.S_LEAVE]].reshape(-1, tables[at.S_VEHICLE_ROW])
    said += [tuple(row[1 : 1 + 3 * row[at.COUNT]]) for row in vehicles.tolist()]
    return [*said, tuple(state[tables[at.S_LEAVE] :].tolist())]


@pytest.mark.parametrize(("size", "staffing", "seed"), DAYS)
def test_a_plan_laid_down_as_it_stands_costs_what_the_recount_finds(size, staffing, seed):
    problem = generate_day(size, staffing, seed)
    plan = _rule(problem)
    *_, cost, done = _laid(problem, plan)
    assert done
    assert tuple(cost.tolist()) == tuple(objective(problem, plan))


def test_a_plan_with_a_task_missing_or_of_another_length_is_not_laid_down():
    problem = generate_day(6, "calm", 1)
    plan = _rule(problem)
    one = plan.tasks[3]
    longer = dataclasses.replace(one, end_min=one.end_min + 1)
    for tasks in (plan.tasks[:-1], tuple(longer if task is one else task for task in plan.tasks)):
        assert not _laid(problem, dataclasses.replace(plan, tasks=tasks))[-1]


@pytest.mark.parametrize(("size", "staffing", "seed"), DAYS)
def test_when_everything_is_taken_out_the_state_is_blank_again(size, staffing, seed):
    problem = generate_day(size, staffing, seed)
    bench, state, genes, lain, _, _ = _laid(problem, _rule(problem))
    units = np.zeros((len(problem.vehicles) + len(problem.departures)) * UNIT_ROW, np.int32)
    listed = np.zeros(len(problem.tasks), np.int32)
    count = take_out(bench.tables, bench.state, state, genes, lain, genes, units, listed)
    assert _meaning(bench.tables, state) == _meaning(bench.tables, bench.state)
    assert (lain == bench.outcome).reshape(len(problem.tasks), -1)[:, [at.D_START, at.D_CREW]].all()
    assert sorted(listed[:count]) == sorted(index_of(problem).task[task.task] for task in _rule(problem).tasks)


def test_what_is_taken_out_from_some_minute_on_leaves_what_began_before_it():
    problem = generate_day(6, "normal", 1)
    plan = _rule(problem)
    bench, state, genes, lain, _, _ = _laid(problem, plan)
    units = np.full((len(problem.vehicles) + len(problem.departures)) * UNIT_ROW, 0, np.int32)
    noon = 12 * 60
    units.reshape(-1, UNIT_ROW)[:, [CUT, SOONER]] = noon, 0
    take_out(bench.tables, bench.state, state, genes, lain, genes, units, np.zeros(len(problem.tasks), np.int32))
    left = {problem.tasks[k].id for k in np.flatnonzero(lain.reshape(len(problem.tasks), -1)[:, at.D_START] >= 0)}
    assert left == {task.task for task in plan.tasks if task.start_min < noon}


def _small(departures: tuple[Departure, ...], tasks: tuple[Task, ...], **more: object) -> Problem:
    values = {
        "opening_min": 0,
        "closing_min": 200,
        "people": (Person("pansy", frozenset({"clean"}), (0, 200)), Person("odo", frozenset({"clean"}), (0, 200))),
        "places": (Place("hall", 2),),
        "vehicles": (Vehicle("one"), Vehicle("two"), Vehicle("three")),
        "tasks": tasks,
        "departures": departures,
    }
    return Problem(**{**values, **more})  # type: ignore[arg-type]


def test_a_departure_that_was_put_off_is_taken_up_again_by_a_chain_of_vehicles():
    """Only ``one`` suits a, b can go from ``one`` to ``two``, and c from ``two`` to the free ``three``."""
    suits = {"a": ("one",), "b": ("one", "two"), "c": ("two", "three")}
    departures = tuple(
        Departure(name, promised_min=100, vehicles=tuple(Suits(one) for one in able), postpone_cost=500)
        for name, able in suits.items()
    )
    tasks = tuple(
        Task(f"{name}.eyes", "eyes", (Mode(1, 10, "clean"),), departure=name, gate=True, zones=frozenset({"lounge"}))
        for name in suits
    )
    problem = _small(departures, tasks)
    planned = (PlannedTask("b.eyes", 0, 10, 0, ("odo",)), PlannedTask("c.eyes", 0, 10, 0, ("pansy",)))
    start = Plan(planned, (("a", None), ("b", "one"), ("c", "two")))
    assert objective(problem, start).lateness == 500
    found = anneal(problem, start, Limits(step_count=400), seed=1)
    assert dict(found.allotment) == {"a": "one", "b": "two", "c": "three"}
    assert objective(problem, found).lateness == 0


@pytest.mark.parametrize("seed", range(4))
def test_links_between_tasks_of_two_vehicles_are_kept(seed):
    """The tow bar goes from ``one`` to ``two``; who took it off does not look over it."""
    off = Task("one.off", "off", (Mode(1, 30, "clean"),), vehicle="one", zones=frozenset({"outside"}))
    on = Task(
        "two.on", "on", (Mode(1, 20, "clean"),), vehicle="two", zones=frozenset({"outside"}),
        after=(After("one.off", 5),), not_by=(NotBy("one.off"),), counts=True,
    )  # fmt: skip
    wash = Task("one.wash", "wash", (Mode(1, 40, "clean"),), vehicle="one", zones=frozenset({"outside"}), counts=True)
    departures = (
        Departure("a", promised_min=50, vehicles=(Suits("one"),), weight=5),
        Departure("b", promised_min=60, vehicles=(Suits("two"),)),
    )
    problem = _small(departures, (off, on, wash))
    found = anneal(problem, _rule(problem), Limits(step_count=600), seed=seed)
    assert violations(problem, found) == ()
    assert found.by_task["two.on"].people != found.by_task["one.off"].people


@pytest.fixture(scope="module")
def held_day():
    """A planned day of 10 turnarounds at ten in the morning, and a vehicle that is still out."""
    problem = generate_day(10, "normal", 4)
    held = solve(problem, Limits(step_count=6000), seed=1).plan
    late = next(one for one in problem.vehicles if one.arrives_min > 10 * 60 and one.id in held.departure_of)
    return problem, held, late


def test_the_first_plan_after_no_news_is_the_one_people_hold(held_day):
    problem, held, _ = held_day
    rest = day_from_now(problem, held, 10 * 60)
    walker = Annealer(lay_out(rest), plan_held(rest), 1, keep_held=True)
    assert walker.is_plan
    assert walker.objective.moved == 0
    assert violations(rest, walker.plan()) == ()


def test_the_first_plan_after_a_late_return_moves_what_has_to_wait_for_it_and_little_else(held_day):
    problem, held, late = held_day
    first = min(one.start_min for one in held.tasks if one.task.startswith(f"{late.id}."))
    rest = day_from_now(problem, held, 10 * 60, [ReturnsAt(late.id, first + 40)])
    walker = Annealer(lay_out(rest), plan_held(rest), 1, keep_held=True)
    assert walker.is_plan
    assert violations(rest, walker.plan()) == ()
    departure = held.departure_of[late.id]
    theirs = sum(1 for one in rest.held if one.task.startswith((f"{late.id}.", f"{departure}.")))
    assert 0 < walker.objective.moved <= theirs < 0.2 * len(rest.held)


@pytest.mark.parametrize("seed", range(4))
def test_what_finds_no_room_beside_the_plan_people_hold_is_put_off_and_the_rest_stays(seed):
    """Half the cleaners leave at ten: the first plan keeps everybody's hours and moves far less than the rule."""
    problem = generate_day(12, "tight", seed)
    held = solve(problem, Limits(step_count=4000), seed=1).plan
    cleaners = [person.id for person in problem.people if "clean" in person.skills]
    leave = [PersonAway(name, (10 * 60, 24 * 60)) for name in cleaners[: -(-len(cleaners) // 2)]]
    rest = day_from_now(problem, held, 10 * 60, leave)
    walker = Annealer(lay_out(rest), plan_held(rest), 1, keep_held=True)
    assert walker.is_plan
    found = walker.plan()
    assert violations(rest, found) == ()
    by_rule = dispatch(rest)
    assert isinstance(by_rule, Plan)
    assert walker.objective.moved < 0.6 * objective(rest, by_rule).moved
    assert [name for name, vehicle in found.vehicle_of.items() if vehicle is None]


@pytest.mark.parametrize("seed", range(3))
def test_no_level_is_traded_for_one_below_it(seed):
    """Each better plan is better at the first level in which it differs, also when people hold a plan."""
    problem = generate_day(8, "tight", seed)
    held = solve(problem, Limits(step_count=2000), seed=seed).plan
    late = next(one for one in problem.vehicles if one.arrives_min > 9 * 60 and one.id in held.departure_of)
    for day, start in (
        (problem, _rule(problem)),
        (day_from_now(problem, held, 9 * 60, [ReturnsAt(late.id, 700)]), None),
    ):
        walker = Annealer(lay_out(day), start or plan_held(day), seed, keep_held=start is None)
        seen = [walker.objective]
        walker.walk(Limits(step_count=4000), report=seen.append)
        assert len(set(seen)) > 2 or start is None
        assert all(later <= earlier for earlier, later in pairwise(seen))
        cost, counted = objective(day, walker.plan()), seen[-1]
        assert cost._replace(overtime=0) == counted._replace(overtime=0)
        assert cost.overtime == counted.overtime or (start is None and cost.overtime > counted.overtime)
        assert violations(day, walker.plan()) == ()


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_when_nothing_has_happened_nothing_moves_for_nothing(seed):
    problem = generate_day(6, "normal", seed)
    plan = solve(problem, Limits(step_count=1500), seed=seed).plan
    rest = day_from_now(problem, plan, 9 * 60)
    found = solve(rest, Limits(step_count=1500))
    assert found.objective.moved == 0 or found.objective[:3] < objective(rest, plan)[:3]


def test_what_was_shuffled_for_nothing_comes_back():
    problem = generate_day(6, "calm", 4)
    one, other = (solve(problem, Limits(step_count=1500), seed=seed).plan for seed in (1, 2))
    rest = day_from_now(problem, one, problem.opening_min)
    assert violations(rest, other) == ()
    before = objective(rest, other)
    after = objective(rest, anneal(rest, other, Limits(step_count=6000), keep_held=True))
    assert after[:3] <= before[:3]
    assert after.moved < 0.5 * before.moved


@pytest.fixture(scope="module")
def broken_days():
    """Four planned days of 12 turnarounds, each at ten in the morning with somebody who leaves at eleven."""
    days = []
    for seed in range(4):
        problem = generate_day(12, "normal", seed)
        held = solve(problem, Limits(step_count=4000), seed=1).plan
        leaves = next(person.id for person in problem.people if "clean" in person.skills)
        days.append(day_from_now(problem, held, 10 * 60, [PersonAway(leaves, (11 * 60, 24 * 60))]))
    return days


def test_a_walk_let_loose_gets_below_the_lateness_of_one_that_stays_near_and_moves_more(broken_days):
    near, loose = [], []
    for day, seed in product(broken_days, (1, 2)):
        for found in (near, loose):
            walker = Annealer(lay_out(day), plan_held(day), seed, keep_held=True)
            if found is loose:
                walker.loose()
            walker.walk(Limits(step_count=8000))
            assert violations(day, walker.plan()) == ()
            found.append(objective(day, walker.plan()))
    assert sum(one.lateness for one in loose) < sum(one.lateness for one in near)
    assert sum(one.moved for one in loose) > sum(one.moved for one in near)


def test_a_walk_let_loose_takes_tasks_back_to_where_people_hold_them_once_nobody_is_late():
    problem = generate_day(6, "calm", 4)
    one, other = (solve(problem, Limits(step_count=1500), seed=seed).plan for seed in (1, 2))
    rest = day_from_now(problem, one, problem.opening_min)
    before = objective(rest, other)
    assert before.lateness == 0
    walker = Annealer(lay_out(rest), other, 1, keep_held=True)
    walker.loose()
    walker.walk(Limits(step_count=6000))
    assert objective(rest, walker.plan()).moved < 0.5 * before.moved
