"""Every plan of a tiny day tried, by a search written for this test alone: the exact model and the annealer agree."""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import combinations, product

import pytest

from keyhook.turnaround.anneal import Limits, anneal
from keyhook.turnaround.bound import lateness_bound
from keyhook.turnaround.checker import violations
from keyhook.turnaround.dispatch import Stuck, dispatch
from keyhook.turnaround.exact import DayModel, hand_over_bound
from keyhook.turnaround.plan import Objective, Plan, PlannedBreak, PlannedTask
from keyhook.turnaround.problem import (
    ALL_ZONES,
    After,
    Break,
    Departure,
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

SEEDS = range(24)
CLOSING = 8


def _tiny_day(seed: int) -> Problem:
    """Return a day of eight minutes: two vehicles, two departures, four or five tasks, two people."""
    rng = random.Random(seed)
    chance = rng.random
    tasks = [
        Task(
            id=f"clean {name}",
            kind="clean",
            modes=(Mode(1, rng.randint(1, 3), "clean"), Mode(2, 1, "clean"))[: rng.randint(1, 2)],
            vehicle=name,
            zones=frozenset({"lounge"}),
            place="hall" if chance() < 0.5 else None,
            place_tail_min=rng.randint(0, 1),
            gate=True,
            counts=True,
            only_if_leaving=chance() < 0.5,
        )
        for name in ("van", "bus")
    ]
    tasks.append(
        Task(
            id="look van",
            kind="look",
            modes=(Mode(1, rng.randint(1, 2), "tech"),),
            vehicle="van",
            zones=frozenset({ALL_ZONES}) if chance() < 0.5 else frozenset({"cab"}),
            place="hall" if chance() < 0.5 else None,
            after=(After("clean van", rng.randint(0, 1)),),
            not_by=(NotBy("clean van"),) if chance() < 0.6 else (),
            counts=True,
        )
    )
    tasks.append(
        Task(
            id="hand to one",
            kind="hand_over",
            modes=(Mode(1, rng.randint(1, 2), "tech"),),
            departure="one",
            after=(After("clean", rng.randint(0, 1), on_vehicle=True),),
            needs_hirer=chance() < 0.5,
            counts=True,
        )
    )
    people = (
        Person("ash", frozenset({"clean", "tech"}), (0, rng.randint(5, 7)), overtime_max_min=rng.randint(0, 2)),
        Person(
            "elm",
            frozenset({"clean", "tech"} if chance() < 0.5 else {"clean"}),
            (rng.randint(0, 1), 7),
            breaks=(Break(2, 4, 1),) if chance() < 0.5 else (),
            pace_factor=rng.choice([1.0, 1.0, 1.5]),
        ),
    )
    departures = (
        Departure(
            "one",
            promised_min=rng.randint(1, 4),
            vehicles=(Suits("van"), Suits("bus", rng.randint(0, 2))),
            weight=rng.randint(1, 3),
            allotted="van",
            postpone_cost=rng.choice([None, 4, 9]),
        ),
        Departure(
            "two",
            promised_min=rng.randint(2, 5),
            vehicles=(Suits("bus"), Suits("van", 1))[: rng.randint(1, 2)],
            weight=rng.randint(1, 3),
            allotted="bus",
            postpone_cost=rng.choice([3, 8]),
        ),
    )
    return Problem(
        opening_min=0,
        closing_min=CLOSING,
        people=people,
        places=(Place("hall", 1, ((3, 4),) if chance() < 0.3 else ()),),
        vehicles=(Vehicle("van", arrives_min=rng.randint(0, 1)), Vehicle("bus", arrives_min=rng.randint(0, 2))),
        tasks=tuple(tasks),
        departures=departures,
        held=(Held("clean bus", 1, ("elm",)),) if chance() < 0.5 else (),
        held_tolerance_min=1,
    )


def _ways(problem: Problem, task: Task) -> Iterator[PlannedTask]:
    """Yield every way, crew and minute of one task, feasible or not."""
    for number, mode in enumerate(task.modes):
        able = [person for person in problem.people if mode.skill in person.skills]
        for crew in combinations(able, mode.crew):
            slowest = max(person.pace_factor for person in crew)
            takes = -int(-mode.duration_min * slowest // 1)
            for start in range(CLOSING - takes + 1):
                yield PlannedTask(task.id, start, start + takes, number, tuple(sorted(p.id for p in crew)))


def _apart(chosen: list[PlannedTask], more: PlannedTask) -> bool:
    """Tell whether nobody has two things to do at once (all else is left to the checker)."""
    return not any(
        set(one.people) & set(more.people) and one.start_min < more.end_min and more.start_min < one.end_min
        for one in chosen
    )


def _choices(ways: list[list[PlannedTask]]) -> Iterator[list[PlannedTask]]:
    chosen: list[PlannedTask] = []

    def deeper(level: int) -> Iterator[list[PlannedTask]]:
        if level == len(ways):
            yield list(chosen)
            return
        for way in ways[level]:
            if _apart(chosen, way):
                chosen.append(way)
                yield from deeper(level + 1)
                chosen.pop()

    return deeper(0)


def _every_plan(problem: Problem) -> Iterator[Plan]:
    """Yield every plan of a tiny day worth asking the checker about."""
    rests = [
        [PlannedBreak(person.id, index, start) for start in range(rest.earliest_min, rest.latest_min + 1)]
        for person in problem.people
        for index, rest in enumerate(person.breaks)
    ]
    for served in product(("van", "bus", None), repeat=2):
        allotment = tuple((departure.id, name) for departure, name in zip(problem.departures, served, strict=True))
        called = [task for task in problem.tasks if _called(task, dict(allotment))]
        alone = [[way for way in _ways(problem, task) if _stands_alone(problem, way, allotment)] for task in called]
        for tasks, breaks in product(_choices(alone), product(*rests)):
            yield Plan(tuple(tasks), allotment, tuple(breaks))


def _called(task: Task, served: dict[str, str | None]) -> bool:
    if task.departure is not None:
        return served[task.departure] is not None
    return not task.only_if_leaving or task.vehicle in served.values()


#: Families that a task breaks whatever else is planned: ways that break one are not worth pairing with others.
ALONE = {"not_before", "closing", "shift", "allotment", "crew", "pace", "names"}


def _stands_alone(problem: Problem, way: PlannedTask, allotment: tuple[tuple[str, str | None], ...]) -> bool:
    return not any(found.family in ALONE for found in violations(problem, Plan((way,), allotment)))


def _least_of_all(problem: Problem) -> Objective | None:
    least: Objective | None = None
    for plan in _every_plan(problem):
        cost = objective(problem, plan)
        if (least is None or cost < least) and not violations(problem, plan):
            least = cost
    return least


@pytest.mark.parametrize("seed", SEEDS)
def test_the_exact_model_finds_what_trying_every_plan_finds(seed: int) -> None:
    problem = _tiny_day(seed)
    found = DayModel(problem).level_by_level(60, seed=seed)
    least = _least_of_all(problem)
    if least is None:
        assert found.impossible
        return
    assert found.plan is not None
    assert violations(problem, found.plan) == ()
    assert found.proven == len(Objective._fields)
    assert objective(problem, found.plan) == least == Objective(*found.bounds)


def _start(seed: int) -> Plan | None:
    found = dispatch(_tiny_day(seed))
    return None if isinstance(found, Stuck) else found


@pytest.mark.parametrize("seed", [seed for seed in SEEDS if _start(seed) is not None])
def test_the_annealer_finds_the_proven_optimum_of_tiny_days(seed: int) -> None:
    problem, start = _tiny_day(seed), _start(seed)
    proven = DayModel(problem).level_by_level(60)
    assert start is not None
    assert proven.plan is not None
    plan = anneal(problem, start, Limits(step_count=20_000), seed=seed)
    assert violations(problem, plan) == ()
    assert objective(problem, plan) == objective(problem, proven.plan)


def test_the_tiny_days_are_of_every_kind() -> None:
    found = [DayModel(_tiny_day(seed)).level_by_level(60) for seed in SEEDS]
    plans = [(_tiny_day(seed), one.plan) for seed, one in zip(SEEDS, found, strict=True) if one.plan is not None]
    costs = [objective(problem, plan) for problem, plan in plans]
    assert len(plans) >= len(SEEDS) // 2
    assert all(any(cost[level] for cost in costs) for level in range(len(Objective._fields)))
    assert any(None in plan.vehicle_of.values() for _, plan in plans)


def test_no_plan_beats_the_bound_and_some_reach_it() -> None:
    reached = reached_alone = 0
    for seed in SEEDS:
        problem = _tiny_day(seed)
        found, bound = DayModel(problem).level_by_level(60), lateness_bound(problem)
        if found.plan is not None:
            assert bound is not None
            alone = hand_over_bound(problem, found.plan, 60)
            assert max(bound, alone) <= found.bounds[0]
            reached += bound == found.bounds[0]
            reached_alone += alone == found.bounds[0] > 0
    assert reached > 0
    assert reached_alone > 0


# Interval partitioning: so many hands as jobs overlap at the busiest moment are needed, and are enough (the interval
# graph's chromatic number is its clique number; Kleinberg and Tardos, Algorithm Design, section 4.1; from memory).
@pytest.mark.parametrize("seed", range(6))
def test_as_many_hands_as_jobs_overlap_are_enough_and_one_fewer_is_not(seed: int) -> None:
    rng = random.Random(seed)
    jobs = [(start, start + rng.randint(2, 9)) for start in (rng.randint(0, 30) for _ in range(9))]
    greatest = max(sum(begin <= minute < end for begin, end in jobs) for minute in range(40))
    assert _lateness_with(jobs, hands=greatest) == 0
    assert greatest == 1 or _lateness_with(jobs, hands=greatest - 1) > 0


def _lateness_with(jobs: list[tuple[int, int]], hands: int) -> int:
    names = [f"job {number}" for number in range(len(jobs))]
    problem = Problem(
        opening_min=0,
        closing_min=400,
        people=tuple(Person(f"hand {number}", frozenset({"any"}), (0, 400)) for number in range(hands)),
        places=(),
        vehicles=tuple(Vehicle(name) for name in names),
        tasks=tuple(
            Task(name, "job", (Mode(1, end - begin, "any"),), vehicle=name, release_min=begin)
            for name, (begin, end) in zip(names, jobs, strict=True)
        ),
        departures=tuple(
            Departure(name, promised_min=end, vehicles=(Suits(name),))
            for name, (_, end) in zip(names, jobs, strict=True)
        ),
    )
    found = DayModel(problem).solve(0, 60)
    assert found.proven
    return found.bound
