"""When the day breaks, on small generated days: what has begun stays, the rest is a plan, and what changed is named."""

from __future__ import annotations

import dataclasses

from hypothesis import HealthCheck, assume, event, given, settings
from hypothesis import strategies as st

from keyhook.turnaround.anneal import Limits, anneal
from keyhook.turnaround.begun import not_begun
from keyhook.turnaround.checker import violations
from keyhook.turnaround.dispatch import Stuck, dispatch
from keyhook.turnaround.events import (
    Damage,
    PartyAt,
    PersonAway,
    PlaceClosed,
    ReturnsAt,
    TaskDone,
    TaskRuns,
    VehicleOut,
    WalkIn,
)
from keyhook.turnaround.generate import generate_day
from keyhook.turnaround.plan import Plan, waits
from keyhook.turnaround.problem import Departure, Mode, Suits, Task
from keyhook.turnaround.recount import leaves_at
from keyhook.turnaround.replan import AGAIN, changes, day_from_now
from keyhook.turnaround.rules import verify_problem

SMALL = settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)


@st.composite
def broken_days(draw):
    """A day, the plan people hold, a minute of it, and one thing that happened."""
    problem = generate_day(
        draw(st.integers(2, 4)), draw(st.sampled_from(["calm", "normal"])), draw(st.integers(0, 500))
    )
    plan = dispatch(problem)
    assume(isinstance(plan, Plan))
    now = draw(st.integers(problem.opening_min, problem.opening_min + 480))
    return problem, plan, now, _happened(draw, problem, plan, now)


def _happened(draw, problem, plan, now):
    """One thing of each kind that can happen at this minute, and the one that did."""
    running = [one for one in plan.tasks if one.start_min <= now < one.end_min]
    busy = {name for one in running for name in one.people}
    minutes, longer = draw(st.integers(1, 180)), draw(st.integers(1, 60))
    vehicle = draw(st.sampled_from([vehicle.id for vehicle in problem.vehicles]))
    departure = draw(st.sampled_from([departure.id for departure in problem.departures]))
    walk = Task("walk.brief", "brief", (Mode(1, 30, "brief"),), departure="walk", needs_hirer=True, gate=True)
    can = [
        (),
        (VehicleOut(vehicle),),
        (Damage(vehicle, minutes, skill="yard", place=problem.places[0].id),),
        (PartyAt(departure, now + minutes),),
        (WalkIn(Departure("walk", now + 60, (Suits(vehicle),), postpone_cost=500), (walk,)),),
        (PlaceClosed(draw(st.sampled_from([place.id for place in problem.places])), (now, now + longer)),),
    ]
    can += [(ReturnsAt(coming.id, now + minutes),) for coming in problem.vehicles if coming.arrives_min > now]
    can += [(PersonAway(person.id, (now, now + minutes)),) for person in problem.people if person.id not in busy]
    can += [(TaskDone(one.task, max(now, problem.opening_min + 1)),) for one in running]
    can += [(TaskRuns(one.task, one.start_min, one.end_min + longer, one.people),) for one in running]
    kind = draw(st.sampled_from(sorted({_kind(events) for events in can})))
    return draw(st.sampled_from([events for events in can if _kind(events) == kind]))


def _kind(events):
    return type(events[0]).__name__ if events else "nothing"


def _planned_again(rest, *, searched=False):
    verify_problem(rest)
    again = dispatch(rest)
    if isinstance(again, Stuck):
        return None
    return anneal(rest, again, Limits(step_count=40), seed=1) if searched else again


@SMALL
@given(broken_days(), st.booleans())
def test_whatever_happens_the_next_plan_keeps_every_rule_and_what_has_begun_stays(day, searched):
    problem, plan, now, events = day
    rest = day_from_now(problem, plan, now, events)
    again = _planned_again(rest, searched=searched)
    event(f"{_kind(events)}: {'stuck' if again is None else 'planned'}")
    if again is None:
        return
    assert violations(rest, again) == ()
    told = {one.task for one in events if isinstance(one, TaskDone | TaskRuns)}
    for one in plan.tasks:
        if one.start_min < now and one.task not in told:
            assert again.by_task[one.task] == dataclasses.replace(one, people=tuple(sorted(one.people)))
        if one.task in told:
            assert again.by_task[one.task].people == tuple(sorted(one.people))
    begun = {one.task for one in plan.tasks if one.start_min < now}
    assert not [one for one in again.tasks if one.start_min < now and one.task not in begun | told]


