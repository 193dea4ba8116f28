"""Is a plan what it says? Everything recomputed from the problem alone; knows no solver and no planner of ours."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from keyhook.errors import NoPlan
from keyhook.tour.plan import TourPlan
from keyhook.tour.problem import TourProblem

#: Rounding of sums of seconds and costs only.
TOLERANCE = 1e-6


def complaints(problem: TourProblem, plan: TourPlan) -> tuple[str, ...]:
    """Return everything wrong with a plan, one sentence each; empty when it may be shown."""
    known = {point.id for point in problem.points}
    strange = [name for name in plan.points if name not in known]
    if strange:
        return tuple(f"{name} is no point of this tour" for name in strange)
    checks = (_once, _places, _clock, _value, _mandatory, _order, _closing, _limit)
    return tuple(said for check in checks for said in check(problem, plan))


def verified(problem: TourProblem, plan: TourPlan) -> TourPlan:
    """Return the plan when nothing is wrong with it.

    Raises
    ------
    NoPlan
        Something is wrong; the message names the first thing.
    """
    found = complaints(problem, plan)
    if found:
        raise NoPlan("A planned tour did not pass its own check", seen=found[0], todo="Report this; show no tour")
    return plan


def _once(problem: TourProblem, plan: TourPlan) -> Iterator[str]:
    for name, count in Counter(plan.points).items():
        if count > 1:
            yield f"{name} is shown {count} times"
        if name in problem.done:
            yield f"{name} is done already"
        if name in problem.skipped and name not in _must_be_said(problem):
            yield f"{name} was passed over"


def _places(problem: TourProblem, plan: TourPlan) -> Iterator[str]:
    home = {point.id: point.station for point in problem.points}
    for stop in plan.stops:
        for line in stop.lines:
            if home[line.point] != stop.station:
                yield f"{line.point} is shown at {stop.station}, it belongs to {home[line.point]}"


def _clock(problem: TourProblem, plan: TourPlan) -> Iterator[str]:
    """Add walking and talking up from the start and compare every time on the way."""
    seconds = {point.id: point.duration_s for point in problem.points}
    stand, now_s = problem.start_station, problem.elapsed_s
    for stop in plan.stops:
        way_s = problem.walking_s[(stand, stop.station)]
        if abs(way_s - stop.walk_s) > TOLERANCE:
            yield f"the walk to {stop.station} is {way_s:.2f} s, not {stop.walk_s:.2f} s"
        now_s += way_s
        if abs(stop.arrive_s - now_s) > TOLERANCE:
            yield f"they are at {stop.station} after {now_s:.2f} s, not {stop.arrive_s:.2f} s"
        for line in stop.lines:
            takes_s = seconds[line.point] * problem.talk_factor * problem.pace_factor
            if abs(line.start_s - now_s) > TOLERANCE or abs(line.talk_s - takes_s) > TOLERANCE:
                yield f"{line.point} runs from {now_s:.2f} s for {takes_s:.2f} s"
            now_s += takes_s
        stand = stop.station
    now_s += problem.walking_s[(stand, problem.end_station)]
    if abs(now_s - plan.end_s) > TOLERANCE:
        yield f"the tour ends after {now_s:.2f} s, not {plan.end_s:.2f} s"


def _value(problem: TourProblem, plan: TourPlan) -> Iterator[str]:
    worth = {point.id: point.value_cost for point in problem.points}
    total = sum(worth[name] for name in plan.points)
    if abs(total - plan.value_cost) > TOLERANCE * max(1.0, total):
        yield f"the points save {total:.4f} together, not {plan.value_cost:.4f}"


def _mandatory(problem: TourProblem, plan: TourPlan) -> Iterator[str]:
    shown = set(plan.points)
    for point in problem.points:
        if point.mandatory and point.id not in shown and point.id not in problem.done:
            yield f"{point.id} must be said and is missing"


def _order(problem: TourProblem, plan: TourPlan) -> Iterator[str]:
    place = {name: number for number, name in enumerate(plan.points)}
    known = {point.id for point in problem.points}
    for point in problem.points:
        if point.id not in place:
            continue
        for earlier in point.after:
            if earlier not in known or earlier in problem.done:
                continue
            if earlier not in place:
                yield f"{point.id} needs {earlier} before it, which is not shown"
            elif place[earlier] > place[point.id]:
                yield f"{point.id} is shown before {earlier}"


def _closing(problem: TourProblem, plan: TourPlan) -> Iterator[str]:
    last = {point.id for point in problem.points if point.closing}
    seen = ""
    for name in plan.points:
        if name in last:
            seen = name
        elif seen:
            yield f"{name} comes after {seen}, which is said last, at the wheel"


def _limit(problem: TourProblem, plan: TourPlan) -> Iterator[str]:
    over_s = plan.end_s - max(60.0 * problem.available_min, problem.elapsed_s)
    if over_s <= TOLERANCE:
        return
    needed = _must_be_said(problem)
    spare = [name for name in plan.points if name not in needed]
    if spare:
        yield f"the tour is {over_s:.2f} s too long and still shows {spare[0]}, which may be left out"


def _must_be_said(problem: TourProblem) -> set[str]:
    """Return the mandatory points not done with all that must come before them, by going round until nothing grows."""
    waits = {point.id: set(point.after) for point in problem.points if point.id not in problem.done}
    needed = {point.id for point in problem.points if point.mandatory and point.id in waits}
    while True:
        more = {earlier for name in needed for earlier in waits[name] if earlier in waits} - needed
        if not more:
            return needed
        needed |= more
