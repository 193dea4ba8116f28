"""The evening before, vehicles that go straight out again, days without a changeover, by the demo's calendar."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from click.testing import CliRunner

from keyhook.catalogue import load_catalogue
from keyhook.cli.commands import calculators
from keyhook.day_plan import known_news, planned_day
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.turnaround.anneal import Limits, anneal
from keyhook.turnaround.around import (
    done_early,
    evening_before,
    evening_spares_min,
    left_over,
    open_minutes,
    standing,
    straight_out_again,
)
from keyhook.turnaround.checker import violations
from keyhook.turnaround.compose import DayNews, day_problem
from keyhook.turnaround.dispatch import dispatch
from keyhook.turnaround.plan import Plan
from keyhook.turnaround.rules import verify_problem

DEMO = Path(__file__).resolve().parents[2] / "demo"
FRIDAY, SATURDAY, SUNDAY, MONDAY = (dt.date(2026, 7, day) for day in (10, 11, 12, 13))
LONDON = ZoneInfo("Europe/London")


@pytest.fixture(scope="module")
def catalogue():
    return load_catalogue()


@pytest.fixture(scope="module")
def depot(catalogue):
    return read_depot(read_folder(DEMO), catalogue)


@pytest.fixture(scope="module")
def friday(depot, catalogue):
    return day_problem(depot, FRIDAY, catalogue, suits={}, news=known_news(depot, FRIDAY))


def test_the_evening_before_holds_packing_for_vehicles_in_the_yard_and_papers_for_all(friday, catalogue):
    early = evening_before(friday, catalogue)
    kinds = {friday.task_by_id[one.task].kind for one in early}
    assert {catalogue.tasks[kind].phase for kind in kinds} == {"pack"}
    # W4-06, O6-05 and Q2-04 stand in the yard; the other seven come back on the day itself (the demo's calendar)
    assert {one.vehicle for one in early} == {None, "W4-06", "O6-05", "Q2-04"}
    assert {one.departure for one in early} == {departure.id for departure in friday.departures}


def test_what_waits_for_something_of_the_morning_is_not_done_the_evening_before(friday, catalogue):
    early = {one.task for one in evening_before(friday, catalogue)}
    for name in early:
        task = friday.task_by_id[name]
        assert not task.needs_hirer
        assert all(link.on_vehicle or link.what in early for link in task.after)


def test_what_is_done_early_leaves_a_day_that_can_be_planned_and_is_late_no_more(friday, catalogue):
    early = [one.task for one in evening_before(friday, catalogue)]
    eased = done_early(friday, early)
    verify_problem(eased)
    plan = dispatch(eased)
    assert isinstance(plan, Plan)
    assert violations(eased, plan) == ()
    held = dispatch(friday)
    assert evening_spares_min(friday, held, early, draws=200) > 0
    assert evening_spares_min(friday, held, [], draws=50) == 0


def test_vehicles_straight_out_again_are_ranked_by_the_room_they_have(depot, catalogue):
    turns = straight_out_again(depot, FRIDAY, catalogue, known_news(depot, FRIDAY))
    assert [turn.slack_min for turn in turns] == sorted(turn.slack_min for turn in turns)
    # The board of the demo yard: H01 to H06 and H09 go out again the same day, H07 and H08 do not.
    assert {turn.back for turn in turns} == {"H01", "H02", "H03", "H04", "H05", "H06", "H09"}
    late = next(turn for turn in turns if turn.back == "H05")
    assert f"{late.back_at:%H:%M}" == "11:15"  # it rang
    assert late.open_min == (16 - 11) * 60 - 15
    assert turns[0] == late


def test_a_longer_way_to_the_next_hand_over_leaves_more_room(depot, catalogue):
    early, late = (
        straight_out_again(depot, FRIDAY, catalogue, DayNews(arrivals={"H05": minute})) for minute in (600, 675)
    )
    slack = [next(turn.slack_min for turn in turns if turn.back == "H05") for turns in (early, late)]
    assert slack[0] - slack[1] == 75


@pytest.mark.parametrize(
    ("start", "end", "minutes"),
    [
        # Friday 17:00 to Saturday 09:00, open 08:00 to 18:00: an hour and an hour
        ("2026-07-10T17:00", "2026-07-11T09:00", 120),
        # over the closed Sunday
        ("2026-07-11T17:30", "2026-07-13T08:10", 40),
        ("2026-07-10T06:00", "2026-07-10T07:00", 0),
        # the night the clocks go back, Saturday to Monday: only open hours count
        ("2026-10-24T17:00", "2026-10-26T09:00", 120),
    ],
)
def test_only_open_minutes_are_room(depot, start, end, minutes):
    first, last = (dt.datetime.fromisoformat(moment).replace(tzinfo=LONDON) for moment in (start, end))
    assert open_minutes(depot, first, last) == minutes


def test_on_the_day_after_the_two_that_did_not_go_out_stand_as_they_came(depot):
    assert [(one.vehicle, one.out) for one in standing(depot, SATURDAY)] == [("Q2-01", "H22"), ("O6-07", None)]
    assert left_over(depot, SATURDAY) == {"Q2-01", "O6-07"}
    # on Monday only what came back since Saturday, the last open day, is taken to be undone
    assert left_over(depot, MONDAY) == {
        one.vehicle for one in standing(depot, MONDAY) if one.back_at.date() >= SATURDAY
    }


def test_a_day_without_hand_overs_works_on_what_stands(depot, catalogue):
    found = planned_day(depot, SATURDAY, catalogue, Limits(step_count=10), draws=20, suits={})
    assert found.problem.departures == ()
    assert {task.vehicle for task in found.problem.tasks} == {"Q2-01", "O6-07"}
    assert violations(found.problem, found.plan) == ()
    kinds = {task.kind for task in found.problem.tasks}
    assert "clean_kitchen" in kinds
    assert not {kind for kind in kinds if catalogue.tasks[kind].phase == "arrive"}  # it was checked in on Friday
    other = planned_day(
        depot, SATURDAY, catalogue, Limits(step_count=10), draws=20, suits={}, news=DayNews(undone=frozenset({"O6-07"}))
    )
    assert {task.vehicle for task in other.problem.tasks} == {"O6-07"}


def test_what_came_back_on_the_closed_day_is_checked_in_when_the_yard_opens(depot, catalogue):
    # H21 comes back on Sunday 12 July, when the depot is closed
    vehicle = depot.hires["H21"].vehicle
    problem = day_problem(depot, MONDAY, catalogue, suits={}, news=DayNews(undone=frozenset({vehicle})))
    phases = {catalogue.tasks[task.kind].phase for task in problem.tasks if task.vehicle == vehicle}
    assert phases >= {"arrive", "clean"}


def test_a_day_on_which_nothing_is_due_is_a_plan_of_nothing_and_the_search_has_nothing_to_do(depot, catalogue):
    problem = day_problem(depot, dt.date(2026, 8, 1), catalogue, suits={})
    assert problem.tasks == ()
    plan = dispatch(problem)
    assert (plan.tasks, plan.allotment) == ((), ())
    assert anneal(problem, plan, Limits(step_count=10)) == plan


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("2026-07-10", "--evening", "--steps", "50"), "What can be done the evening before Friday 10 July"),
        (("2026-07-11", "--plan", "--steps", "50"), "No hand-over on Saturday 11 July 2026."),
        (
            ("2026-07-11", "--plan", "--steps", "50"),
            "Q2-01  back Fri 10 Jul 10:20 (H07), wanted Mon 13 Jul 14:00 (H22)",
        ),
        (("2026-07-10", "--plan", "--steps", "50"), "Straight out again, the least room first"),
    ],
)
def test_the_command_line_shows_them(words, says):
    answer = CliRunner().invoke(calculators, ["day", *words])
    assert answer.exit_code == 0, answer.output
    assert says in answer.output
