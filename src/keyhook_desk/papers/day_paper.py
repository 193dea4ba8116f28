"""From a planned day to the day sheet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from keyhook.depot.folder import DepotFolder
from keyhook.phrases import say
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.plan import Plan, PlannedTask, vehicle_under
from keyhook.turnaround.problem import Departure, Person, Problem
from keyhook_desk.papers.documents import DaySheet, DayTask, Imprint, PersonDay, Promise
from keyhook_desk.papers.loading_paper import people_words

_DAY_MIN = 24 * 60
#: A promise that holds less often than not is shown as late.
_LATE_BELOW_PROBABILITY = 0.5


@dataclass(frozen=True)
class DayToPrint:
    """A day as it is planned: its clock, its problem, the plan, and how likely each departure is on time.

    ``stopped`` are departures that may not leave in their vehicle as they stand.
    """

    clock: Clock
    problem: Problem
    plan: Plan
    on_time_probability: Mapping[str, float] = field(default_factory=dict)
    stopped: frozenset[str] = frozenset()


def day_paper(planned: DayToPrint, folder: DepotFolder, imprint: Imprint, *, notes: tuple[str, ...] = ()) -> DaySheet:
    """Return a planned day as a sheet: promises in order of time, people with their tasks and breaks."""
    day = planned.clock.day
    return DaySheet(
        imprint=imprint,
        heading=f"{day:%A} {day.day} {day:%B %Y}",
        promises=tuple(sorted(_promises(planned, folder), key=lambda promise: promise.at_min)),
        people=tuple(person for person in _people(planned, folder) if person.tasks),
        notes=(*notes, *_put_off(planned, folder)),
    )


def _say(key: str, **values: object) -> str:
    return say(f"papers.day.{key}", values)


def _clock_min(clock: Clock, minute: int) -> int:
    """Return a minute of the day as the clock on the wall shows it; beyond 24 hours it goes on counting."""
    local = clock.moment(minute)
    return (local.date() - clock.day).days * _DAY_MIN + 60 * local.hour + local.minute


def _promises(planned: DayToPrint, folder: DepotFolder) -> Iterator[Promise]:
    chances = planned.on_time_probability
    for departure in planned.problem.departures:
        vehicle = planned.plan.vehicle_of.get(departure.id)
        if vehicle is None:
            continue
        probability = chances.get(departure.id)
        yield Promise(
            _clock_min(planned.clock, departure.promised_min),
            vehicle,
            _who(departure, folder),
            "" if probability is None else f"{100 * probability:.0f} %",
            late=probability is not None and probability < _LATE_BELOW_PROBABILITY,
            still_open=_say("stop") if departure.id in planned.stopped else "",
        )


def _who(departure: Departure, folder: DepotFolder) -> str:
    hire = folder.hires.get(departure.id)
    return departure.id if hire is None else _say("who", lead=hire.lead, people=people_words(len(hire.party)))


def _put_off(planned: DayToPrint, folder: DepotFolder) -> Iterator[str]:
    for departure in planned.problem.departures:
        if planned.plan.vehicle_of.get(departure.id) is None:
            yield _say("put_off", who=_who(departure, folder))


def _people(planned: DayToPrint, folder: DepotFolder) -> Iterator[PersonDay]:
    roles = {person.id: person.role for person in folder.staff}
    for person in planned.problem.people:
        tasks = [*_tasks(planned, person), *_breaks(planned, person)]
        start, end = (_clock_min(planned.clock, minute) for minute in person.shift)
        yield PersonDay(
            person.name or person.id,
            roles.get(person.id, ""),
            start,
            end,
            tuple(sorted(tasks, key=lambda task: task.start_min)),
        )


def _tasks(planned: DayToPrint, person: Person) -> Iterator[DayTask]:
    places = {place.id: _place(place.id) for place in planned.problem.places}
    for done in planned.plan.tasks:
        if person.id in done.people:
            yield _task(planned, done, places)


def _task(planned: DayToPrint, done: PlannedTask, places: Mapping[str, str]) -> DayTask:
    task = planned.problem.task_by_id[done.task]
    return DayTask(
        _clock_min(planned.clock, done.start_min),
        _clock_min(planned.clock, done.end_min),
        task.name or task.kind,
        vehicle_under(task, planned.plan.vehicle_of) or "",
        places.get(task.place or "", ""),
        kind="hand_over" if task.needs_hirer else "task",
        gate=task.gate,
    )


def _place(place: str) -> str:
    return place.replace("_", " ")


def _breaks(planned: DayToPrint, person: Person) -> Iterator[DayTask]:
    for rest in planned.plan.breaks:
        if rest.person == person.id:
            end_min = rest.start_min + person.breaks[rest.index].length_min
            yield DayTask(
                _clock_min(planned.clock, rest.start_min), _clock_min(planned.clock, end_min), "", kind="break"
            )
