"""The day planned again from a plan that was kept: nothing is lost, what has begun stays, what cannot have is free."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
from pathlib import Path

import pytest

from keyhook.catalogue import load_catalogue
from keyhook.day_again import day_now, first_held, held_day, planned_again
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.errors import BadInput, UnknownName
from keyhook.turnaround.anneal import Limits
from keyhook.turnaround.begun import not_begun
from keyhook.turnaround.checker import violations
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.dispatch import dispatch
from keyhook.turnaround.documents import EVENTS
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
from keyhook.turnaround.held_plan import HeldPlan, held_document, held_of
from keyhook.turnaround.plan import Plan, PlannedTask
from keyhook.turnaround.problem import (
    ALL_ZONES,
    After,
    Departure,
    Mode,
    Person,
    Place,
    Problem,
    Suits,
    Task,
    Vehicle,
)
from keyhook.turnaround.recount import objective
from keyhook.turnaround.retelling import event_text
from keyhook.turnaround.rules import verify_problem

DEMO = Path(__file__).resolve().parents[2] / "demo"
FRIDAY = dt.date(2026, 7, 10)
CLOCK = Clock(FRIDAY, "Europe/London")
YARD = "Thistlequay Hire Yard"
FEW = Limits(step_count=600)
NINE, TEN, ELEVEN = 540, 600, 660


@pytest.fixture(scope="module")
def depot():
    return read_depot(read_folder(DEMO), load_catalogue())


@pytest.fixture(scope="module")
def busy():
    """Eight turnarounds on a day short of hands, as the yard lays them out, held."""
    problem = generate_day(8, "tight", 3)
    plan = dispatch(problem)
    assert isinstance(plan, Plan)
    return HeldPlan(YARD, CLOCK, problem, plan)


def _again(depot, held, now_min, events=(), **more):
    return planned_again(depot, held, load_catalogue(), FEW, now_min=now_min, events=events, draws=50, **more)


# ---------------------------------------------------------------- kept and read back


def test_a_plan_that_was_kept_reads_back_the_same_with_its_day_and_its_news(depot, busy):
    again = _again(depot, busy, ELEVEN, [VehicleOut(busy.problem.vehicles[0].id)]).to_hold()
    assert (again.version, again.now_min, [one.minute for one in again.news]) == (2, ELEVEN, [ELEVEN])
    for held in (busy, again):
        assert held_of(json.loads(json.dumps(held_document(held)))) == held


@pytest.mark.parametrize("document", [{}, [], "plan", None, {"kind": "other"}, {"kind": "keyhook.held_plan"}])
def test_what_is_no_kept_plan_is_refused(document):
    with pytest.raises(BadInput):
        held_of(document)


def _one_longer(document):
    document["plan"]["tasks"][5]["end_min"] += 7


def _one_gone(document):
    del document["plan"]["tasks"][5]


def _somebody_unknown(document):
    document["plan"]["tasks"][5]["people"] = ["nobody-here"]


def _before_its_vehicle(document):
    last = max(document["problem"]["vehicles"], key=lambda one: one["arrives_min"])
    task = next(one for one in document["problem"]["tasks"] if one["vehicle"] == last["id"])
    planned = next(one for one in document["plan"]["tasks"] if one["task"] == task["id"])
    minutes = planned["end_min"] - planned["start_min"]
    planned["start_min"], planned["end_min"] = last["arrives_min"] - 30, last["arrives_min"] - 30 + minutes


def _break_forgotten(document):
    del document["plan"]["breaks"][0]


def _break_unknown(document):
    document["plan"]["breaks"][0]["index"] = 7


@pytest.mark.parametrize(
    ("slip", "says"),
    [
        (_one_longer, "takes another time at this pace"),
        (_one_gone, "has to be done today"),
        (_somebody_unknown, "no such name"),
        (_before_its_vehicle, "before its vehicle"),
        (_break_forgotten, "would miss a break"),
        (_break_unknown, "breaks a rule"),
    ],
)
def test_a_plan_altered_by_hand_is_refused_with_the_rule_it_breaks(busy, slip, says):
    document = json.loads(json.dumps(held_document(busy)))
    slip(document)
    with pytest.raises(BadInput, match=says):
        held_of(document)


def test_a_plan_of_another_depot_is_refused(depot, busy):
    with pytest.raises(BadInput, match="another depot"):
        held_day(depot, dataclasses.replace(busy, depot="Elsewhere"), load_catalogue())


# ---------------------------------------------------------------- planned again


@pytest.fixture(scope="module")
def broken(depot, busy):
    cleaner = next(person.id for person in busy.problem.people if "clean" in person.skills)
    return _again(depot, busy, ELEVEN, [PersonAway(cleaner, (ELEVEN, 1440))])


def test_every_plan_offered_keeps_the_rules_and_costs_what_it_says(broken, busy):
    rest = broken.day.problem
    assert broken.offers
    for one in broken.offers:
        assert violations(rest, one.plan) == ()
        assert objective(rest, one.plan) == one.objective
        # a task is moved when other people do it, or when it begins more than ten minutes otherwise
        moved = 0
        for before in (one for one in busy.plan.tasks if one.start_min >= ELEVEN):
            after = one.plan.by_task.get(before.task)
            if after is not None:
                moved += abs(after.start_min - before.start_min) > 10 or set(after.people) != set(before.people)
        assert one.objective.moved == moved


def test_what_has_ended_or_begun_stays_with_its_people(broken, busy):
    for before in busy.plan.tasks:
        if before.start_min < ELEVEN:
            for one in broken.offers:
                after = one.plan.by_task[before.task]
                assert (after.start_min, after.end_min, set(after.people)) == (
                    before.start_min,
                    before.end_min,
                    set(before.people),
                )
    assert broken.held_tasks == sum(1 for one in busy.plan.tasks if one.start_min >= ELEVEN)


def test_of_the_plans_offered_the_later_ones_are_less_late_and_move_more(depot):
    problem = generate_day(8, "tight", 3)
    plan = dispatch(problem)
    held = HeldPlan(YARD, CLOCK, problem, plan)
    cleaner = next(person.id for person in problem.people if "clean" in person.skills)
    found = planned_again(
        depot, held, load_catalogue(), Limits(step_count=4000), now_min=ELEVEN,
        events=[PersonAway(cleaner, (ELEVEN, 1440))], draws=50, choose="fewest_moved",
    )  # fmt: skip
    assert found.offers[0].name == found.chosen.name == "fewest_moved"
    costs = [(one.objective[:3], one.objective.moved) for one in found.offers]
    assert costs == sorted(costs, key=lambda one: one[1])
    assert costs == sorted(costs, key=lambda one: one[0], reverse=True)
    assert found.to_hold().plan == found.offers[0].plan
    if len(found.offers) == 2:
        with pytest.raises(BadInput, match="fewest_moved or least_late"):
            planned_again(
                depot, held, load_catalogue(), Limits(step_count=4000), now_min=ELEVEN,
                events=found.events, draws=50, choose="in_between",
            )  # fmt: skip


def test_a_plan_can_be_planned_again_from_what_was_planned_again(depot, broken):
    later = _again(depot, broken.to_hold(), ELEVEN + 90)
    assert later.to_hold().version == 3
    assert violations(later.day.problem, later.chosen.plan) == ()
    for before in broken.chosen.plan.tasks:
        if before.end_min <= ELEVEN + 90:
            assert later.chosen.plan.by_task[before.task].start_min == before.start_min


def test_a_hire_of_the_plan_that_no_longer_leaves_is_named(depot, busy):
    codes = {finding.code for finding in held_day(depot, busy, load_catalogue(), draws=20).findings}
    assert codes == {"day_again.not_planned", "day_again.gone"}  # the generated day has none of the demo's hires


# ---------------------------------------------------------------- what cannot have begun


def _yard():
    """A1 is due at nine: washed until ten by ada, dried by bob, checked by ada, then the party's; B1 stands ready."""
    hands = frozenset({"yard"})
    people = tuple(Person(name, hands, (480, 1080), name=name.title()) for name in ("ada", "bob"))
    body = frozenset({ALL_ZONES})
    tasks = (
        Task("A1.wash", "wash", (Mode(1, 60, "yard"),), name="Wash", vehicle="A1", zones=body, place="bay"),
        Task(
            "A1.dry", "dry", (Mode(1, 30, "yard"),), name="Dry", vehicle="A1", zones=body,
            after=(After("wash", on_vehicle=True),),
        ),
        Task("B1.wash", "wash", (Mode(1, 60, "yard"),), name="Wash", vehicle="B1", zones=body, place="bay"),
        Task("d.show", "show", (Mode(1, 30, "yard"),), name="Show", departure="d", needs_hirer=True),
    )  # fmt: skip
    day = Problem(
        480, 1140, people, (Place("bay", 1),), (Vehicle("A1", arrives_min=NINE), Vehicle("B1")), tasks,
        (Departure("d", 690, (Suits("A1"),), hirer_from_min=690),),
    )  # fmt: skip
    plan = Plan(
        (
            PlannedTask("B1.wash", 480, 540, 0, ("bob",)),
            PlannedTask("A1.wash", 540, 600, 0, ("ada",)),
            PlannedTask("A1.dry", 600, 630, 0, ("bob",)),
            PlannedTask("d.show", 690, 720, 0, ("ada",)),
        ),
        (("d", "A1"),),
    )
    return HeldPlan(YARD, CLOCK, day, plan)


