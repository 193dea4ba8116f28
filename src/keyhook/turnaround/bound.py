"""What no plan can beat: shortest ways through a day, and lower bounds on its lateness."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from graphlib import TopologicalSorter

from keyhook.turnaround.plan import tasks_meant, tasks_to_do
from keyhook.turnaround.problem import Problem, Task, minutes_at_pace


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
    """Return task ids so that each stands after whatever it may wait for, whoever serves whom."""
    graph: dict[str, set[str]] = {}
    own = [task.id for task in problem.tasks if task.departure is None]
    for task in problem.tasks:
        plain = [link for link in task.after if not (link.on_vehicle and task.departure is not None)]
        graph[task.id] = {other.id for link in plain for other in tasks_meant(problem, task, link, task.vehicle)}
        if task.departure is not None:
            graph[task.id].update(own)
    return list(TopologicalSorter(graph).static_order())


__all__ = ["quickest_min", "shortest_rest", "tasks_to_do"]
