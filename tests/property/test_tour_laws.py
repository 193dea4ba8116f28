"""Laws of a tour: the checker passes it, more minutes never save less, planning again keeps what was done."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from keyhook.tour.checker import complaints
from keyhook.tour.greedy import fixed_talk, greedy_tour
from keyhook.tour.problem import TourPoint, TourProblem, forced_points, open_points, with_minutes
from keyhook.tour.replan import Progress, learnt_pace, planned_s, problem_from
from keyhook.tour.search import best_tour
from keyhook.tour.select import Search

LONG = Search(limit_s=10.0)
SLOW = settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
ROUNDING = 0.01  # values are weighed in ten-thousandths, times in hundredths of a second


@st.composite
def tours(draw: st.DrawFn) -> TourProblem:
    """A tour of up to nine points at up to five stations, points waiting for any earlier one."""
    names = [f"s{number}" for number in range(draw(st.integers(2, 5)))]
    place = [(draw(st.integers(0, 30)), draw(st.integers(0, 10))) for _ in names]
    walking = {
        (a, b): float(abs(place[i][0] - place[j][0]) + abs(place[i][1] - place[j][1]))
        for (i, a), (j, b) in product(enumerate(names), repeat=2)
    }
    points: list[TourPoint] = []
    for number in range(draw(st.integers(1, 9))):
        closing = draw(st.integers(0, 6)) == 0
        pool = [point.id for point in points if closing or not point.closing]
        after = (draw(st.sampled_from(pool)),) if pool and draw(st.booleans()) else ()
        station = names[-1] if closing else draw(st.sampled_from(names))
        seconds, worth = draw(st.integers(5, 60)), draw(st.integers(0, 50))
        must = draw(st.integers(0, 4)) == 0
        points.append(TourPoint(f"p{number}", station, seconds, worth, must, after, closing))
    minutes = draw(st.integers(0, 360)) / 60
    return TourProblem(
        tuple(points), tuple(names), walking, names[0], names[-1], minutes, draw(st.sampled_from((1, 1.6)))
    )


@given(tours())
@SLOW
def test_every_plan_passes_the_checker_and_says_all_that_must_be_said(problem):
    plan = best_tour(problem, LONG)
    assert complaints(problem, plan) == ()
    assert forced_points(problem) <= set(plan.points)
    assert plan.value_cost <= plan.bound_cost + ROUNDING
    assert plan.value_cost >= greedy_tour(problem).value_cost - ROUNDING
    said = set(fixed_talk(problem).points)
    assert said <= {point.id for point in open_points(problem)}


@given(tours(), st.integers(1, 300))
@SLOW
def test_more_minutes_never_save_less(problem, more_s):
    plan, longer = best_tour(problem, LONG), best_tour(with_minutes(problem, problem.available_min + more_s / 60), LONG)
    assume(plan.proven and longer.proven)
    assert longer.value_cost >= plan.value_cost - ROUNDING


@given(tours(), st.integers(1, 300))
@SLOW
def test_from_a_start_more_minutes_never_save_less_though_nobody_searches(problem, more_s):
    plan = best_tour(problem, LONG)
    assume(plan.end_s <= 60 * problem.available_min)
    wider = with_minutes(problem, problem.available_min + more_s / 60)
    assert best_tour(wider, Search(limit_s=0.0), start=plan).value_cost >= plan.value_cost - ROUNDING


@given(tours(), st.floats(1.05, 2.5))
@SLOW
def test_a_slow_party_is_never_shown_more(problem, pace):
    usual, slow = best_tour(problem, LONG), best_tour(replace(problem, pace_factor=pace), LONG)
    assume(slow.proven and slow.end_s <= 60 * problem.available_min)
    assert slow.value_cost <= usual.value_cost + ROUNDING


@given(tours(), st.integers(0, 8))
@SLOW
def test_planning_again_as_planned_keeps_what_was_done_and_is_no_worse_than_going_on(problem, shown):
    plan = best_tour(problem, LONG)
    assume(plan.end_s <= 60 * problem.available_min)
    lines = [line for stop in plan.stops for line in stop.lines]
    shown = min(shown, len(lines))
    done = plan.points[:shown]
    elapsed_s = lines[shown - 1].start_s + lines[shown - 1].talk_s if shown else 0.0
    rest_problem = problem_from(problem, Progress(elapsed_s=elapsed_s, done=done))
    rest = best_tour(rest_problem, LONG)
    assert complaints(rest_problem, rest) == ()
    assert rest_problem.pace_factor == pytest.approx(1.0)
    assert not set(done) & set(rest.points)
    worth = {point.id: point.value_cost for point in problem.points}
    assert rest.value_cost >= sum(worth[name] for name in plan.points[shown:]) - ROUNDING
    assert rest.end_s >= elapsed_s


@given(tours(), st.data())
@SLOW
def test_what_was_passed_over_stays_away_unless_it_must_be_said(problem, data):
    names = [point.id for point in problem.points]
    skipped = data.draw(st.sets(st.sampled_from(names)))
    again = problem_from(problem, Progress(elapsed_s=30.0, skipped=skipped))
    plan = best_tour(again, LONG)
    assert complaints(again, plan) == ()
    assert set(plan.points) & skipped <= forced_points(again)


@given(tours(), st.data())
@SLOW
def test_without_a_watch_the_elapsed_time_is_that_of_the_points_done(problem, data):
    plan = best_tour(problem, LONG)
    assume(plan.points)
    done = plan.points[: data.draw(st.integers(1, len(plan.points)))]
    again = problem_from(problem, Progress(done=done))
    assert again.elapsed_s == pytest.approx(planned_s(problem, done))
    assert again.start_station == problem.by_id()[done[-1]].station


@given(st.floats(0, 5000), st.floats(0, 20000), st.floats(0.5, 2.5))
def test_the_pace_learnt_lies_between_what_was_told_and_what_was_seen(plan_s, took_s, told):
    pace = learnt_pace(plan_s, took_s, told)
    assert 0.5 <= pace <= 2.5
    if plan_s > 0:
        seen = took_s / plan_s
        assert min(told, seen, 2.5) - 1e-9 <= pace <= max(told, seen, 0.6) + 1e-9
