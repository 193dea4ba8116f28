"""Why a task begins then, in the words a desk reads: one small day for each thing that can bind."""

from __future__ import annotations

import datetime as dt

import pytest

from keyhook.turnaround.checker import violations
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.plan import Plan, PlannedBreak, PlannedTask
from keyhook.turnaround.problem import (
    ALL_ZONES,
    After,
    Break,
    Departure,
    Fixed,
    Mode,
    NotBy,
    Person,
    Place,
    Problem,
    Suits,
    Task,
    Vehicle,
)
from keyhook.turnaround.reasons import why_then
from keyhook.turnaround.telling import because_text, why_leaves

CLOCK = Clock(dt.date(2026, 7, 10), "Europe/London")
PANSY = Person("pansy", frozenset({"clean"}), (480, 960), (Break(660, 720, 45),), name="Pansy")
BOTH = (Vehicle("w1"), Vehicle("w2"))
LOUNGE, EVERYWHERE = frozenset({"lounge"}), frozenset({ALL_ZONES})
FREE = "nothing holds it back; it could begin from 08:00"
HOB = Person("hob", frozenset({"yard", "clean"}), (480, 960), name="Hob")


def _task(name, kind, minutes, skill, **more):
    return Task(name, kind, (Mode(1, minutes, skill),), name=kind.capitalize(), **{"vehicle": "w1", **more})


def _said(tasks, rows, about, *, people=(PANSY, HOB), breaks=(), vehicles=BOTH):
    problem = Problem(480, 1080, people, (Place("wash_bay", 1),), vehicles, tuple(tasks), ())
    plan = Plan(tuple(PlannedTask(task, a, b, 0, who) for task, a, b, who in rows), (), breaks)
    assert violations(problem, plan) == ()
    return because_text(problem, plan, why_then(problem, plan, about), CLOCK)


def test_a_busy_place_and_somebody_on_break_are_both_named():
    tasks = [
        _task("a", "wash", 60, "yard", vehicle="w2", place="wash_bay"),
        _task("b", "rinse", 20, "clean", place="wash_bay"),
    ]
    breaks = (PlannedBreak("pansy", 0, 660),)
    # the bay is taken from 10:45 to 11:45 by Hob, and Pansy rests from 11:00 to 11:45
    rows = [("a", 645, 705, ("hob",)), ("b", 705, 725, ("pansy",))]
    said = _said(tasks, rows, "b", breaks=breaks)
    assert said == "wash bay is busy until 11:45; Pansy is on break until 11:45; Hob is busy with Wash (w2) until 11:45"


@pytest.mark.parametrize(
    ("tasks", "rows", "about", "says"),
    [
        ([_task("a", "wash", 30, "yard")], [("a", 480, 510, ("hob",))], "a", "the day begins at 08:00"),
        (
            [_task("a", "strip", 30, "yard"), _task("b", "dress", 30, "yard", after=(After("a"),))],
            [("a", 480, 510, ("hob",)), ("b", 510, 540, ("hob",))],
            "b",
            "Strip (w1) is done at 08:30",
        ),
        (
            [_task("a", "shampoo", 30, "yard"), _task("b", "dress", 30, "yard", after=(After("a", 60),))],
            [("a", 480, 510, ("hob",)), ("b", 570, 600, ("hob",))],
            "b",
            "Shampoo (w1) is done and has stood its 60 min at 09:30",
        ),
        (
            [_task("a", "move", 30, "yard", zones=EVERYWHERE), _task("b", "dust", 20, "clean", zones=LOUNGE)],
            [("a", 480, 510, ("hob",)), ("b", 510, 530, ("hob",))],
            "b",
            "Move (w1) goes on until 08:30",
        ),
        ([_task("a", "wash", 30, "yard")], [("a", 600, 630, ("hob",))], "a", FREE),
        (
            [_task("a", "wash", 30, "yard", fixed=Fixed(485, 515, ("hob",)))],
            [("a", 485, 515, ("hob",))],
            "a",
            "it has begun",
        ),
    ],
)  # fmt: skip
def test_one_thing_that_binds_is_said(tasks, rows, about, says):
    rested = Person("pansy", frozenset({"clean"}), (480, 960), name="Pansy")
    assert _said(tasks, rows, about, people=(HOB, rested)).split("; ")[0] == says.split("; ")[0]
    assert says in _said(tasks, rows, about, people=(HOB, rested))


def test_a_return_is_named_with_its_vehicle():
    said = _said(
        [_task("a", "wash", 30, "yard")],
        [("a", 555, 585, ("hob",))],
        "a",
        people=(HOB,),
        vehicles=(Vehicle("w1", arrives_min=555),),
    )
    assert said == "w1 comes back at 09:15"


def test_whoever_cleaned_is_named_when_other_eyes_have_to_look():
    late = Person("odo", frozenset({"yard"}), (600, 960), name="Odo")
    tasks = [_task("a", "clean", 30, "clean"), _task("b", "look", 10, "yard", not_by=(NotBy("a"),))]
    said = _said(tasks, [("a", 480, 510, ("hob",)), ("b", 600, 610, ("odo",))], "b", people=(HOB, late))
    assert said == "Odo comes at 10:00"


def test_a_departure_hangs_on_the_return_of_its_vehicle():
    tasks = (
        _task("a", "wash", 30, "yard"),
        Task(
            "d.tour",
            "tour",
            (Mode(1, 40, "yard"),),
            name="Tour",
            departure="d",
            after=(After("wash", on_vehicle=True),),
        ),
    )
    departure = Departure("d", 540, (Suits("w1"),))
    problem = Problem(480, 1080, (HOB,), (), (Vehicle("w1", arrives_min=560),), tasks, (departure,))
    rows = (PlannedTask("a", 560, 590, 0, ("hob",)), PlannedTask("d.tour", 590, 630, 0, ("hob",)))
    plan = Plan(rows, (("d", "w1"),))
    assert violations(problem, plan) == ()
    assert why_leaves(problem, plan, "d", CLOCK) == "It hangs on Wash (w1) at 09:20: w1 comes back at 09:20."
    assert why_leaves(problem, Plan((), (("d", None),)), "d", CLOCK) == ""
    later = Plan((rows[0], PlannedTask("d.tour", 600, 640, 0, ("hob",))), (("d", "w1"),))
    said = "It hangs on Tour (w1) at 10:00, which has room: it could begin from 09:50."
    assert why_leaves(problem, later, "d", CLOCK) == said
