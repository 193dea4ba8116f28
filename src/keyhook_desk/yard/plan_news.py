"""News of the day as somebody at the desk types it: forms to events, with the sentence that people will read."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from keyhook.catalogue import Catalogue, load_catalogue
from keyhook.day_plan import known_news, suitable_vehicles, unsuitable_vehicles
from keyhook.depot.folder import DepotFolder
from keyhook.errors import BadInput
from keyhook.phrases import say
from keyhook.turnaround.around import left_over
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.compose import day_problem
from keyhook.turnaround.events import (
    Damage,
    Event,
    PartyAt,
    PersonAway,
    PlaceClosed,
    ReturnsAt,
    TaskDone,
    TaskRuns,
    VehicleOut,
    WalkIn,
)
from keyhook_desk.yard.plan_changes import at, first_name, name_of
from keyhook_desk.yard.plan_reading import Laid
from keyhook_desk.yard.services import folder_of_desk

DAY_MIN = 24 * 60
MOST_MIN = 14 * 60


@dataclass(frozen=True)
class News:
    """What has happened, and how it is told."""

    events: tuple[Event, ...]
    says: str


@dataclass(frozen=True)
class Told:
    """What was typed, beside the plan it is about."""

    fields: Mapping[str, str]
    laid: Laid
    clock: Clock
    now_min: int

    def word(self, name: str, label: str) -> str:
        """Return a choice."""
        value = self.fields.get(name, "").strip()
        if not value:
            raise BadInput(f"{label} is not told", todo="Choose one from the list")
        return value

    def minutes(self, name: str, label: str) -> int:
        """Return a length in minutes."""
        text = self.fields.get(name, "").strip()
        if not text.isdecimal():
            raise BadInput(f"{label} is not a number of minutes", seen=text[:20], todo="Write whole minutes, like 40")
        if not 1 <= int(text) <= MOST_MIN:
            raise BadInput(f"{label} is from 1 to {MOST_MIN} minutes", seen=text[:20], todo="Write it within that")
        return int(text)

    def stretch(self, otherwise: int) -> tuple[int, int]:
        """Return from when until when, now and ``otherwise`` where nothing is said."""
        first = self.time("from", "The time from which", max(self.now_min, 0))
        last = self.time("until", "The time until which", otherwise)
        if last <= first:
            seen = f"{at(self.clock, first)} to {at(self.clock, last)}"
            raise BadInput("The end is not after the start", seen=seen, todo="Write a later end or an earlier start")
        return first, last

    def time(self, name: str, label: str, otherwise: int | None = None) -> int:
        """Return the minute of a clock time."""
        text = self.fields.get(name, "").strip()
        if not text and otherwise is not None:
            return otherwise
        return minute_of(self.clock, text, label)


def minute_of(clock: Clock, text: str, label: str) -> int:
    """Return the minute of the day of a time like 14:30.

    Raises
    ------
    BadInput
        It is no time.
    """
    try:
        return clock.at(dt.time.fromisoformat(text))
    except ValueError:
        raise BadInput(f"{label} is not a time", seen=text[:20], todo="Write it like 14:30") from None


def news_of(kind: str, told: Told) -> News:
    """Return the news of one form.

    Raises
    ------
    BadInput
        A field is missing or is no number or time, or there is no such form.
    """
    read = _FORMS.get(kind)
    if read is None:
        raise BadInput("There is no such news", seen=kind[:40], todo="Choose one of the forms")
    return read(told)


def _says(key: str, **values: object) -> str:
    return say(f"day_news.{key}", values)


def _return(told: Told) -> News:
    vehicle = told.word("vehicle", "The vehicle")
    known = told.laid.problem.vehicle_by_id.get(vehicle)
    if told.fields.get("at", "").strip():
        minute = told.time("at", "The time of the return")
    else:
        late = told.minutes("late", "How late it will be")
        minute = (known.arrives_min if known else 0) + late
    return News((ReturnsAt(vehicle, minute),), _says("return", vehicle=vehicle, at=at(told.clock, minute)))


def _person(told: Told) -> News:
    person = told.word("person", "The person")
    known = told.laid.problem.person_by_id.get(person)
    first, last = told.stretch((known.shift[1] + known.overtime_max_min) if known else DAY_MIN)
    whole = not told.fields.get("until", "").strip()
    values = {"person": first_name(told.laid, person), "from": at(told.clock, first), "until": at(told.clock, last)}
    return News((PersonAway(person, (first, last)),), _says("person" if whole else "person_until", **values))


def _task(told: Told) -> News:
    task = told.word("task", "The task")
    planned = told.laid.plan.by_task.get(task)
    if told.fields.get("done") == "yes":
        minute = max(1, told.time("at", "The time at which it was done", told.now_min))
        return News(
            (TaskDone(task, minute),), _says("task_done", task=name_of(told.laid, task), at=at(told.clock, minute))
        )
    end = told.time("at", "The time at which it will be done")
    start = min(planned.start_min if planned else told.now_min, max(0, told.now_min))
    if end <= start:
        seen = f"{at(told.clock, start)} to {at(told.clock, end)}"
        raise BadInput("The task cannot be done before it begins", seen=seen, todo="Write a later time")
    return News((TaskRuns(task, start, end),), _says("task", task=name_of(told.laid, task), at=at(told.clock, end)))


def _damage(told: Told) -> News:
    vehicle = told.word("vehicle", "The vehicle")
    minutes = told.minutes("minutes", "The time in the workshop")
    return News((Damage(vehicle, minutes),), _says("damage", vehicle=vehicle, minutes=minutes))


def _out(told: Told) -> News:
    vehicle = told.word("vehicle", "The vehicle")
    return News((VehicleOut(vehicle),), _says("out", vehicle=vehicle))


def _party(told: Told) -> News:
    departure = told.word("departure", "The hire")
    minute = told.time("at", "The time of the party")
    return News((PartyAt(departure, minute),), _says("party", departure=departure, at=at(told.clock, minute)))


def _closed(told: Told) -> News:
    place = told.word("place", "The place")
    first, last = told.stretch(told.laid.problem.closing_min)
    values = {"place": place.replace("_", " "), "from": at(told.clock, first), "until": at(told.clock, last)}
    return News((PlaceClosed(place, (first, last)),), _says("closed", **values))


def _walk_in(told: Told) -> News:
    """Try every vehicle that suits the party: those of the plan, and those that stand free and are in nobody's plan.

    What is free and came back since the depot was last open has to be made ready first; what has stood for longer is
    taken to be ready, as everywhere in the plan.
    """
    name, day = told.word("hire", "The hire"), told.clock.day
    folder, catalogue = folder_of_desk(), load_catalogue()
    known = told.laid.problem.vehicle_by_id
    news = known_news(folder, day)
    news = dataclasses.replace(news, undone=news.undone | (left_over(folder, day) - set(known)))
    fresh = day_problem(folder, day, catalogue, suits=suitable_vehicles(folder, day, catalogue), news=news)
    departure = fresh.departure_by_id.get(name)
    if departure is None:
        wrong = "This hire does not leave on this day" if name in folder.hires else "There is no hire of this number"
        raise BadInput(wrong, seen=name[:20], todo="Enter the hire first, with its day and status")
    tried = tuple(one.vehicle for one in departure.vehicles)
    if not tried:
        wrong = "No vehicle of the yard can serve that hire"
        raise BadInput(wrong, seen=name[:20], todo=_why_none(folder, day, name, catalogue))
    free = tuple(vehicle for vehicle in fresh.vehicles if vehicle.id in tried and vehicle.id not in known)
    names = {vehicle.id for vehicle in free}
    tasks = tuple(task for task in fresh.tasks if task.departure == name or task.vehicle in names)
    leaves = at(told.clock, departure.promised_min)
    values = {"departure": name, "at": leaves, "tried": ", ".join(tried), "free": ", ".join(sorted(names))}
    return News((WalkIn(departure, tasks, free),), _says("walk_in_free" if free else "walk_in", **values))


def _why_none(folder: DepotFolder, day: dt.date, name: str, catalogue: Catalogue) -> str:
    """Return what stands against every vehicle, those with the same reason together."""
    alike: dict[str, list[str]] = {}
    for vehicle, why in unsuitable_vehicles(folder, day, folder.hire(name), catalogue).items():
        alike.setdefault(why.rstrip("."), []).append(vehicle)
    return " ".join(f"{_says('walk_in_none', vehicles=', '.join(names), why=why)}." for why, names in alike.items())


_FORMS: Mapping[str, Callable[[Told], News]] = {
    "return": _return,
    "person": _person,
    "task": _task,
    "damage": _damage,
    "out": _out,
    "party": _party,
    "closed": _closed,
    "walk_in": _walk_in,
}
