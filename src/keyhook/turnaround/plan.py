"""A plan of one day, its objective, and what an allotment makes of the tasks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from keyhook.turnaround.problem import EVERY_KIND, After, NotBy, Problem, Task


class Objective(NamedTuple):
    """What a plan costs, level by level; a tuple, so plans compare as the levels rank.

    lateness
        Weighted minutes of late hand-overs, and the cost of those put off.
    swaps
        Cost of vehicles other than promised or booked.
    overtime
        Minutes after the ends of shifts.
    moved
        Tasks that differ from the plan people hold.
    """

    lateness: int
    swaps: int
    overtime: int
    moved: int


@dataclass(frozen=True, slots=True)
class PlannedTask:
    """One task in the plan: from, to [min of the day], how (index of its modes) and by whom (sorted ids)."""

    task: str
    start_min: int
    end_min: int
    mode: int
    people: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlannedBreak:
    """When a person takes the break with this index."""

    person: str
    index: int
    start_min: int


@dataclass(frozen=True)
class Plan:
    """Tasks with minutes and people, who serves whom, and when people rest.

    ``allotment`` has a pair for every departure: its vehicle, or None when it is put off. Tasks that are
    not done today do not appear.
    """

    tasks: tuple[PlannedTask, ...]
    allotment: tuple[tuple[str, str | None], ...]
    breaks: tuple[PlannedBreak, ...] = ()

    @cached_property
    def by_task(self) -> Mapping[str, PlannedTask]:
        """Planned tasks by task id."""
        return {planned.task: planned for planned in self.tasks}

    @cached_property
    def vehicle_of(self) -> Mapping[str, str | None]:
        """Vehicle by departure id; None when put off."""
        return dict(self.allotment)

    @cached_property
    def departure_of(self) -> Mapping[str, str]:
        """Departure by the id of the vehicle that serves it."""
        return {vehicle: departure for departure, vehicle in self.allotment if vehicle is not None}


@dataclass(frozen=True, slots=True)
class Wait:
    """``after`` may begin ``lag_min`` after the end of ``before`` (task ids), under one allotment."""

    before: str
    after: str
    lag_min: int


def tasks_to_do(problem: Problem, allotment: Mapping[str, str | None]) -> tuple[Task, ...]:
    """Return the tasks that are done today under an allotment (departure id to vehicle id or None)."""
    leaving = {vehicle for vehicle in allotment.values() if vehicle is not None}
    return tuple(task for task in problem.tasks if _is_done(task, allotment, leaving))


def _is_done(task: Task, allotment: Mapping[str, str | None], leaving: set[str]) -> bool:
    if task.fixed is not None:
        return True
    if task.departure is not None:
        return allotment.get(task.departure) is not None
    return not task.only_if_leaving or task.vehicle in leaving


def tasks_meant(problem: Problem, task: Task, link: After | NotBy, vehicle: str | None) -> tuple[Task, ...]:
    """Return the tasks a link of ``task`` speaks of when ``vehicle`` serves the task's departure."""
    if not link.on_vehicle:
        return (problem.task_by_id[link.what],)
    on_vehicle = problem.tasks_of_vehicle.get(vehicle or "", ())
    return tuple(other for other in on_vehicle if link.what in {EVERY_KIND, other.kind} and other.id != task.id)


def waits(problem: Problem, allotment: Mapping[str, str | None]) -> tuple[Wait, ...]:
    """Return every precedence between tasks that are done today under an allotment."""
    doing = tasks_to_do(problem, allotment)
    done = {task.id for task in doing}
    return tuple(
        Wait(other.id, task.id, link.lag_min)
        for task in doing
        for link in task.after
        for other in tasks_meant(problem, task, link, vehicle_under(task, allotment))
        if other.id in done
    )


def vehicle_under(task: Task, allotment: Mapping[str, str | None]) -> str | None:
    """Return the vehicle a task is done on under an allotment, None when it is done on none."""
    return task.vehicle if task.departure is None else allotment.get(task.departure)


def earliest_start_min(problem: Problem, task: Task, vehicle: str | None) -> int:
    """Return the first minute at which a task may begin, before anything else is done.

    The opening, its own release, the arrival of the vehicle it touches and of the hirer it needs.
    """
    minutes = [problem.opening_min, task.release_min]
    if vehicle is not None and (task.vehicle is not None or task.zones):
        minutes.append(problem.vehicle_by_id[vehicle].arrives_min)
    if task.needs_hirer and task.departure is not None:
        minutes.append(problem.departure_by_id[task.departure].hirer_from)
    return max(minutes)
