"""When the day breaks: the day as it stands now, with what has happened, ready to be planned again.

What has ended stays. What has begun stays with its people and goes on to its expected end. The rest may move, and the
plan people hold is carried along so that moving costs something (level four of the objective). What can happen stands
in :mod:`keyhook.turnaround.events`.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import chain

from keyhook.errors import BadInput
from keyhook.turnaround.events import Event, TaskDone, TaskRuns, VehicleOut, apply
from keyhook.turnaround.plan import Plan, PlannedTask
from keyhook.turnaround.problem import Departure, Fixed, Held, Problem, Task
from keyhook.turnaround.recount import leaves_at

#: How the id of a task ends that has to be done a second time, in another vehicle.
AGAIN = ".again"


def day_from_now(
    problem: Problem, plan: Plan, now_min: int, events: Sequence[Event] = (), waiting: Collection[str] = ()
) -> Problem:
    """Return the rest of the day as a problem of its own.

    Parameters
    ----------
    problem, plan
        The day as it was planned and the plan people hold.
    now_min
        The minute of the day. Tasks of the plan that lie wholly before it are taken as done and those it cuts as
        running, unless an event says otherwise.
    events
        What has happened, in the order in which it was told.
    waiting
        Tasks that have not begun although the plan says so (:func:`keyhook.turnaround.begun.not_begun`).

    Raises
    ------
    UnknownName
        An event names a vehicle, person, task, place or departure that the day has not.
    BadInput
        An event contradicts the day (a task that ends before it starts, minutes that are negative).
    """
    told = {event.task: event for event in events if isinstance(event, TaskDone | TaskRuns)}
    stand = tuple(
        dataclasses.replace(task, fixed=None)
        if task.id in waiting
        else _as_it_stands(task, plan, now_min, told.get(task.id))
        for task in problem.tasks
    )
    out = {event.vehicle for event in events if isinstance(event, VehicleOut)}
    lost = {name for name, vehicle in plan.allotment if vehicle in out}
    tasks = tuple(chain.from_iterable(_loosened(task, stand, task.departure in lost) for task in stand))
    held = tuple(
        Held(one.task, one.start_min, one.people)
        for one in plan.tasks
        if (one.start_min >= now_min or one.task in waiting) and one.task not in told
    )
    begun = {task.departure for task in tasks if task.fixed is not None and task.departure is not None}
    allotted = tuple(_departure_now(departure, plan, departure.id in begun) for departure in problem.departures)
    rest = dataclasses.replace(
        problem, opening_min=max(problem.opening_min, now_min), tasks=tasks, held=held, departures=allotted
    )
    rest = _with_breaks_taken(rest, plan, now_min)
    for event in events:
        rest = apply(rest, event)
    return rest


def _as_it_stands(task: Task, plan: Plan, now_min: int, told: TaskDone | TaskRuns | None) -> Task:
    planned = plan.by_task.get(task.id)
    if isinstance(told, TaskDone):
        people = told.people or (planned.people if planned else ())
        start = min(planned.start_min if planned else told.minute - 1, told.minute - 1)
        return dataclasses.replace(task, fixed=_fixed(task, people, start, told.minute, planned))
    if isinstance(told, TaskRuns):
        if told.end_min <= told.start_min:
            wrong = "A task cannot end before it begins"
            raise BadInput(wrong, seen=f"{told.start_min} to {told.end_min}", todo="Mend the minutes")
        people = told.people or (planned.people if planned else ())
        return dataclasses.replace(task, fixed=_fixed(task, people, told.start_min, told.end_min, planned))
    if planned is None or planned.start_min >= now_min:
        return task
    return dataclasses.replace(task, fixed=_fixed(task, planned.people, planned.start_min, planned.end_min, planned))


def _loosened(task: Task, tasks: Sequence[Task], lost: bool) -> tuple[Task, ...]:
    """Return a task that has begun for a departure as it binds that departure to its vehicle, or not.

    What does not touch the vehicle (a folder made up) binds nothing: it stands as done and the departure stays free.
    When the vehicle is ``lost``, what was done in it stands as done too, and is to be done again in another.
    """
    again = {
        other.id: f"{other.id}{AGAIN}"
        for other in tasks
        if lost and other.departure == task.departure and other.fixed is not None and _touches(other)
    }
    after = tuple(dataclasses.replace(link, what=again.get(link.what, link.what)) for link in task.after)
    if task.departure is None:
        return (task,)
    if task.fixed is None:
        return (dataclasses.replace(task, after=after),)
    done = dataclasses.replace(task, departure=None, after=(), not_by=())
    if task.id in again:
        return done, dataclasses.replace(task, id=again[task.id], after=after, fixed=None)
    return (task,) if _touches(task) else (done,)


def _touches(task: Task) -> bool:
    return bool(task.zones) or task.needs_hirer or any(link.on_vehicle for link in task.after)


def _departure_now(departure: Departure, plan: Plan, begun: bool) -> Departure:
    """Return a departure with the vehicle it holds now; once it has begun it keeps that and is not put off."""
    vehicle = plan.vehicle_of.get(departure.id)
    changed = dataclasses.replace(departure, allotted=vehicle or departure.allotted)
    if not begun:
        return changed
    mine = tuple(suits for suits in departure.vehicles if suits.vehicle == vehicle)
    return dataclasses.replace(changed, vehicles=mine, postpone_cost=None)


def _fixed(task: Task, people: tuple[str, ...], start: int, end: int, planned: PlannedTask | None) -> Fixed:
    fits = [n for n, mode in enumerate(task.modes) if mode.crew == len(people)]
    mode = planned.mode if planned is not None and planned.mode in fits else (fits[0] if fits else 0)
    return Fixed(start, end, tuple(sorted(people)), mode)


def _with_breaks_taken(problem: Problem, plan: Plan, now_min: int) -> Problem:
    """Take the breaks that have begun out of what is owed and into the stretches in which people are away."""
    taken = {(rest.person, rest.index): rest.start_min for rest in plan.breaks if rest.start_min < now_min}
    people = []
    for person in problem.people:
        away, owed = list(person.away), []
        for index, rest in enumerate(person.breaks):
            start = taken.get((person.id, index))
            if start is None:
                owed.append(rest)
            else:
                away.append((start, start + rest.length_min))
        people.append(dataclasses.replace(person, breaks=tuple(owed), away=tuple(sorted(away))))
    return dataclasses.replace(problem, people=tuple(people))


# ---------------------------------------------------------------- what changed


@dataclass(frozen=True, slots=True)
class Changes:
    """What differs between the plan people hold and a new one.

    ``later`` and ``sooner`` are departures with the minutes by which they now leave otherwise; ``swapped`` departures
    with old and new vehicle; ``moved`` tasks that begin otherwise, ``handed`` tasks that other people do, ``added`` and
    ``dropped`` tasks.
    """

    later: tuple[tuple[str, int], ...]
    sooner: tuple[tuple[str, int], ...]
    swapped: tuple[tuple[str, str | None, str | None], ...]
    moved: tuple[str, ...]
    handed: tuple[str, ...]
    added: tuple[str, ...]
    dropped: tuple[str, ...]


def changes(problem: Problem, old: Plan, new: Plan, *, tolerance_min: int = 10) -> Changes:
    """Return what a new plan changes; ``problem`` is the day from now on."""
    moved, handed = [], []
    for name, planned in new.by_task.items():
        before = old.by_task.get(name)
        if before is None:
            continue
        if abs(before.start_min - planned.start_min) > tolerance_min:
            moved.append(name)
        if before.people != planned.people:
            handed.append(name)
    shifts = []
    for departure in problem.departures:
        then, now = _leaves(problem, old, departure.id), _leaves(problem, new, departure.id)
        if then is not None and now is not None and then != now:
            shifts.append((departure.id, now - then))
    swapped = tuple(
        (name, old.vehicle_of.get(name), vehicle)
        for name, vehicle in new.allotment
        if name in old.vehicle_of and old.vehicle_of[name] != vehicle
    )
    return Changes(
        tuple((name, by) for name, by in shifts if by > 0),
        tuple((name, -by) for name, by in shifts if by < 0),
        swapped,
        tuple(moved),
        tuple(handed),
        tuple(name for name in new.by_task if name not in old.by_task),
        tuple(name for name in old.by_task if name not in new.by_task),
    )


def _leaves(problem: Problem, plan: Plan, departure: str) -> int | None:
    known = {task.id for task in problem.tasks}
    there = Plan(tuple(one for one in plan.tasks if one.task in known), plan.allotment, plan.breaks)
    return leaves_at(problem, there, departure)
