"""Days that cannot be as told: each says in one sentence what is wrong and the smallest thing that would be enough."""

from __future__ import annotations

import dataclasses
import datetime as dt
from pathlib import Path

import pytest

from keyhook.basis import Level
from keyhook.catalogue import load_catalogue
from keyhook.day_plan import day_findings, first_plan, planned_day
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.errors import BadInput, NoPlan
from keyhook.phrases import say
from keyhook.turnaround.anneal import Limits
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.compose import day_problem
from keyhook.turnaround.dispatch import Stuck, dispatch
from keyhook.turnaround.plan import Plan
from keyhook.turnaround.problem import Departure, Mode, Person, Place, Problem, Suits, Task, Vehicle
from keyhook.turnaround.remedy import STEP_MIN, Remedy, lacks, longer
from keyhook.turnaround.telling import lack_text

DEMO = Path(__file__).resolve().parents[2] / "demo"
FRIDAY, SUNDAY = dt.date(2026, 7, 10), dt.date(2026, 7, 12)
CLOCK = Clock(FRIDAY, "Europe/London")


@pytest.fixture(scope="module")
def depot():
    return read_depot(read_folder(DEMO), load_catalogue())


def _planned(depot, day, **changes):
    return planned_day(depot, day, load_catalogue(), Limits(step_count=5), draws=20, suits={}, **changes)


def _day(count, *, minutes=60, hours=(480, 600), people=1, place=None, postpone=None, skill="yard"):
    """So many vehicles that need so many minutes each, in these hours, with nobody's overtime."""
    names = [f"v{n}" for n in range(count)]
    tasks = tuple(
        Task(f"{name}.wash", "wash", (Mode(1, minutes, skill),), name="Wash", departure=f"d{n}", place=place)
        for n, name in enumerate(names)
    )
    departures = tuple(
        Departure(f"d{n}", hours[1], (Suits(name),), postpone_cost=postpone) for n, name in enumerate(names)
    )
    staff = tuple(Person(f"p{n}", frozenset({"yard"}), hours) for n in range(people))
    return Problem(*hours, staff, (Place("bay", 1),), tuple(map(Vehicle, names)), tasks, departures)


def test_work_that_does_not_fit_names_the_departure_and_three_hours_that_are_an_hour_short():
    # three vehicles of an hour each for one person in two hours
    problem = _day(3)
    (lack,) = lacks(problem, None)
    assert lack.departure in {"d0", "d1", "d2"}
    assert Remedy("hours", minutes=60) in lack.remedies
    assert Remedy("person", "yard") in lack.remedies
    with pytest.raises(
        NoPlan, match=r"d\d does not fit into the day: no room is left for Wash .*60 minutes longer hours"
    ):
        first_plan(problem, CLOCK)


def test_the_hours_named_are_enough_and_a_step_less_is_not():
    problem = _day(5, minutes=47, people=2)
    hours = next(remedy for remedy in lacks(problem, None)[0].remedies if remedy.kind == "hours")
    assert isinstance(dispatch(longer(problem, hours.minutes)), Plan)
    assert isinstance(dispatch(longer(problem, hours.minutes - STEP_MIN)), Stuck)


def test_where_the_place_is_too_small_more_hands_are_no_remedy():
    problem = _day(3, people=3, place="bay")
    kinds = {remedy.kind: remedy.what for remedy in lacks(problem, None)[0].remedies}
    assert "person" not in kinds
    assert kinds["slot"] == "bay"


def test_a_departure_that_is_put_off_is_told_with_what_it_lacks():
    problem = _day(3, postpone=500)
    plan = dispatch(problem)
    (lack,) = lacks(problem, plan)
    assert plan.vehicle_of[lack.departure] is None
    assert Remedy("hours", minutes=60) in lack.remedies
    assert "60 minutes longer hours for everybody, or one more yard hand" in lack_text(problem, lack)


def test_a_departure_for_which_no_vehicle_suits_says_so():
    problem = _day(1, postpone=500)
    problem = dataclasses.replace(problem, departures=(dataclasses.replace(problem.departures[0], vehicles=()),))
    (lack,) = lacks(problem, dispatch(problem))
    assert lack_text(problem, lack) == "No vehicle that suits d0 is free today."


