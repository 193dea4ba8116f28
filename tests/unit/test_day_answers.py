"""What a desk asks of a plan: what counts most, what would help, which of several good plans is safer."""

from __future__ import annotations

import dataclasses

import pytest

from keyhook.day_plan import ranked
from keyhook.turnaround.bottleneck import bottlenecks
from keyhook.turnaround.chances import day_chances
from keyhook.turnaround.plan import Plan, PlannedTask
from keyhook.turnaround.problem import After, Departure, Mode, Person, Place, Problem, Suits, Task, Vehicle

BAY = (Place("bay", 1),)


def _task(name, minutes, *, after=(), sd=0.0, skill="yard", place=None):
    links = tuple(After(before) for before in after)
    return Task(name, name, (Mode(1, minutes, skill),), vehicle="v", after=links, sd_min=sd, place=place)


def _day(tasks, *, due, people, places=BAY):
    departure = Departure("d", 0, (Suits("v"),), due_min=due)
    staff = tuple(Person(name, frozenset({skill}), (0, 1000)) for name, skill in people)
    return Problem(0, 1000, staff, places, (Vehicle("v"),), tuple(tasks), (departure,))


def _plan(*rows):
    return Plan(tuple(PlannedTask(task, start, end, 0, (who,)) for task, start, end, who in rows), (("d", "v"),))


@pytest.fixture
def two_chains():
    """A long chain that makes the day 20 late, and a short one beside it with 40 minutes to spare."""
    tasks = [_task("wash", 60), _task("dry", 60, after=("wash",)), _task("paper", 80, skill="desk")]
    problem = _day(tasks, due=100, people=[("y", "yard"), ("o", "desk")])
    return problem, _plan(("wash", 0, 60, "y"), ("dry", 60, 120, "y"), ("paper", 0, 80, "o"))


def test_the_bottleneck_lies_on_the_long_chain_and_spares_just_what_it_is_shortened_by(two_chains):
    problem, plan = two_chains
    found = bottlenecks(problem, plan, shorter_min=10, draws=8)
    assert {one.task for one in found} == {"wash", "dry"}
    assert [one.spared_min for one in found] == [10, 10]


def test_what_is_shortened_beyond_need_spares_only_the_lateness_there_is(two_chains):
    problem, plan = two_chains
    assert [one.spared_min for one in bottlenecks(problem, plan, shorter_min=50, draws=8)] == [20, 20]


def test_a_day_that_is_on_time_has_no_bottleneck(two_chains):
    problem, plan = two_chains
    calm = dataclasses.replace(problem, departures=(dataclasses.replace(problem.departures[0], due_min=120),))
    assert bottlenecks(calm, plan, draws=8) == ()


def test_one_more_pair_of_hands_from_ten_spares_what_can_be_done_beside():
    # two tasks of 60 minutes from 10:00, due at 11:00: 60 late for one person, not at all with one more from 10:00
    tasks = [_task("one", 60), _task("two", 60)]
    problem = _day(tasks, due=660, people=[("y", "yard")])
    problem = dataclasses.replace(problem, opening_min=600)
    plan = _plan(("one", 600, 660, "y"), ("two", 660, 720, "y"))
    helps = {help_.what: help_.spared_min for help_ in day_chances(problem, plan, draws=4, what_if=True).what_if}
    assert helps == {"person.yard": 60}
    later = day_chances(problem, plan, draws=4, what_if=True, more_from_min=640).what_if
    assert later[0].spared_min == 20  # from 10:40 the second is through at 11:40


def test_one_more_slot_is_tried_at_places_that_the_day_uses():
    tasks = [_task("one", 60, place="bay"), _task("two", 60, place="bay")]
    places = (Place("bay", 1), Place("barn", 1))
    problem = _day(tasks, due=60, people=[("y", "yard"), ("z", "yard")], places=places)
    plan = _plan(("one", 0, 60, "y"), ("two", 60, 120, "z"))
    helps = {help_.what: help_.spared_min for help_ in day_chances(problem, plan, draws=4, what_if=True).what_if}
    assert helps == {"place.bay": 60, "person.yard": 0}


def test_of_two_plans_that_cost_the_same_on_paper_the_safer_one_is_chosen():
    """Whether the task whose length nobody knows is done first or last beside a short one with its own hands."""
    sure, unsure = _task("sure", 40), _task("unsure", 40, sd=30)
    first, second = Departure("d", 0, (Suits("v"),), due_min=45), Departure("e", 0, (Suits("w"),), due_min=85)
    problem = Problem(
        0,
        1000,
        (Person("y", frozenset({"yard"}), (0, 1000)),),
        (Place("bay", 1),),
        (Vehicle("v"), Vehicle("w")),
        (sure, dataclasses.replace(unsure, vehicle="w")),
        (first, second),
    )
    allotment = (("d", "v"), ("e", "w"))
    safe = Plan((PlannedTask("sure", 0, 40, 0, ("y",)), PlannedTask("unsure", 40, 80, 0, ("y",))), allotment)
    relaxed = dataclasses.replace(problem, departures=(dataclasses.replace(first, due_min=85), second))
    bold = Plan((PlannedTask("unsure", 0, 40, 0, ("y",)), PlannedTask("sure", 40, 80, 0, ("y",))), allotment)
    choices = ranked(relaxed, [bold, safe], draws=500, seed=1)
    assert choices[0].objective == choices[1].objective
    assert choices[0].plan == safe
    assert choices[0].expected_min < choices[1].expected_min
    assert choices[0].promises_probability > choices[1].promises_probability
    # a plan that is much dearer on paper is no choice, however safe
    assert [choice.plan for choice in ranked(problem, [bold, safe], draws=50, seed=1)] == [safe]
