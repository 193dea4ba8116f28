"""What no plan can beat: shortest ways through a day, and lower bounds on its lateness."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from graphlib import TopologicalSorter

import numpy as np
from scipy.optimize import linear_sum_assignment

from keyhook.turnaround.plan import earliest_start_min, tasks_meant, tasks_to_do, vehicle_under, waits
from keyhook.turnaround.problem import Problem, Task, minutes_at_pace

#: Stands for "this cannot be" in a table of costs; more than any day costs.
CANNOT = 1e12


def lateness_bound(problem: Problem) -> int | None:
    """Return a lateness that no plan can be better than (level one); None when no plan can exist.

    As if there were hands and places without end: every departure gets the vehicle, or is put off, so that the sum
    of what each pair must cost at least is least (an assignment problem, solved exactly).
    """
    vehicles, departures = problem.vehicles, problem.departures
    if not departures:
        return 0
    cost = np.full((len(departures), len(vehicles) + len(departures)), CANNOT)
    for row, departure in enumerate(departures):
        for column, vehicle in enumerate(vehicles):
            if departure.cost_of(vehicle.id) is not None:
                leaves = earliest_leave_min(problem, departure.id, vehicle.id)
                if leaves is not None:
                    cost[row, column] = departure.weight * max(0, leaves - departure.due)
        if departure.postpone_cost is not None:
            cost[row, len(vehicles) + row] = departure.postpone_cost
    least = float(cost[linear_sum_assignment(cost)].sum())
    return None if least >= CANNOT else round(least)


def earliest_leave_min(problem: Problem, departure: str, vehicle: str) -> int | None:
    """Return the first minute at which a departure could leave in a vehicle if nobody else wanted hands or places.

    None when that is after closing.
    """
    ends = earliest_ends_min(problem, departure, vehicle)
    leaves = [end for name, end in ends.items() if _counts_for(problem.task_by_id[name], departure, vehicle)]
    last = max(leaves, default=problem.opening_min)
    return last if last <= problem.closing_min else None


def earliest_ends_min(problem: Problem, departure: str, vehicle: str) -> dict[str, int]:
    """Return when each task of a departure and its vehicle could end if nobody else wanted hands or places [min]."""
    problem = _alone(problem, departure, vehicle)
    allotment: dict[str, str | None] = {departure: vehicle}
    before: dict[str, list[tuple[str, int]]] = {task.id: [] for task in tasks_to_do(problem, allotment)}
    for wait in waits(problem, allotment):
        before[wait.after].append((wait.before, wait.lag_min))
    ends: dict[str, int] = {}
    for name in TopologicalSorter(
        {after: [one for one, _ in all_of] for after, all_of in before.items()}
    ).static_order():
        task = problem.task_by_id[name]
        ready = max((ends[one] + lag for one, lag in before[name]), default=problem.opening_min)
        ends[name] = _earliest_end(problem, task, vehicle_under(task, allotment), ready)
    return ends


def _alone(problem: Problem, departure: str, vehicle: str) -> Problem:
    """Return the day with this departure, this vehicle, and the tasks on which they depend."""
    tasks: dict[str, Task] = {}
    to_see = [*problem.tasks_of_departure[departure], *problem.tasks_of_vehicle[vehicle]]
    while to_see:
        task = to_see.pop()
        if task.id not in tasks:
            tasks[task.id] = task
            to_see += [problem.task_by_id[link.what] for link in task.after if not link.on_vehicle]
    names = {vehicle, *(task.vehicle for task in tasks.values())}
    departures = {departure, *(task.departure for task in tasks.values())}
    return replace(
        problem,
        tasks=tuple(tasks.values()),
        vehicles=tuple(problem.vehicle_by_id[name] for name in names if name is not None),
        departures=tuple(problem.departure_by_id[name] for name in departures if name is not None),
        held=(),
    )


def _earliest_end(problem: Problem, task: Task, vehicle: str | None, ready_min: int) -> int:
    if task.fixed is not None:
        return task.fixed.end_min
    start = max(ready_min, earliest_start_min(problem, task, vehicle), _first_hands(problem, task))
    return start + quickest_min(problem, task)


def _first_hands(problem: Problem, task: Task) -> int:
    """Return the first minute at which anybody who can do the task in some mode is on shift."""
    if any(mode.crew == 0 for mode in task.modes):
        return problem.opening_min
    skills = {mode.skill for mode in task.modes}
    able = [person.shift[0] for person in problem.people if skills & person.skills]
    return min(able, default=problem.closing_min + 1)


def _counts_for(task: Task, departure: str, vehicle: str) -> bool:
    return task.counts and (task.departure == departure or (task.departure is None and task.vehicle == vehicle))


def quickest_min(problem: Problem, task: Task) -> int:
    """Return the shortest a task can take: its quickest mode with the quickest people who can do it [min]."""
    return min(_quickest_mode(problem, mode.skill, mode.duration_min, mode.crew) for mode in task.modes)


def _quickest_mode(problem: Problem, skill: str, duration_min: int, crew: int) -> int:
    paces = sorted(person.pace_factor for person in problem.people if skill in person.skills)
    return duration_min if crew == 0 or len(paces) < crew else minutes_at_pace(duration_min, paces[crew - 1])


def shortest_rest(problem: Problem) -> list[int]:
    """Return, for each task, the shortest time from its end to where its departure can leave [min].

    Whoever serves whom: a task of a vehicle takes the least over the departures the vehicle may serve.
    A task that belongs to neither takes 0, and so does one that nothing which counts waits for.
    """
    took = {task.id: quickest_min(problem, task) for task in problem.tasks}
    follow: dict[str, list[tuple[Task, int]]] = {task.id: [] for task in problem.tasks}
    for task in problem.tasks:
        for link in task.after:
            if not (link.on_vehicle and task.departure is not None):
                for other in tasks_meant(problem, task, link, task.vehicle):
                    follow[other.id].append((task, link.lag_min))
    rest: dict[str, int] = {}
    for name in reversed(_in_order(problem)):
        task = problem.task_by_id[name]
        rest[name] = _longest(follow[name], took, rest) if task.vehicle or task.departure else 0
        if task.vehicle is not None:
            rest[name] = max(rest[name], _least_over_departures(problem, task, took, rest))
    return [rest[task.id] for task in problem.tasks]


def _longest(follow: Sequence[tuple[Task, int]], took: Mapping[str, int], rest: Mapping[str, int]) -> int:
    ways = [lag + took[task.id] + rest[task.id] for task, lag in follow if task.counts or rest[task.id] > 0]
    return max(ways, default=0)


def _least_over_departures(problem: Problem, task: Task, took: Mapping[str, int], rest: Mapping[str, int]) -> int:
    ways = []
    for departure in problem.departures:
        if any(suits.vehicle == task.vehicle for suits in departure.vehicles):
            waiting = [
                (other, link.lag_min)
                for other in problem.tasks_of_departure[departure.id]
                for link in other.after
                if link.on_vehicle and link.what in {"*", task.kind}
            ]
            ways.append(_longest(waiting, took, rest))
    return min(ways, default=0)


def _in_order(problem: Problem) -> list[str]:
    """Return task ids so that each stands after whatever it may wait for, whoever serves whom.

    What departures own comes last: any of it may wait for any task of a vehicle.
    """
    waits_for: dict[bool, dict[str, set[str]]] = {False: {}, True: {}}
    for task in problem.tasks:
        served = task.departure is not None
        plain = [link for link in task.after if not (link.on_vehicle and served)]
        others = [other for link in plain for other in tasks_meant(problem, task, link, task.vehicle)]
        waits_for[served][task.id] = {other.id for other in others if (other.departure is not None) == served}
    return [name for served in (False, True) for name in TopologicalSorter(waits_for[served]).static_order()]