@pytest.mark.parametrize(
    ("now", "event", "waiting"),
    [
        (610, ReturnsAt("A1", 640), {"A1.wash", "A1.dry"}),  # not back, so neither washed nor dried
        (610, ReturnsAt("A1", 570), {"A1.wash", "A1.dry"}),  # came after its wash was to begin
        (610, PersonAway("bob", (TEN, 1080)), {"A1.dry"}),
        (610, PersonAway("bob", (615, 1080)), set()),  # he leaves later, and has begun
        (610, PlaceClosed("bay", (510, 600)), {"A1.wash", "A1.dry"}),
        (700, PartyAt("d", 720), {"d.show"}),
        (610, TaskRuns("A1.wash", NINE, 640), {"A1.dry"}),  # what waits for it still waits
        (610, TaskRuns("B1.wash", 480, 640), {"A1.dry"}),  # bob is still at it
        (610, TaskDone("A1.wash", 600), set()),
        (610, VehicleOut("A1"), set()),
    ],
)
def test_what_cannot_have_begun_is_free_to_move(now, event, waiting):
    held = _yard()
    assert not_begun(held.problem, held.plan, now, [event]) == waiting


def test_a_vehicle_that_is_not_back_is_cleaned_when_it_comes(depot):
    held = _yard()
    found = _again(depot, held, 610, [ReturnsAt("A1", 640)])
    assert found.chosen.plan.by_task["A1.wash"].start_min == 640
    assert found.chosen.plan.by_task["B1.wash"] == held.plan.by_task["B1.wash"]
    assert found.held_tasks == 3  # the wash and the drying have not begun, and neither has the showing


