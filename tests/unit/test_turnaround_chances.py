"""Chances against closed forms and against a plain event loop written here; replanning; the demo's Friday."""

from __future__ import annotations

import datetime as dt
import heapq
import math
from pathlib import Path

import numpy as np
import pytest

from keyhook.catalogue import load_catalogue
from keyhook.depot.disk import read_folder
from keyhook.depot.reading import read_depot
from keyhook.errors import BadInput, UnknownName
from keyhook.turnaround.chances import day_chances, left_at, lognormal
from keyhook.turnaround.checker import violations
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.compose import DayNews, day_problem, reports_of
from keyhook.turnaround.dispatch import dispatch
from keyhook.turnaround.events import Damage, PersonAway, PlaceClosed, ReturnsAt, TaskDone, TaskRuns, VehicleOut
from keyhook.turnaround.plan import Plan, PlannedTask
from keyhook.turnaround.problem import After, Departure, Mode, Person, Place, Problem, Suits, Task, Vehicle
from keyhook.turnaround.replan import changes, day_from_now
from keyhook.turnaround.rules import verify_problem

DEMO = Path(__file__).resolve().parents[2] / "demo"
FRIDAY = dt.date(2026, 7, 10)


@pytest.fixture(scope="module")
def depot():
    return read_depot(read_folder(DEMO), load_catalogue())


@pytest.fixture(scope="module")
def friday(depot):
    problem = day_problem(depot, FRIDAY, load_catalogue(), suits={}, news=DayNews(arrivals={"H05": 675}))
    plan = dispatch(problem)
    assert isinstance(plan, Plan)
    return problem, plan


def _chain(means, sds, *, due=100_000, arrives=0, people=1):
    tasks = tuple(
        Task(
            id=f"t{n}",
            kind=f"k{n}",
            vehicle="v",
            modes=(Mode(1, mean, "yard"),),
            after=(After(f"t{n - 1}"),) if n else (),
            sd_min=sd,
        )
        for n, (mean, sd) in enumerate(zip(means, sds, strict=True))
    )
    return Problem(
        0,
        100_000,
        tuple(Person(f"p{n}", frozenset({"yard"}), (0, 100_000)) for n in range(people)),
        (Place("bay", 1),),
        (Vehicle("v", arrives_min=arrives),),
        tasks,
        (Departure("d", 0, (Suits("v"),), due_min=due),),
    )


def _plan(problem):
    plan = dispatch(problem)
    assert isinstance(plan, Plan)
    return plan


def test_a_lognormal_has_the_mean_and_spread_it_was_asked_for():
    """Closed form: E = exp(mu + s2/2), V = (exp(s2) - 1) exp(2 mu + s2)."""
    normal = np.random.default_rng(1).standard_normal((400_000, 1), np.float32)
    draws = lognormal(np.array([28.0]), np.array([8.0]), normal)[:, 0]
    assert draws.mean() == pytest.approx(28, rel=0.005)
    assert draws.std() == pytest.approx(8, rel=0.01)
    assert np.median(draws) == pytest.approx(28 / math.sqrt(1 + (8 / 28) ** 2), rel=0.005)


def test_a_chain_of_tasks_takes_the_sum_of_its_means_and_variances():
    means, sds = [20, 30, 15, 40], [6, 9, 5, 12]
    total, spread = sum(means), math.sqrt(sum(sd**2 for sd in sds))
    problem = _chain(means, sds, due=total)
    found = day_chances(problem, _plan(problem), draws=100_000, seed=2).departures[0]
    # Two moments decide the 90 % quantile of a nearly normal sum to about a minute (skew pulls it up a little).
    assert found.leaves_90_min == pytest.approx(total + 1.2816 * spread, abs=1.5)
    assert 0.5 < found.on_time_probability < 0.62


def test_without_spread_the_chances_are_the_plan_itself():
    problem = _chain([20, 30], [0, 0], due=50, arrives=7)
    found = day_chances(problem, _plan(problem), draws=10).departures[0]
    assert found.leaves_90_min == 57
    assert found.mean_late_min == 7
    assert found.on_time_probability == 0


def _event_loop(durations, hands):
    """Independent tasks on so many hands, in order, by a plain heap: the minute the last one ends."""
    free = [0.0] * hands
    heapq.heapify(free)
    last = 0.0
    for duration in durations:
        end = heapq.heappop(free) + duration
        heapq.heappush(free, end)
        last = max(last, end)
    return last


@pytest.mark.parametrize("hands", [1, 2, 3])
def test_free_hands_take_the_next_task_as_a_plain_event_loop_has_it(hands):
    means = [20, 35, 10, 25, 40, 15, 30, 22]
    problem = _chain(means, [8] * len(means), people=hands)
    loose = tuple(Task(t.id, t.kind, t.modes, vehicle="v", sd_min=t.sd_min) for t in problem.tasks)
    problem = Problem(0, 100_000, problem.people, problem.places, problem.vehicles, loose, problem.departures)
    order = tuple(
        PlannedTask(task.id, n, n + task.modes[0].duration_min, 0, (problem.people[0].id,))
        for n, task in enumerate(loose)
    )
    found = day_chances(problem, Plan(order, (("d", "v"),)), draws=40_000, seed=3).departures[0]
    rng = np.random.default_rng(11)
    log_sd = np.sqrt(np.log1p((8 / np.array(means)) ** 2))
    drawn = rng.lognormal(np.log(means) - log_sd**2 / 2, log_sd, (6_000, len(means)))
    ends = np.array([_event_loop(row, hands) for row in drawn])
    assert found.leaves_90_min == pytest.approx(np.quantile(ends, 0.9), rel=0.015)


