"""When the day breaks: the day as it stands now, with what has happened, ready to be planned again.

What has ended stays. What has begun stays with its people and goes on to its expected end. The rest may move, and the
plan people hold is carried along so that moving costs something (level four of the objective).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Container, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Any

from keyhook.errors import BadInput, UnknownName
from keyhook.turnaround.plan import Plan, PlannedTask
from keyhook.turnaround.problem import (
    ALL_ZONES,
    After,
    Departure,
    Fixed,
    Held,
    Mode,
    Person,
    Place,
    Problem,
    Stretch,
    Task,
    Vehicle,
)
from keyhook.turnaround.recount import leaves_at


@dataclass(frozen=True, slots=True)
class ReturnsAt:
    """A vehicle comes back at another minute than expected."""

    vehicle: str
    minute: int


@dataclass(frozen=True, slots=True)
class PersonAway:
    """Somebody is ill, leaves, or is called away for a stretch."""

    person: str
    away: Stretch


@dataclass(frozen=True, slots=True)
class TaskDone:
    """A task is done, at this minute, by these people (those of the plan when empty)."""

    task: str
    minute: int
    people: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TaskRuns:
    """A task has begun and will end at this minute as far as anybody can tell."""

    task: str
    start_min: int
    end_min: int
    people: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Damage:
    """Damage was found: the vehicle needs the workshop for so long before it may leave."""

    vehicle: str
    minutes: int
    skill: str = "tech"
    place: str = "workshop"


@dataclass(frozen=True, slots=True)
class VehicleOut:
    """A vehicle cannot leave today at all."""

    vehicle: str


@dataclass(frozen=True, slots=True)
class PartyAt:
    """The party of a departure is there from this minute: early, or later than promised."""

    departure: str
    minute: int


@dataclass(frozen=True, slots=True)
class WalkIn:
    """Somebody asks for a vehicle today: a departure with its tasks, as the caller has composed it.

    ``vehicles`` are those that stand free at the depot and are in nobody's plan yet; what is to be done on them before
    they may leave is among ``tasks``.
    """

    departure: Departure
    tasks: tuple[Task, ...]
    vehicles: tuple[Vehicle, ...] = ()


@dataclass(frozen=True, slots=True)
class PlaceClosed:
    """A place cannot be used for a stretch."""

    place: str
    closed: Stretch


#: How the id of a task ends that has to be done a second time, in another vehicle.
AGAIN = ".again"

Event = ReturnsAt | PersonAway | TaskDone | TaskRuns | Damage | VehicleOut | PartyAt | WalkIn | PlaceClosed


def day_from_now(problem: Problem, plan: Plan, now_min: int, events: Sequence[Event] = ()) -> Problem:
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

    Raises
    ------
    UnknownName
        An event names a vehicle, person, task, place or departure that the day has not.
    BadInput
        An event contradicts the day (a task that ends before it starts, minutes that are negative).
    """
    told = {event.task: event for event in events if isinstance(event, TaskDone | TaskRuns)}
    stand = tuple(_as_it_stands(task, plan, now_min, told.get(task.id)) for task in problem.tasks)
    out = {event.vehicle for event in events if isinstance(event, VehicleOut)}
    lost = {name for name, vehicle in plan.allotment if vehicle in out}
    tasks = tuple(chain.from_iterable(_loosened(task, stand, task.departure in lost) for task in stand))
    held = tuple(
        Held(one.task, one.start_min, one.people)
        for one in plan.tasks
        if one.start_min >= now_min and one.task not in told
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


def apply(problem: Problem, event: Event) -> Problem:
    """Return the day with one event in it."""
    for kinds, change in _CHANGES:
        if isinstance(event, kinds):
            return change(problem, event)
    raise BadInput("Nothing is known of this kind of event", seen=type(event).__name__, todo="Use one of the events")


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


# ---------------------------------------------------------------- one event each


def _returns_at(problem: Problem, event: ReturnsAt) -> Problem:
    _known(event.vehicle, problem.vehicle_by_id, "vehicle")
    changed = tuple(
        dataclasses.replace(v, arrives_min=event.minute, arrival_sd_min=0.0, late_probability=0.0)
        if v.id == event.vehicle
        else v
        for v in problem.vehicles
    )
    return dataclasses.replace(problem, vehicles=changed)


def _person_away(problem: Problem, event: PersonAway) -> Problem:
    _known(event.person, problem.person_by_id, "person")
    _stretch(event.away)

    def changed(person: Person) -> Person:
        if person.id != event.person:
            return person
        breaks = tuple(rest for rest in person.breaks if not event.away[0] <= rest.earliest_min < event.away[1])
        return dataclasses.replace(person, away=tuple(sorted((*person.away, event.away))), breaks=breaks)

    return dataclasses.replace(problem, people=tuple(changed(person) for person in problem.people))


def _task_told(problem: Problem, event: TaskDone | TaskRuns) -> Problem:
    _known(event.task, problem.task_by_id, "task")
    return problem  # already in the tasks as they stand


def _damage(problem: Problem, event: Damage) -> Problem:
    _known(event.vehicle, problem.vehicle_by_id, "vehicle")
    _known(event.place, {place.id for place in problem.places}, "place")
    if event.minutes <= 0:
        raise BadInput("A repair takes some minutes", seen=event.minutes, todo="Give its length in minutes")
    number = sum(1 for task in problem.tasks if task.id.startswith(f"{event.vehicle}.damage"))
    repair = Task(
        id=f"{event.vehicle}.damage{number + 1}",
        kind="tech_medium_repair",
        name="Repair of damage found at the return",
        vehicle=event.vehicle,
        modes=(Mode(1, event.minutes, event.skill),),
        zones=frozenset({ALL_ZONES}),
        place=event.place,
        gate=True,
        sd_min=event.minutes * 0.4,
    )
    serving = {d.id for d in problem.departures if any(suits.vehicle == event.vehicle for suits in d.vehicles)}
    tasks = tuple(
        dataclasses.replace(task, after=(*task.after, After("tech_medium_repair", on_vehicle=True)))
        if task.departure in serving and task.kind == "fin_quality"
        else task
        for task in problem.tasks
    )
    return dataclasses.replace(problem, tasks=(*tasks, repair))


def _vehicle_out(problem: Problem, event: VehicleOut) -> Problem:
    _known(event.vehicle, problem.vehicle_by_id, "vehicle")
    departures = tuple(
        dataclasses.replace(d, vehicles=tuple(suits for suits in d.vehicles if suits.vehicle != event.vehicle))
        for d in problem.departures
    )
    return dataclasses.replace(problem, departures=departures)


def _party_at(problem: Problem, event: PartyAt) -> Problem:
    _known(event.departure, problem.departure_by_id, "departure")
    departures = tuple(
        dataclasses.replace(d, hirer_from_min=event.minute) if d.id == event.departure else d
        for d in problem.departures
    )
    return dataclasses.replace(problem, departures=departures)


def _walk_in(problem: Problem, event: WalkIn) -> Problem:
    if event.departure.id in problem.departure_by_id:
        raise BadInput("This departure is in the day already", seen=event.departure.id, todo="Give it another number")
    vehicles = (*problem.vehicles, *(one for one in event.vehicles if one.id not in problem.vehicle_by_id))
    known = {vehicle.id for vehicle in vehicles}
    for suits in event.departure.vehicles:
        _known(suits.vehicle, known, "vehicle")
    tasks = (*problem.tasks, *(task for task in event.tasks if task.id not in problem.task_by_id))
    return dataclasses.replace(
        problem, departures=(*problem.departures, event.departure), tasks=tasks, vehicles=vehicles
    )


def _place_closed(problem: Problem, event: PlaceClosed) -> Problem:
    _known(event.place, {place.id for place in problem.places}, "place")
    _stretch(event.closed)
    places = tuple(
        Place(place.id, place.slots, tuple(sorted((*place.closed, event.closed)))) if place.id == event.place else place
        for place in problem.places
    )
    return dataclasses.replace(problem, places=places)


def _known(name: str, names: Container[str], kind: str) -> None:
    if name not in names:
        raise UnknownName(f"The day has no such {kind}", seen=name, todo="Choose one of the day")


def _stretch(span: Stretch) -> None:
    if span[1] <= span[0]:
        raise BadInput("A stretch ends after it begins", seen=f"{span[0]} to {span[1]}", todo="Mend the minutes")


_CHANGES: tuple[tuple[tuple[type[object], ...], Callable[[Problem, Any], Problem]], ...] = (
    ((ReturnsAt,), _returns_at),
    ((PersonAway,), _person_away),
    ((TaskDone, TaskRuns), _task_told),
    ((Damage,), _damage),
    ((VehicleOut,), _vehicle_out),
    ((PartyAt,), _party_at),
    ((WalkIn,), _walk_in),
    ((PlaceClosed,), _place_closed),
)


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
