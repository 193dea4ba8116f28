"""The tour against every subset in every order, on tours small enough to try them all."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, pairwise, permutations, product

import numpy as np
import pytest

from keyhook.tour import search as search_module
from keyhook.tour.checker import complaints
from keyhook.tour.greedy import fixed_talk, greedy_tour
from keyhook.tour.problem import TourPoint, TourProblem
from keyhook.tour.search import best_tour
from keyhook.tour.select import STEPS, Choice, Search
from keyhook.tour.visits import ground_of

LONG = Search(limit_s=20.0)


def small_tour(seed: int, *, across: bool, points: int = 6, stations: int = 4) -> TourProblem:
    """A seeded tour; ``across`` lets points wait for those of later stations only, so no two stations wait mutually."""
    rng = np.random.default_rng(seed)
    names = [f"s{number}" for number in range(stations)]
    place = rng.random((stations, 2)) * 30
    walking = {
        (a, b): round(float(np.linalg.norm(place[i] - place[j])), 1) + (0.1 if i != j else 0.0)
        for (i, a), (j, b) in product(enumerate(names), repeat=2)
    }
    for via, one, other in product(names, names, names):
        walking[one, other] = min(walking[one, other], walking[one, via] + walking[via, other])
    made: list[TourPoint] = []
    for number in range(points):
        closing = bool(rng.random() < 0.15)
        station = names[-1] if closing else names[int(rng.integers(stations))]
        pool = [
            other
            for other in made
            if (closing or not other.closing) and (other.station == station or (across and other.station < station))
        ]
        after = (pool[int(rng.integers(len(pool)))].id,) if pool and rng.random() < 0.6 else ()
        made.append(
            TourPoint(
                f"p{number}",
                station,
                float(rng.integers(5, 40)),
                float(rng.integers(1, 30)),
                bool(rng.random() < 0.2),
                after,
                closing,
            )
        )
    return TourProblem(tuple(made), tuple(names), walking, names[0], names[-1], float(rng.uniform(0.8, 3.0)), 1.6)


def seconds_of(problem: TourProblem, order: tuple[TourPoint, ...]) -> float:
    stands = [problem.start_station, *(point.station for point in order), problem.end_station]
    walking = sum(problem.walking_s[pair] for pair in pairwise(stands))
    return walking + sum(point.duration_s for point in order) * problem.talk_factor * problem.pace_factor


def may_be_walked(order: tuple[TourPoint, ...], *, once: bool) -> bool:
    seen: set[str] = set()
    for point in order:
        if not set(point.after) <= seen:
            return False
        seen.add(point.id)
    if any(one.closing and not other.closing for one, other in pairwise(order)):
        return False
    runs = [
        point.station for number, point in enumerate(order) if not number or order[number - 1].station != point.station
    ]
    body = [
        point.station
        for number, point in enumerate(p for p in order if not p.closing)
        if not number or [p for p in order if not p.closing][number - 1].station != point.station
    ]
    return not once or len(body) == len(set(body)) or len(runs) == len(set(runs))


def best_by_trying_all(problem: TourProblem, *, once: bool) -> float | None:
    """What the best order of the best subset saves; None when what must be said does not fit."""
    musts = {point.id for point in problem.points if point.mandatory}
    best = None
    for size in range(len(problem.points) + 1):
        for chosen in combinations(problem.points, size):
            value = sum(point.value_cost for point in chosen)
            if not musts <= {point.id for point in chosen} or (best is not None and value <= best):
                continue
            if any(
                may_be_walked(order, once=once) and seconds_of(problem, order) <= 60 * problem.available_min
                for order in permutations(chosen)
            ):
                best = value
    return best


@pytest.mark.parametrize("across", [False, True])
@pytest.mark.parametrize("seed", range(25))
def test_the_tour_saves_as_much_as_the_best_of_all_subsets_in_all_orders(seed, across):
    problem = small_tour(seed, across=across)
    plan = best_tour(problem, LONG)
    assert complaints(problem, plan) == ()
    best = best_by_trying_all(problem, once=across)
    if best is None:
        assert {point.id for point in problem.points if point.mandatory} <= set(plan.points)
        assert plan.end_s > 60 * problem.available_min
        return
    assert plan.proven
    assert plan.value_cost == pytest.approx(best)
    assert plan.bound_cost == pytest.approx(best, abs=1e-3)


def test_the_cases_tried_are_not_all_alike():
    kinds = [best_by_trying_all(small_tour(seed, across=True), once=True) for seed in range(25)]
    everything = [sum(p.value_cost for p in small_tour(seed, across=True).points) for seed in range(25)]
    assert sum(kind is None for kind in kinds) >= 2, "some where what must be said does not fit"
    assert sum(kind is not None and kind < all_ for kind, all_ in zip(kinds, everything, strict=True)) >= 10


def waiting_in_a_knot(minutes: float) -> TourProblem:
    """Door before locker before door: the gas at the locker is opened between two things at the door."""
    walking = {(a, b): 0.0 if a == b else 10.0 for a, b in product(("door", "locker"), repeat=2)}
    points = (
        TourPoint("key", "door", 20, 3.0),
        TourPoint("valve", "locker", 20, 5.0, after=("key",)),
        TourPoint("light", "door", 20, 9.0, after=("valve",)),
        TourPoint("step", "door", 20, 1.0),
    )
    return TourProblem(points, ("door", "locker"), walking, "door", "door", minutes, talk_factor=1.0)


@pytest.mark.parametrize("minutes", [0.5, 1.0, 80 / 60, 100 / 60, 2.0])
def test_stations_that_wait_for_one_another_are_visited_twice_and_no_order_is_better(minutes):
    problem = waiting_in_a_knot(minutes)
    plan = best_tour(problem, LONG)
    assert complaints(problem, plan) == ()
    assert plan.proven
    assert plan.value_cost == pytest.approx(best_by_trying_all(problem, once=False))


def test_a_tour_in_a_knot_by_hand():
    plan = best_tour(waiting_in_a_knot(100 / 60), LONG)
    assert [stop.station for stop in plan.stops] == ["door", "locker", "door"]
    assert plan.value_cost == 18.0
    assert plan.end_s == 100.0  # 4 x 20 s of talk, 2 x 10 s on foot


@pytest.mark.parametrize("seed", range(20))
def test_in_a_knot_of_any_kind_no_order_of_all_points_is_better(seed):
    loose = small_tour(seed, across=False, points=6, stations=3)
    rng = np.random.default_rng(seed)
    order = [loose.points[number] for number in rng.permutation(6)]
    points = [replace(point, after=(), closing=False) for point in order]
    for number in range(1, 6):
        points[number] = replace(points[number], after=(points[int(rng.integers(number))].id,))
    problem = replace(loose, points=tuple(points))
    plan = best_tour(problem, LONG)
    assert complaints(problem, plan) == ()
    once, free = best_by_trying_all(problem, once=True), best_by_trying_all(problem, once=False)
    if free is None:
        assert plan.end_s > 60 * problem.available_min
    else:
        assert plan.proven
        assert (once or 0.0) - 1e-9 <= plan.value_cost <= free + 1e-9


@pytest.mark.parametrize("seed", range(12))
def test_the_model_that_says_everything_proves_the_same_alone(seed, monkeypatch):
    problem = small_tour(seed, across=True)
    usual = best_tour(problem, LONG)
    for step in ("_try_orders", "_prove"):
        monkeypatch.setattr(search_module.Finder, step, lambda _self: None)
    alone = best_tour(problem, LONG)
    assert complaints(problem, alone) == ()
    assert (alone.proven, alone.value_cost) == (usual.proven, pytest.approx(usual.value_cost))


def test_the_greedy_tour_and_the_fixed_talk_hold_too_and_save_no_more():
    for seed in range(15):
        problem = small_tour(seed, across=True)
        best, greedy = best_tour(problem, LONG), greedy_tour(problem)
        assert complaints(problem, greedy) == ()
        if best.end_s <= 60 * problem.available_min:
            assert fixed_talk(problem, mandatory_first=True).value_cost <= best.value_cost + 1e-9
            assert greedy.value_cost <= best.value_cost + 1e-9


def test_the_bound_without_walking_by_hand():
    """40 s: the must of 10 s saves 1, then 20 s that save 10, then half of 20 s that save 4: 13."""
    points = (
        TourPoint("must", "a", 10, 1.0, mandatory=True),
        TourPoint("dear", "a", 20, 10.0),
        TourPoint("cheap", "a", 20, 4.0),
    )
    problem = TourProblem(points, ("a",), {("a", "a"): 0.0}, "a", "a", 40 / 60, talk_factor=1.0)
    assert search_module.talk_bound_steps(ground_of(problem)) / STEPS == pytest.approx(13.0)
    assert best_tour(problem, LONG).value_cost == 11.0


def test_without_a_solver_the_greedy_tour_stands_in(monkeypatch):
    problem = small_tour(3, across=True)
    monkeypatch.setattr(search_module, "SOLVER_THERE", False)
    plan = best_tour(problem)
    assert plan.how == "greedy"
    assert not plan.proven
    assert complaints(problem, plan) == ()
    assert plan.value_cost == greedy_tour(problem).value_cost


def test_with_no_time_to_search_the_greedy_tour_stands_in():
    plan = best_tour(small_tour(3, across=True), Search(limit_s=0.0))
    assert (plan.how, plan.proven) == ("greedy", False)


def test_a_solver_that_knows_nothing_in_the_time_leaves_a_tour_that_holds(monkeypatch):
    nothing = Choice("unknown", frozenset(), (), float("inf"), 1.0)
    for name in ("choose_on_round", "choose_along", "choose_in_order", "choose_by_walks", "shortest_round"):
        monkeypatch.setattr(search_module, name, lambda *_, **__: nothing)
    problem = small_tour(3, across=True)
    plan = best_tour(problem, Search(limit_s=2.0))
    assert complaints(problem, plan) == ()
    assert plan.value_cost >= greedy_tour(problem).value_cost
    assert not plan.proven


def test_a_solver_that_breaks_the_order_is_caught_and_never_shown(monkeypatch):
    problem = waiting_in_a_knot(100 / 60)
    wrong = Choice("best", frozenset({"light"}), (), 99.0, 0.0)
    monkeypatch.setattr(search_module, "choose_on_round", lambda *_, **__: wrong)
    plan = best_tour(problem, Search(limit_s=2.0))
    assert complaints(problem, plan) == ()