def test_what_a_task_that_is_done_waits_for_is_over_too():
    rest = day_now(_yard(), 590, [TaskDone("A1.dry", 590)])
    fixed = {task.id: task.fixed for task in rest.tasks if task.fixed is not None}
    assert fixed["A1.wash"].end_min <= 590
    verify_problem(rest)


@pytest.mark.parametrize(
    ("events", "says"),
    [
        ([ReturnsAt("A1", 640), ReturnsAt("A1", 650)], "cannot both be true"),
        ([TaskDone("A1.wash", 600), TaskRuns("A1.wash", NINE, 640)], "saw Wash"),
        ([TaskDone("A1.wash", 640)], "later than now"),
        ([TaskRuns("A1.wash", 640, 700)], "later than now"),
        ([TaskRuns("A1.wash", NINE, 605)], "over before now"),
        ([TaskDone("A1.wash", 600), ReturnsAt("A1", 640)], "before A1 is back"),
        ([TaskDone("A1.wash", 500)], "before A1 is back"),
        ([TaskRuns("A1.wash", NINE, 640), TaskDone("A1.dry", 610)], "waits for Wash"),
        ([ReturnsAt("B1", 640)], "stands in the yard"),
        ([ReturnsAt("Z9", 640)], "no such vehicle"),
        ([PersonAway("bob", (640, 630))], "ends after it begins"),
        ([Damage("A1", 0, "yard", "bay")], "takes some minutes"),
    ],
)
def test_news_that_cannot_be_is_refused_in_one_sentence(events, says):
    with pytest.raises((BadInput, UnknownName), match=says):
        day_now(_yard(), 610, events)


