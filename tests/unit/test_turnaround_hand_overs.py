"""The hand-overs by themselves: what they must cost, no plan of the whole day is cheaper than."""

from __future__ import annotations

import pytest
from ortools.sat.python import cp_model

from keyhook.turnaround.anneal import Limits, anneal
from keyhook.turnaround.bound import lateness_bound
from keyhook.turnaround.checker import violations
from keyhook.turnaround.dispatch import dispatch
from keyhook.turnaround.events import ReturnsAt
from keyhook.turnaround.exact import DayModel, hand_over_bound
from keyhook.turnaround.generate import generate_day
from keyhook.turnaround.hand_overs import hand_overs_alone, plan_of_hand_overs
from keyhook.turnaround.plan import Plan
from keyhook.turnaround.problem import After, Departure, Mode, Person, Problem, Suits, Task, Vehicle
from keyhook.turnaround.recount import objective
from keyhook.turnaround.replan import day_from_now

DAYS = [(4, "tight", 0), (6, "normal", 1), (10, "tight", 2), (10, "calm", 3)]


def _day_with_one_briefer(weights: tuple[int, ...], *, clean_min: int = 0) -> Problem:
    """Return a day on which one person hands everything over: 30 minutes each, all from minute 0 and due at 30."""
    names = [f"d{number}" for number in range(len(weights))]
    clean = [
        Task(f"clean {name}", "clean", (Mode(0, clean_min),), vehicle=name, gate=True) for name in names if clean_min
    ]
    hand_over = [
        Task(f"brief {name}", "brief", (Mode(1, 30, "brief"),), departure=name, after=(After("clean", 0, True),))
        for name in names
    ]
    return Problem(
        opening_min=0,
        closing_min=600,
        people=(Person("fay", frozenset({"brief"}), (0, 600)),),
        places=(),
        vehicles=tuple(Vehicle(name) for name in names),
        tasks=(*clean, *hand_over),
        departures=tuple(
            Departure(name, 0, (Suits(name),), weight=weight, due_min=30)
            for name, weight in zip(names, weights, strict=True)
        ),
    )


def _rule(problem: Problem) -> Plan:
    plan = dispatch(problem)
    assert isinstance(plan, Plan)
    return plan


# By hand. Equal work from one pair of hands goes by weight, the dearest first (Smith's rule, 1956; from memory).
# Weights 3, 2, 1: ends 30, 60, 90, late 0, 30, 60: 3 x 0 + 2 x 30 + 1 x 60 = 120.
# With 20 minutes of cleaning first, which needs nobody: ends 50, 80, 110, late 20, 50, 80: 60 + 100 + 80 = 240.
# Hands without end see 0 of the first and 20 x (3 + 2 + 1) = 120 of the second.
@pytest.mark.parametrize(("clean_min", "least", "with_hands_without_end"), [(0, 120, 0), (20, 240, 120)])
def test_three_hand_overs_by_one_person_cost_what_a_hand_count_says(clean_min, least, with_hands_without_end):
    problem = _day_with_one_briefer((1, 3, 2), clean_min=clean_min)
    assert hand_over_bound(problem, _rule(problem), 20) == least
    assert lateness_bound(problem) == with_hands_without_end


@pytest.mark.parametrize(("size", "staffing", "seed"), DAYS)
def test_a_plan_of_the_day_is_as_far_as_it_goes_a_plan_of_its_hand_overs_and_costs_no_more_there(size, staffing, seed):
    problem = generate_day(size, staffing, seed)
    part = hand_overs_alone(problem)
    rule = _rule(problem)
    for plan in (rule, anneal(problem, rule, Limits(step_count=3000), seed=seed)):
        alone = plan_of_hand_overs(part, plan)
        assert violations(part, alone) == ()
        assert objective(part, alone).lateness <= objective(problem, plan).lateness


def test_it_is_so_too_in_the_middle_of_the_day_when_work_has_begun():
    problem = generate_day(8, "normal", 2)
    held = _rule(problem)
    late = next(vehicle for vehicle in problem.vehicles if vehicle.arrives_min > 9 * 60)
    for now in (10 * 60, 13 * 60, 15 * 60 + 10):
        rest = day_from_now(problem, held, now, [ReturnsAt(late.id, now + 30)] if now == 10 * 60 else [])
        plan = dispatch(rest)
        assert isinstance(plan, Plan)
        part = hand_overs_alone(rest)
        assert violations(part, plan_of_hand_overs(part, plan)) == ()


@pytest.mark.parametrize("seed", [4, 5])
def test_on_days_short_of_hands_no_plan_found_is_below_what_the_hand_overs_must_cost(seed):
    problem = generate_day(10, "tight", seed)
    plan = anneal(problem, _rule(problem), Limits(step_count=20_000), seed=seed)
    assert hand_over_bound(problem, plan, 8, workers=2) <= objective(problem, plan).lateness


def test_a_day_short_of_hands_has_a_bound_where_hands_without_end_see_none():
    problem = generate_day(10, "tight", 5)
    assert lateness_bound(problem) == 0
    assert hand_over_bound(problem, _rule(problem), 60, workers=2) > 0


@pytest.mark.parametrize(("size", "staffing", "seed"), [(3, "tight", 0), *DAYS[:2]])
def test_the_solver_is_told_the_whole_plan_it_starts_from(size, staffing, seed):
    problem = generate_day(size, staffing, seed)
    plan = anneal(problem, _rule(problem), Limits(step_count=2000), seed=seed)
    model = DayModel(problem, plan)._model
    told = set(model.proto.solution_hint.vars)
    solver = cp_model.CpSolver()
    solver.parameters.fix_variables_to_their_hinted_value = True
    assert all(k in told for k, var in enumerate(model.proto.variables) if len(set(var.domain)) > 1)
    assert solver.solve(model) == cp_model.OPTIMAL