def test_the_same_seed_draws_the_same_days_and_one_more_pair_of_hands_never_hurts_much(friday):
    problem, plan = friday
    one, two = (day_chances(problem, plan, draws=300, seed=5) for _ in range(2))
    assert one == two
    helps = day_chances(problem, plan, draws=300, seed=5, what_if=True).what_if
    assert helps[0].spared_min > 0
    assert helps == tuple(sorted(helps, key=lambda help_: -help_.spared_min))


def test_the_number_of_cores_changes_nothing(friday):
    problem, plan = friday
    one, three = (left_at(problem, plan, 700, 4, cores=cores) for cores in (1, 3))
    assert all((one[name] == three[name]).all() for name in one)


def test_the_demo_friday_is_a_sound_problem_and_the_rule_gives_a_plan_that_breaks_nothing(friday):
    problem, plan = friday
    verify_problem(problem)
    assert violations(problem, plan) == ()
    assert len(problem.departures) == 10
    assert {task.kind for task in problem.tasks if task.vehicle == "V2-08"} >= {
        "waste_toilet",
        "clean_sand",
        "wash_out",
    }


def test_what_a_return_brought_becomes_the_words_of_the_catalogue(depot):
    assert reports_of(depot.returns["H09"]) >= {"toilet foul", "sand"}
    assert "smoke" in reports_of(depot.returns["H07"])
    assert "wet inside" in reports_of(depot.returns["H08"])


@pytest.mark.parametrize(
    ("day", "clock_hours"),
    # London 2026: the spring day has 23 hours, the autumn day 25 (tz database).
    [(dt.date(2026, 3, 29), 23), (dt.date(2026, 10, 25), 25), (FRIDAY, 24)],
)
def test_a_day_on_which_the_clocks_change_has_its_own_length(day, clock_hours):
    clock = Clock(day, "Europe/London")
    assert clock.minute(Clock(day + dt.timedelta(days=1), "Europe/London").midnight) == clock_hours * 60
    assert clock.moment(clock.at(dt.time(14))).time() == dt.time(14)


def test_planning_again_keeps_what_has_begun_and_takes_in_what_happened(friday):
    problem, plan = friday
    now = 11 * 60
    events = (
        ReturnsAt("W4-09", 12 * 60),
        PersonAway("tolly", (now, 13 * 60)),
        Damage("A4-02", 90),
        PlaceClosed("wash_bay", (now, now + 30)),
    )
    rest = day_from_now(problem, plan, now, events)
    verify_problem(rest)
    again = dispatch(rest)
    assert isinstance(again, Plan)
    assert violations(rest, again) == ()
    for planned in plan.tasks:
        if planned.start_min < now:
            assert again.by_task[planned.task] == planned
    assert not [one for one in again.tasks if "tolly" in one.people and now <= one.start_min < 13 * 60]
    assert any(one.task == "A4-02.damage1" for one in again.tasks)
    told = changes(rest, plan, again)
    assert "A4-02.damage1" in told.added


def test_a_task_that_is_done_or_runs_longer_stands_as_told(friday):
    problem, plan = friday
    first = plan.tasks[0]
    done = day_from_now(problem, plan, first.start_min + 1, (TaskDone(first.task, first.start_min + 1),))
    assert done.task_by_id[first.task].fixed.end_min == first.start_min + 1
    runs = TaskRuns(first.task, first.start_min, first.end_min + 25, first.people)
    longer = day_from_now(problem, plan, first.start_min + 1, (runs,))
    assert longer.task_by_id[first.task].fixed.end_min == first.end_min + 25


def test_a_vehicle_that_is_out_serves_nobody(friday):
    problem, plan = friday
    rest = day_from_now(problem, plan, 500, (VehicleOut("W4-06"),))
    assert all(suits.vehicle != "W4-06" for departure in rest.departures for suits in departure.vehicles)


@pytest.mark.parametrize(
    "event", [ReturnsAt("Z9", 700), PersonAway("nobody", (1, 2)), Damage("Z9", 5), PlaceClosed("moon", (1, 2))]
)
def test_an_event_about_something_the_day_has_not_is_named(friday, event):
    problem, plan = friday
    with pytest.raises(UnknownName, match="The day has no such"):
        day_from_now(problem, plan, 500, (event,))


@pytest.mark.parametrize(
    "event", [PersonAway("tolly", (700, 700)), Damage("A4-02", 0), TaskRuns("W4-02.wash_out", 600, 600)]
)
def test_an_event_that_cannot_be_is_refused(friday, event):
    problem, plan = friday
    with pytest.raises(BadInput):
        day_from_now(problem, plan, 500, (event,))