def test_everything_that_can_happen_is_told_in_a_sentence():
    held = _yard()
    told = (
        ReturnsAt("A1", 640), PersonAway("bob", (TEN, 700)), TaskDone("A1.wash", 600), TaskRuns("A1.wash", 540, 640),
        Damage("A1", 30), VehicleOut("A1"), PartyAt("d", 720), PlaceClosed("bay", (TEN, 640)),
        WalkIn(Departure("w", 800, (Suits("B1"),)), ()),
    )  # fmt: skip
    assert {type(event).__name__ for event in told} == set(EVENTS)
    said = [event_text(held.problem, held.plan, event, CLOCK) for event in told]
    assert len(set(said)) == len(told)
    assert "A1 comes back at 10:40" in said
    assert "Bob is away from 10:00 until 11:40" in said
    assert "Wash (A1) takes until 10:40" in said


# ---------------------------------------------------------------- the day the clocks change


def test_on_the_day_the_clocks_change_times_are_those_of_the_wall(depot):
    """Spring: 08:00 is minute 420. What is told at nine happens at nine, and the plan reads back."""
    clock = Clock(dt.date(2026, 3, 29), "Europe/London")
    held, by = _yard(), -60
    day = dataclasses.replace(
        held.problem,
        opening_min=480 + by, closing_min=1140 + by,
        people=tuple(dataclasses.replace(one, shift=(480 + by, 1080 + by)) for one in held.problem.people),
        vehicles=(Vehicle("A1", arrives_min=NINE + by), Vehicle("B1")),
        departures=(Departure("d", 690 + by, (Suits("A1"),), hirer_from_min=690 + by),),
    )  # fmt: skip
    plan = Plan(
        tuple(
            dataclasses.replace(one, start_min=one.start_min + by, end_min=one.end_min + by) for one in held.plan.tasks
        ),
        held.plan.allotment,
    )
    held = held_of(json.loads(json.dumps(held_document(HeldPlan(YARD, clock, day, plan)))))
    now = clock.read("10:10", "now")
    found = _again(depot, held, now, [ReturnsAt("A1", clock.read("10:40", "The return"))])
    assert found.said == ("A1 comes back at 10:40",)
    wash = found.chosen.plan.by_task["A1.wash"]
    assert f"{clock.moment(wash.start_min):%H:%M %Z}" == "10:40 BST"


def test_a_day_without_hand_overs_is_kept_and_planned_again(depot):
    from keyhook.day_plan import planned_day  # noqa: PLC0415

    found = planned_day(depot, dt.date(2026, 7, 16), load_catalogue(), FEW, draws=20)
    assert not found.problem.departures
    assert found.plan.tasks
    held = held_of(json.loads(json.dumps(held_document(first_held(depot, found)))))
    away = found.plan.tasks[-1].people[0]
    again = _again(depot, held, NINE, [PersonAway(away, (NINE, 1440))])
    assert violations(again.day.problem, again.chosen.plan) == ()
    assert not [one for one in again.chosen.plan.tasks if away in one.people and one.start_min >= NINE]