def test_a_skill_that_nobody_has_is_named_with_the_task():
    with pytest.raises(NoPlan, match=r"Nobody on shift can do Wash \(d0\): it needs the skill rigging"):
        first_plan(_day(1, skill="rigging"), CLOCK)


def test_a_place_without_a_slot_is_named(depot):
    shut = depot.depot.model_copy(update={"places": {**depot.depot.places, "wash_bay": 0}})
    with pytest.raises(BadInput, match=r"Place wash_bay has no slot \(saw 0\)"):
        _planned(dataclasses.replace(depot, depot=shut), FRIDAY)


@pytest.mark.parametrize(
    ("wall", "code"), [("06:30", "before_opening"), ("18:30", "after_closing"), ("08:00", None), ("17:30", None)]
)
def test_a_promise_outside_the_hours_is_told_and_the_day_is_planned_all_the_same(depot, wall, code):
    hour, minute = map(int, wall.split(":"))
    hire = depot.hires["H12"]
    moved = hire.model_copy(update={"collect_at": hire.collect_at.replace(hour=hour, minute=minute)})
    folder = dataclasses.replace(depot, hires={**depot.hires, "H12": moved})
    problem = day_problem(folder, FRIDAY, load_catalogue(), suits={})
    found = [finding for finding in day_findings(folder, problem, CLOCK) if finding.values.get("departure") == "H12"]
    assert [finding.code.rsplit(".")[-1] for finding in found] == ([code] if code else [])
    for finding in found:
        assert finding.level is Level.WARN
        assert f"H12 is promised for {wall}" in say(finding.code, finding.values)
    assert isinstance(dispatch(problem), Plan)


def test_on_a_closed_day_without_hand_overs_nobody_is_asked_to_work(depot):
    # 12 July 2026 is a Sunday; H21 comes back on it
    found = _planned(depot, SUNDAY)
    assert found.plan.tasks == ()
    assert [finding.code for finding in found.findings] == ["day_plan.finding.nobody"]


def test_hand_overs_promised_on_a_closed_day_are_named(depot):
    hours = {day: window for day, window in depot.depot.hours.items() if day != "friday"}
    shut = dataclasses.replace(depot, depot=depot.depot.model_copy(update={"hours": hours}))
    problem = day_problem(shut, FRIDAY, load_catalogue(), suits={})
    (finding,) = day_findings(shut, problem, CLOCK)
    assert finding.level is Level.WARN
    said = say(finding.code, finding.values)
    assert said.startswith("The depot is closed on a Friday, and these are promised on it: H10, H11, ")
    assert "H19. Ring them for another day" in said


def test_a_hand_over_on_a_day_on_which_nobody_works_is_put_off_or_refused(depot):
    nobody = dataclasses.replace(_day(1), people=())
    with pytest.raises(NoPlan, match="Nobody works on Friday 10 July, and d0 are promised"):
        first_plan(nobody, CLOCK)


def test_the_day_the_clocks_change_says_how_long_it_is(depot):
    spring = dt.date(2026, 3, 29)
    found = _planned(depot, spring)
    codes = {finding.code: finding.values for finding in found.findings}
    assert codes["day_plan.finding.clocks"] == {"hours": 23}


@pytest.mark.parametrize("away", [((480, 600),), ((480, 540), (540, 700)), ((470, 545), (530, 600))])
def test_a_skill_whose_only_holder_is_away_all_day_is_named(away):
    problem = _day(1)
    (person,) = problem.people
    nobody = dataclasses.replace(problem, people=(dataclasses.replace(person, away=away),))
    with pytest.raises(NoPlan, match=r"Nobody on shift can do Wash .*it needs the skill yard"):
        first_plan(nobody, CLOCK)


def test_who_comes_back_for_part_of_the_day_is_not_taken_for_missing():
    problem = _day(1)
    (person,) = problem.people
    here = dataclasses.replace(problem, people=(dataclasses.replace(person, away=((480, 530),)),))
    assert first_plan(here, CLOCK).by_task["v0.wash"].start_min >= 530
