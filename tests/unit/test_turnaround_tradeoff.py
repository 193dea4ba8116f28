"""Fewer tasks moved or a cheaper plan: what is kept of a search, what is offered of it, and what is never offered."""

from __future__ import annotations

import dataclasses

import pytest

from keyhook.turnaround.anneal import Limits
from keyhook.turnaround.checker import violations
from keyhook.turnaround.dispatch import dispatch
from keyhook.turnaround.events import PersonAway
from keyhook.turnaround.generate import generate_day
from keyhook.turnaround.plan import Objective, Plan
from keyhook.turnaround.recount import objective
from keyhook.turnaround.replan import day_from_now
from keyhook.turnaround.solve import solve
from keyhook.turnaround.tradeoff import MOST_NOTED, Front, choices

STEPS = Limits(step_count=3000)


def cost(lateness, moved, overtime=0):
    return Objective(lateness, 0, overtime, moved)


def kept(*costs):
    front = Front()
    for one in costs:
        front.note(one, lambda: Plan((), ()))
    return [(one.objective.lateness, one.objective.moved) for one in front.noted]


@pytest.fixture(scope="module")
def broken():
    """Eight turnarounds on a day short of hands, planned, and a cleaner who leaves at eleven."""
    problem = generate_day(8, "tight", 3)
    held = solve(problem, STEPS, seed=1).plan
    cleaner = next(person.id for person in problem.people if "clean" in person.skills)
    return day_from_now(problem, held, 660, [PersonAway(cleaner, (660, 1440))])


@pytest.fixture(scope="module")
def solved(broken):
    found = solve(broken, STEPS, seed=1)
    assert found.choices, "this day has a choice"
    return found


def test_of_what_a_walk_goes_through_only_the_front_is_kept():
    assert kept(cost(10, 0), cost(8, 5), cost(9, 6), cost(8, 4), cost(3, 20)) == [(10, 0), (8, 4), (3, 20)]
    assert kept(cost(10, 4), cost(5, 4)) == [(5, 4)]
    assert kept(cost(5, 4), cost(5, 4, overtime=9)) == [(5, 4)]
    assert kept(cost(5, 9), cost(5, 4, overtime=9)) == [(5, 4), (5, 9)]


def test_a_long_walk_is_thinned_and_its_ends_stay():
    found = kept(*(cost(1000 - moved, moved) for moved in range(300)))
    assert len(found) <= MOST_NOTED
    assert (found[0], found[-1]) == ((1000, 0), (701, 299))
    assert found == sorted(found, key=lambda one: one[1])


def test_every_plan_offered_keeps_every_rule_and_is_counted_from_itself(broken, solved):
    for one in solved.choices:
        assert violations(broken, one.plan) == ()
        assert one.objective == objective(broken, one.plan)


def test_less_lateness_costs_moves_and_the_last_is_the_plan_proposed(solved):
    first, *_, last = solved.choices
    assert (first.name, last.name) == ("fewest_moved", "least_late")
    assert last.plan == solved.plan
    assert last.objective == solved.objective
    for one, after in zip(solved.choices, solved.choices[1:], strict=False):
        assert one.objective.moved < after.objective.moved
        assert one.objective[:3] > after.objective[:3]


def test_noting_what_a_search_goes_through_changes_nothing_of_what_it_proposes(broken, solved, monkeypatch):
    monkeypatch.setattr(Front, "note", lambda *_: None)
    alone = solve(broken, STEPS, seed=1)
    assert alone.choices == ()
    assert (alone.plan, alone.objective, alone.steps) == (solved.plan, solved.objective, solved.steps)


def test_a_plan_that_breaks_a_rule_or_costs_otherwise_than_noted_is_not_offered(broken, solved):
    first = solved.choices[0]
    late = next(one for one in first.plan.tasks if broken.task_by_id[one.task].fixed is None and one.people)
    wrong = dataclasses.replace(late, end_min=late.end_min - 1)
    bent = dataclasses.replace(first.plan, tasks=tuple(wrong if one is late else one for one in first.plan.tasks))
    assert violations(broken, bent)
    for noted, plan in ((first.objective, bent), (cost(first.objective.lateness - 1, 0), first.plan)):
        front = Front()
        front.note(noted, lambda plan=plan: plan)
        assert choices(broken, solved.plan, [front]) == ()


def test_as_little_lateness_with_more_overtime_is_a_choice_and_as_little_of_all_is_none(broken, solved):
    first, last = solved.choices[0], solved.plan
    for over, offered in ((-1, 2), (0, 0), (1, 0)):
        front = Front()
        front.note(first.objective, lambda: first.plan)
        proposed = first.objective._replace(overtime=first.objective.overtime + over, moved=first.objective.moved + 9)
        with pytest.MonkeyPatch.context() as patch:
            counted = {id(last): proposed, id(first.plan): first.objective}
            patch.setattr("keyhook.turnaround.tradeoff.objective", lambda _, plan, counted=counted: counted[id(plan)])
            assert len(choices(broken, last, [front])) == offered


def test_what_spares_next_to_nothing_is_no_choice(broken, solved):
    front = Front()
    front.note(
        solved.objective._replace(lateness=solved.objective.lateness + 9, moved=solved.objective.moved - 1), None
    )
    assert choices(broken, solved.plan, [front]) == ()


def test_a_day_that_nobody_holds_a_plan_of_offers_no_choice():
    problem = generate_day(4, "normal", 2)
    assert isinstance(dispatch(problem), Plan)
    assert solve(problem, Limits(step_count=400), seed=1).choices == ()
