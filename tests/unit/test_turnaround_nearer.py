"""Planning again moves as little as it can: what people hold is found again, and nothing above it gets worse."""

from __future__ import annotations

import pytest

from keyhook.turnaround.anneal import Limits
from keyhook.turnaround.checker import violations
from keyhook.turnaround.generate import generate_day
from keyhook.turnaround.nearer import nearer_to_held
from keyhook.turnaround.recount import objective
from keyhook.turnaround.replan import PersonAway, day_from_now
from keyhook.turnaround.solve import solve

STEPS = Limits(step_count=1500)


@pytest.fixture(scope="module", params=[1, 2, 3])
def broken_day(request):
    """A generated day, planned, in which one cleaner leaves at half past ten."""
    problem = generate_day(6, "normal", request.param)
    plan = solve(problem, STEPS, seed=request.param).plan
    cleaner = next(person.id for person in problem.people if "clean" in person.skills)
    rest = day_from_now(problem, plan, 9 * 60, [PersonAway(cleaner, (10 * 60 + 30, 24 * 60))])
    return problem, plan, rest


def test_when_nothing_has_happened_nothing_moves(broken_day):
    problem, plan, _ = broken_day
    rest = day_from_now(problem, plan, 9 * 60)
    found = solve(rest, STEPS)
    assert found.objective.moved == 0 or found.objective[:3] < objective(rest, plan)[:3]


def test_going_nearer_costs_nothing_that_ranks_above_and_moves_no_more(broken_day):
    _, _, rest = broken_day
    shuffled = solve(rest, STEPS, seed=7).plan
    near = nearer_to_held(rest, shuffled)
    before, after = objective(rest, shuffled), objective(rest, near)
    assert violations(rest, near) == ()
    assert after[:3] <= before[:3]
    assert after <= before


def test_what_was_shuffled_for_nothing_comes_back():
    problem = generate_day(6, "calm", 4)
    one, other = (solve(problem, STEPS, seed=seed).plan for seed in (1, 2))
    rest = day_from_now(problem, one, 9 * 60)
    begun = {task.id for task in rest.tasks if task.fixed is not None}
    if any(other.by_task.get(name) != one.by_task[name] for name in begun):
        rest = day_from_now(problem, one, problem.opening_min)
    assert violations(rest, other) == ()
    before, after = objective(rest, other), objective(rest, nearer_to_held(rest, other))
    assert after[:3] <= before[:3]
    assert after.moved < before.moved
