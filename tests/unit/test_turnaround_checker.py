"""The checker tested by mutation: one good plan, a slip for every family of rules, caught by it alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from keyhook.turnaround.checker import FAMILIES, violations
from keyhook.turnaround.plan import Objective, Plan, PlannedBreak, PlannedTask
from keyhook.turnaround.problem import (
    ALL_ZONES,
    After,
    Break,
    Departure,
    Fixed,
    Held,
    Mode,
    NotBy,
    Person,
    Place,
    Problem,
    Suits,
    Task,
    Vehicle,
)
from keyhook.turnaround.recount import objective

DAY = Problem(
    opening_min=0,
    closing_min=600,
    people=(
        Person("ash", frozenset({"clean"}), (0, 480), breaks=(Break(120, 180, 30),), pace_factor=1.5),
        Person("elm", frozenset({"clean", "tech", "desk"}), (0, 300), overtime_max_min=60, away=((250, 260),)),
        Person("oak", frozenset({"clean", "tech", "desk"}), (0, 480)),
    ),
    places=(Place("bay", 1, closed=((300, 330),)), Place("lane", 2)),
    vehicles=(Vehicle("van", arrives_min=60), Vehicle("bus", arrives_min=30), Vehicle("pod")),
    tasks=(
        Task("drain bus", "drain", (Mode(1, 20, "clean"),), vehicle="bus", place="lane", fixed=Fixed(30, 50, ("oak",))),
        Task("wash van", "wash", (Mode(1, 40, "clean"), Mode(2, 25, "clean")), vehicle="van", place="bay",
             zones=frozenset({"outside"}), place_tail_min=10, gate=True),
        Task("mend van", "mend", (Mode(1, 30, "tech"),), vehicle="van", zones=frozenset({"cab"}), release_min=70,
             after=(After("wash van", 15),), gate=True),
        Task("look van", "look", (Mode(1, 10, "tech"),), vehicle="van", zones=frozenset({ALL_ZONES}), gate=True,
             after=(After("mend van"),), not_by=(NotBy("mend van"),)),
        Task("wash bus", "wash", (Mode(1, 40, "clean"),), vehicle="bus", place="bay", zones=frozenset({"outside"}),
             only_if_leaving=True),
        Task("dust bus", "dust", (Mode(1, 20, "clean"),), vehicle="bus", zones=frozenset({"lounge"})),
        Task("hand to one", "hand_over", (Mode(1, 30, "desk"),), departure="one", needs_hirer=True, place="lane",
             zones=frozenset({ALL_ZONES}), after=(After("*", on_vehicle=True),)),
        Task("wave to one", "wave", (Mode(0, 5),), departure="one", gate=True, counts=False,
             after=(After("mend van"),)),
    ),
    departures=(
        Departure("one", promised_min=200, vehicles=(Suits("van"), Suits("pod", 2)), weight=3, allotted="pod",
                  swap_cost=5),
        Departure("two", promised_min=290, vehicles=(Suits("bus"),), postpone_cost=700),
    ),
    held=(Held("wash bus", 205, ("ash",)), Held("dust bus", 420, ("ash",)), Held("look van", 190, ("oak",))),
)  # fmt: skip
GOOD = Plan(
    tasks=(
        PlannedTask("drain bus", 30, 50, 0, ("oak",)),
        PlannedTask("wash van", 60, 120, 0, ("ash",)),
        PlannedTask("mend van", 140, 170, 0, ("oak",)),
        PlannedTask("look van", 180, 190, 0, ("elm",)),
        PlannedTask("wash bus", 200, 260, 0, ("ash",)),
        PlannedTask("hand to one", 200, 230, 0, ("elm",)),
        PlannedTask("wave to one", 185, 190, 0, ()),
        PlannedTask("dust bus", 400, 430, 0, ("ash",)),
    ),
    allotment=(("one", "van"), ("two", "bus")),
    breaks=(PlannedBreak("ash", 0, 130),),
)


def _with(task: str, **changed: object) -> Plan:
    return replace(GOOD, tasks=tuple(replace(t, **changed) if t.task == task else t for t in GOOD.tasks))


def _without(task: str) -> Plan:
    return replace(GOOD, tasks=tuple(planned for planned in GOOD.tasks if planned.task != task))


def _day(task: str, **changed: object) -> Problem:
    return replace(DAY, tasks=tuple(replace(t, **changed) if t.id == task else t for t in DAY.tasks))


Slip = tuple[str, str, Callable[[], tuple[Problem, Plan]]]
SLIPS: tuple[Slip, ...] = (
    ("done", "a task is forgotten", lambda: (DAY, _without("dust bus"))),
    ("done", "a task is planned twice", lambda: (DAY, replace(
        GOOD, tasks=(*GOOD.tasks, PlannedTask("dust bus", 440, 470, 0, ("ash",)))))),
    ("done", "a task that nothing calls for", lambda: (DAY, replace(
        GOOD, allotment=(("one", "van"), ("two", None))))),
    ("crew", "nobody does it", lambda: (DAY, replace(
        _with("dust bus", people=(), end_min=420)))),
    ("crew", "one person counted twice", lambda: (DAY, replace(
        _with("dust bus", people=("ash", "ash"))))),
    ("crew", "somebody without the skill", lambda: (replace(DAY, people=(*DAY.people[:2], replace(
        DAY.people[2], skills=frozenset({"clean"})))), GOOD)),
    ("crew", "a mode that is not there", lambda: (DAY, _with("dust bus", mode=1))),
    ("pace", "quicker than the person is", lambda: (DAY, _with("dust bus", end_min=420))),
    ("pace", "slower than the person is", lambda: (DAY, _with("dust bus", end_min=431))),
    ("fixed", "what has begun is moved", lambda: (DAY, _with("drain bus", start_min=31, end_min=51))),
    ("fixed", "what has begun is given to others", lambda: (DAY, _with("drain bus", people=("elm",)))),
    ("not_before", "before the vehicle is there", lambda: (DAY, _with(
        "dust bus", start_min=10, end_min=30, people=("elm",)))),
    ("not_before", "before its release", lambda: (_day("dust bus", release_min=401), GOOD)),
    ("not_before", "before the hirer is there", lambda: (DAY, _with("hand to one", start_min=199, end_min=229))),
    ("not_before", "before the opening", lambda: (replace(DAY, opening_min=61), GOOD)),
    ("closing", "after closing", lambda: (replace(DAY, closing_min=429), GOOD)),
    ("order", "before what it waits for", lambda: (_day("mend van", after=(After("wash van", 21),)), GOOD)),
    ("order", "before all of its vehicle is done", lambda: (
        replace(_day("look van", zones=frozenset()), departures=(replace(
            DAY.departures[0], hirer_from_min=189), DAY.departures[1])),
        _with("hand to one", start_min=189, end_min=219, people=("oak",)))),
    ("one_at_a_time", "two things at once", lambda: (DAY, _with(
        "wash bus", people=("elm",), start_min=205, end_min=245))),
    ("shift", "before the shift", lambda: (replace(DAY, people=(replace(
        DAY.people[0], shift=(61, 480)), *DAY.people[1:])), GOOD)),
    ("shift", "past the overtime allowed", lambda: (DAY, _with(
        "dust bus", people=("elm",), start_min=341, end_min=361))),
    ("shift", "while away", lambda: (DAY, _with("dust bus", people=("elm",), start_min=240, end_min=260))),
    ("breaks", "no break", lambda: (DAY, replace(GOOD, breaks=()))),
    ("breaks", "a break outside its window", lambda: (DAY, replace(GOOD, breaks=(PlannedBreak("ash", 0, 270),)))),
    ("breaks", "a break inside a task", lambda: (DAY, replace(GOOD, breaks=(PlannedBreak("ash", 0, 175),)))),
    ("breaks", "a break that nobody planned", lambda: (DAY, replace(
        GOOD, breaks=(*GOOD.breaks, PlannedBreak("oak", 0, 300))))),
    ("second_eyes", "who mended looks", lambda: (DAY, _with("look van", people=("oak",)))),
    ("places", "two in a place for one", lambda: (_day("wash van", place_tail_min=81), GOOD)),
    ("places", "a closed place", lambda: (DAY, _with("wash bus", start_min=270, end_min=330))),
    ("zones", "one zone twice", lambda: (_day("dust bus", zones=frozenset({"outside"})), _with(
        "dust bus", people=("oak",), start_min=205, end_min=225))),
    ("zones", "a zone of a vehicle that is moved", lambda: (_day("look van", after=()), _with(
        "look van", start_min=165, end_min=175))),
    ("allotment", "a departure forgotten", lambda: (
        replace(DAY, departures=(*DAY.departures, Departure("three", 400, (Suits("pod"),), postpone_cost=1))), GOOD)),
    ("allotment", "a vehicle that does not suit", lambda: (replace(DAY, departures=(replace(
        DAY.departures[0], vehicles=(Suits("pod"),)), DAY.departures[1])), GOOD)),
    ("allotment", "one vehicle twice", lambda: (
        replace(DAY, departures=(*DAY.departures, Departure("three", 400, (Suits("bus"),), postpone_cost=1))),
        replace(GOOD, allotment=(*GOOD.allotment, ("three", "bus"))))),
    ("allotment", "put off though that is not allowed", lambda: (
        replace(DAY, departures=(*DAY.departures, Departure("three", 400, (Suits("pod"),)))),
        replace(GOOD, allotment=(*GOOD.allotment, ("three", None))))),
    ("gate", "leaves without a gate task", lambda: (
        DAY, _with("wave to one", start_min=226, end_min=231))),
    ("names", "somebody unknown", lambda: (DAY, _with("dust bus", people=("fir",)))),
    ("names", "an unknown vehicle", lambda: (DAY, replace(GOOD, allotment=(("one", "cart"), ("two", "bus"))))),
)  # fmt: skip


def test_the_good_plan_is_good() -> None:
    assert violations(DAY, GOOD) == ()


@pytest.mark.parametrize(("family", "slip"), [(f, make) for f, _, make in SLIPS], ids=[name for _, name, _ in SLIPS])
def test_a_slip_is_caught_by_its_family_and_by_no_other(family: str, slip: Callable[[], tuple[Problem, Plan]]) -> None:
    problem, plan = slip()
    found = violations(problem, plan)
    assert {one.family for one in found} == {family}
    assert all(one.says.endswith(".") and one.about for one in found)


def test_every_family_has_its_slip() -> None:
    assert {family for family, _, _ in SLIPS} == {*FAMILIES, "names"}


def test_what_has_begun_against_a_rule_is_not_judged() -> None:
    begun = replace(DAY.tasks[0], vehicle="van", fixed=Fixed(30, 50, ("oak",)))
    problem = replace(DAY, tasks=(begun, *DAY.tasks[1:]))
    assert violations(problem, GOOD) == ()


# Worked by hand from the plan above: "one" leaves at 230 for 200 at weight 3 in the van instead of the promised pod
# (swap 5), "two" leaves at 430 for 290; nobody works past their shift; the wash of the bus is 5 min off (no move),
# the dusting 20 min off, and the look is done by another.
def test_the_cost_of_the_good_plan_by_hand() -> None:
    assert objective(DAY, GOOD) == Objective(lateness=3 * 30 + 140, swaps=5, overtime=0, moved=2)


def test_putting_off_costs_what_was_said_and_overtime_is_counted_once() -> None:
    later = _with("dust bus", people=("elm",), start_min=330, end_min=350)
    assert objective(DAY, later) == Objective(3 * 30 + 60, 5, 50, 2)
    off = replace(_without("wash bus"), allotment=(("one", "van"), ("two", None)))
    assert objective(DAY, off).lateness == 3 * 30 + 700


def test_damage_found_after_the_last_look_has_begun_holds_the_vehicle_by_its_gate() -> None:
    looked = replace(DAY.tasks[3], fixed=Fixed(180, 190, ("elm",)), not_by=())
    repair = Task("fix van", "fix", (Mode(1, 5, "tech"),), vehicle="van", zones=frozenset({"engine"}), gate=True)
    waits = replace(looked, after=(After("mend van"), After("fix van")))
    problem = replace(DAY, tasks=(*DAY.tasks[:3], waits, *DAY.tasks[4:], repair))
    soon = replace(GOOD, tasks=(*GOOD.tasks, PlannedTask("fix van", 192, 197, 0, ("oak",))))
    late = replace(GOOD, tasks=(*GOOD.tasks, PlannedTask("fix van", 235, 240, 0, ("oak",))))
    assert violations(problem, soon) == ()
    assert "order" in {found.family for found in violations(problem, late)}