@SMALL
@given(broken_days())
def test_the_report_of_changes_names_just_what_differs(day):
    problem, plan, now, events = day
    rest = day_from_now(problem, plan, now, events)
    again = _planned_again(rest)
    if again is None:
        return
    found = changes(rest, plan, again, tolerance_min=0)
    old = {one.task: one for one in plan.tasks}
    new = {one.task: one for one in again.tasks}
    both = old.keys() & new.keys()
    assert set(found.moved) == {task for task in both if old[task].start_min != new[task].start_min}
    assert set(found.handed) == {task for task in both if sorted(old[task].people) != sorted(new[task].people)}
    assert set(found.added) == new.keys() - old.keys()
    assert set(found.dropped) == old.keys() - new.keys()
    assert {name: (then, now_) for name, then, now_ in found.swapped} == {
        name: (plan.vehicle_of[name], vehicle)
        for name, vehicle in again.allotment
        if name in plan.vehicle_of and plan.vehicle_of[name] != vehicle
    }
    moved = dict(found.later) | {name: -by for name, by in found.sooner}
    for departure in problem.departures:
        then, after = leaves_at(problem, plan, departure.id), leaves_at(rest, again, departure.id)
        if then is not None and after is not None:
            assert moved.get(departure.id, 0) == after - then


@SMALL
@given(broken_days())
def test_a_vehicle_that_is_out_leaves_with_nobody_and_what_was_done_in_it_is_done_again(day):
    problem, plan, now, _ = day
    vehicle = next((vehicle for _, vehicle in plan.allotment if vehicle), None)
    assume(vehicle is not None)
    rest = day_from_now(problem, plan, now, (VehicleOut(vehicle),))
    again = _planned_again(rest)
    assume(again is not None)
    assert vehicle not in again.departure_of
    departure = plan.departure_of[vehicle]
    for one in plan.tasks:
        task = problem.task_by_id[one.task]
        if task.departure == departure and one.start_min < now and task.zones:
            assert one.task in again.by_task
            assert (one.task + AGAIN in again.by_task) == (again.vehicle_of[departure] is not None)


@SMALL
@given(broken_days(), st.data())
def test_what_was_told_late_leaves_nothing_begun_that_it_stands_against(day, data):
    """A vehicle that should be back and is not, or somebody who has been away since before now."""
    problem, plan, now, _ = day
    since, minutes = data.draw(st.integers(1, 90)), data.draw(st.integers(1, 120))
    late = [ReturnsAt(one.id, now + minutes) for one in problem.vehicles if 0 < one.arrives_min <= now]
    gone = [PersonAway(one.id, (max(0, now - since), now + minutes)) for one in problem.people]
    told = data.draw(st.sampled_from([*late, *gone]))
    waiting = not_begun(problem, plan, now, [told])
    event(f"{type(told).__name__}: {'some' if waiting else 'none'} waiting")
    rest = day_from_now(problem, plan, now, [told], waiting)
    verify_problem(rest)
    begun = {task.id for task in rest.tasks if task.fixed is not None}
    for one in plan.tasks:
        if one.task in begun and one.start_min < now:
            if isinstance(told, ReturnsAt):
                assert problem.task_by_id[one.task].vehicle != told.vehicle or one.start_min >= told.minute
            else:
                assert told.person not in one.people or not told.away[0] <= one.start_min < told.away[1]
    for wait in waits(problem, plan.vehicle_of):
        assert not (wait.before in waiting and wait.after in begun), f"{wait.after} waits for {wait.before}"
    again = _planned_again(rest)
    if again is not None:
        assert violations(rest, again) == ()
        assert not [one for one in again.tasks if one.task in waiting and one.start_min < now]
