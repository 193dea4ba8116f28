"""News of the day as somebody at the desk types it: forms to events, with the sentence that people will read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from keyhook.catalogue import load_catalogue
from keyhook.day_again import walk_in
from keyhook.errors import BadInput
from keyhook.turnaround.clock import Clock
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
)
from keyhook.turnaround.retelling import event_text
from keyhook_desk.yard.plan_changes import at
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
        It is no time, or the clock leaves it out on this day.
    """
    return clock.read(text, label)


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


def _news(told: Told, event: Event) -> News:
    return News((event,), event_text(told.laid.problem, told.laid.plan, event, told.clock))


def _return(told: Told) -> News:
    vehicle = told.word("vehicle", "The vehicle")
    known = told.laid.problem.vehicle_by_id.get(vehicle)
    if told.fields.get("at", "").strip():
        minute = told.time("at", "The time of the return")
    else:
        late = told.minutes("late", "How late it will be")
        minute = (known.arrives_min if known else 0) + late
    return _news(told, ReturnsAt(vehicle, minute))


def _person(told: Told) -> News:
    person = told.word("person", "The person")
    known = told.laid.problem.person_by_id.get(person)
    first, last = told.stretch((known.shift[1] + known.overtime_max_min) if known else DAY_MIN)
    return _news(told, PersonAway(person, (first, last)))


def _task(told: Told) -> News:
    task = told.word("task", "The task")
    planned = told.laid.plan.by_task.get(task)
    if told.fields.get("done") == "yes":
        minute = max(1, told.time("at", "The time at which it was done", told.now_min))
        return _news(told, TaskDone(task, minute))
    end = told.time("at", "The time at which it will be done")
    start = min(planned.start_min if planned else told.now_min, max(0, told.now_min))
    if end <= start:
        seen = f"{at(told.clock, start)} to {at(told.clock, end)}"
        raise BadInput("The task cannot be done before it begins", seen=seen, todo="Write a later time")
    return _news(told, TaskRuns(task, start, end))


def _damage(told: Told) -> News:
    vehicle = told.word("vehicle", "The vehicle")
    minutes = told.minutes("minutes", "The time in the workshop")
    return _news(told, Damage(vehicle, minutes))


def _out(told: Told) -> News:
    vehicle = told.word("vehicle", "The vehicle")
    return _news(told, VehicleOut(vehicle))


def _party(told: Told) -> News:
    departure = told.word("departure", "The hire")
    minute = told.time("at", "The time of the party")
    return _news(told, PartyAt(departure, minute))


def _closed(told: Told) -> News:
    place = told.word("place", "The place")
    return _news(told, PlaceClosed(place, told.stretch(told.laid.problem.closing_min)))


def _walk_in(told: Told) -> News:
    name = told.word("hire", "The hire")
    return _news(told, walk_in(folder_of_desk(), told.clock.day, load_catalogue(), told.laid.problem, name))


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
