"""Somebody walks in: a vehicle that stands free joins the day with the work on it."""

from __future__ import annotations

import pytest

from keyhook.errors import UnknownName
from keyhook.turnaround.checker import violations
from keyhook.turnaround.dispatch import dispatch
from keyhook.turnaround.documents import event_document, event_of
from keyhook.turnaround.events import WalkIn, apply
from keyhook.turnaround.plan import Plan
from keyhook.turnaround.problem import After, Departure, Mode, Person, Problem, Suits, Task, Vehicle
from keyhook.turnaround.replan import day_from_now

EMPTY = Plan((), ())
WASH = Task("F1.wash", "wash", (Mode(1, 40, "yard"),), vehicle="F1")
BRIEF = Task(
    "walk.brief", "brief", (Mode(1, 30, "yard"),), departure="walk", after=(After("wash", on_vehicle=True),),
    needs_hirer=True, gate=True,
)  # fmt: skip
FREE = WalkIn(Departure("walk", 540, (Suits("F1"),), postpone_cost=720), (BRIEF, WASH), (Vehicle("F1"),))


def day():
    hand = Person("ada", frozenset({"yard"}), (480, 1020), name="Ada")
    return Problem(480, 1080, people=(hand,), places=(), vehicles=(Vehicle("A1"),), tasks=(), departures=())


def test_a_free_vehicle_is_made_ready_and_then_handed_over():
    rest = day_from_now(day(), EMPTY, 500, [FREE])
    plan = dispatch(rest)
    assert isinstance(plan, Plan)
    assert violations(rest, plan) == ()
    assert plan.vehicle_of == {"walk": "F1"}
    # by hand: from 500 on, 40 minutes of wash end at 540, when the party comes; 30 minutes later it leaves
    wash, brief = plan.by_task["F1.wash"], plan.by_task["walk.brief"]
    assert (wash.start_min, wash.end_min) == (500, 540)
    assert (brief.start_min, brief.end_min) == (540, 570)


def test_two_walk_ins_who_both_try_one_free_vehicle_bring_it_once():
    other = WalkIn(Departure("late", 700, (Suits("F1"), Suits("A1")), postpone_cost=720), (WASH,), (Vehicle("F1"),))
    both = apply(apply(day(), FREE), other)
    assert [vehicle.id for vehicle in both.vehicles] == ["A1", "F1"]
    assert [task.id for task in both.tasks] == ["walk.brief", "F1.wash"]


def test_a_vehicle_that_neither_the_day_nor_the_event_has_is_refused():
    with pytest.raises(UnknownName, match="no such vehicle"):
        apply(day(), WalkIn(Departure("walk", 540, (Suits("F9"),)), ()))


def test_the_event_reads_back_the_same():
    assert event_of(event_document(FREE)) == FREE
    old = {key: value for key, value in event_document(FREE).items() if key != "vehicles"}
    assert event_of(old).vehicles == ()
