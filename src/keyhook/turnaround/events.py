"""What happens on a day, told as plain records, and the day with one of them in it."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Container
from dataclasses import dataclass
from typing import Any

from keyhook.errors import BadInput, UnknownName
from keyhook.turnaround.problem import ALL_ZONES, After, Departure, Mode, Person, Place, Problem, Stretch, Task, Vehicle


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


Event = ReturnsAt | PersonAway | TaskDone | TaskRuns | Damage | VehicleOut | PartyAt | WalkIn | PlaceClosed


def apply(problem: Problem, event: Event) -> Problem:
    """Return the day with one event in it."""
    for kinds, change in _CHANGES:
        if isinstance(event, kinds):
            return change(problem, event)
    raise BadInput("Nothing is known of this kind of event", seen=type(event).__name__, todo="Use one of the events")


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
