"""What has happened on a day, as options; names are read by the plan people hold, and a slip by what it may mean."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import wraps
from typing import Any

import click

from keyhook.catalogue import Catalogue
from keyhook.day_again import walk_in
from keyhook.depot.folder import DepotFolder
from keyhook.errors import BadInput, UnknownName
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
from keyhook.turnaround.held_plan import HeldPlan
from keyhook.turnaround.plan import vehicle_under
from keyhook.turnaround.problem import Stretch

News = Mapping[str, Sequence[str]]
#: So many names are listed when several could be meant, and when none is near.
MOST_NAMED, MOST_LISTED = 5, 20
#: How alike a name has to be to be asked about.
CLOSE_SHARE = 0.5
MOST_MIN = 14 * 60

_TOLD = (
    ("return", "VEHICLE=TIME", "It comes back at 13:30, or +40 minutes later than planned."),
    ("away", "PERSON[=FROM-UNTIL]", "Ill, leaves or is called away: now, from 14:00- or 12:00-13:30."),
    ("done", "TASK[=TIME]", "It is done (now, without a time)."),
    ("started", "TASK[=TIME]", "It has begun (now, without a time)."),
    ("takes", "TASK=TIME", "It goes on until then."),
    ("damage", "VEHICLE=MINUTES", "Damage was found: so long in the workshop."),
    ("out", "VEHICLE", "It cannot leave today at all."),
    ("party", "HIRE=TIME", "The party is there at that time, early or late."),
    ("walk-in", "HIRE", "A hire that was entered after the day was planned."),
    ("closed", "PLACE[=FROM-UNTIL]", "It cannot be used: now, -14:00 until then, 12:00-14:00."),
)


def news_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add an option for everything that can happen on a day; the command gets them as ``news``."""

    @wraps(command)
    def wrapped(*args: Any, **kwargs: Any) -> Any:
        news = {name: kwargs.pop(_field(name)) for name, _, _ in _TOLD}
        return command(*args, news={name: told for name, told in news.items() if told}, **kwargs)

    found: Callable[..., Any] = wrapped
    for name, form, told in reversed(_TOLD):
        said = f"{told} May be repeated."
        found = click.option(f"--{name}", _field(name), multiple=True, metavar=form, help=said)(found)
    return found


def _field(name: str) -> str:
    return f"news_{name.replace('-', '_')}"


@dataclass(frozen=True)
class _Reader:
    """Reads what was told by the plan that people hold."""

    held: HeldPlan
    now_min: int
    folder: DepotFolder
    catalogue: Catalogue

    # ------------------------------------------------------------ names

    def vehicle(self, typed: str) -> str:
        return _named(typed, ((one.id, ()) for one in self.held.problem.vehicles), "vehicle")

    def departure(self, typed: str) -> str:
        return _named(typed, ((one.id, ()) for one in self.held.problem.departures), "hire")

    def place(self, typed: str) -> str:
        return _named(typed, ((one.id, ()) for one in self.held.problem.places), "place")

    def person(self, typed: str) -> str:
        people = self.held.problem.people
        return _named(typed, ((one.id, (one.name, one.name.split(" ")[0])) for one in people), "person", loosely=True)

    def task(self, typed: str) -> str:
        """Return a task of the plan, by its id or as lists call it: ``W4-02 Vacuum``."""
        problem, plan = self.held.problem, self.held.plan
        known = []
        for one in plan.tasks:
            task = problem.task_by_id[one.task]
            vehicle = vehicle_under(task, plan.vehicle_of) or ""
            known.append((task.id, tuple(f"{who} {task.name}" for who in (vehicle, task.departure or vehicle))))
        return _named(typed, known, "task", loosely=True)

    # ------------------------------------------------------------ values

    def time(self, text: str, what: str, otherwise: int | None = None) -> int:
        if not text.strip() and otherwise is not None:
            return otherwise
        return self.held.clock.read(text, what)

    def stretch(self, text: str, last: int, what: str) -> Stretch:
        """Return from when until when; now, and ``last``, where nothing is said."""
        first, dash, until = text.partition("-")
        if text.strip() and not dash:
            todo = f"Write {text}- from then on, -{text} until then, or both with the - between"
            raise BadInput(f"{what} has one time and could be from it or until it", seen=text, todo=todo)
        span = (
            self.time(first, "The time from which", self.now_min),
            self.time(until, "The time until which", max(last, self.now_min + 1)),
        )
        if span[1] <= span[0]:
            seen = " to ".join(self.held.clock.says(minute) for minute in span)
            raise BadInput("The end is not after the start", seen=seen, todo="Give a later end or an earlier start")
        return span

    # ------------------------------------------------------------ what has happened

    def returns(self, told: Sequence[str]) -> Iterable[Event]:
        for name, text in map(_pair, told):
            vehicle = self.vehicle(name)
            if text.startswith("+"):
                late_min = _minutes(text[1:], f"How much later {vehicle} comes back")
                minute = self.held.problem.vehicle_by_id[vehicle].arrives_min + late_min
            else:
                minute = self.time(text, f"The time at which {vehicle} comes back")
            yield ReturnsAt(vehicle, minute)

    def away(self, told: Sequence[str]) -> Iterable[Event]:
        for name, text in map(_pair, told):
            person = self.person(name)
            known = self.held.problem.person_by_id[person]
            yield PersonAway(person, self.stretch(text, known.shift[1] + known.overtime_max_min, f"--away {name}"))

    def tasks(self, news: News) -> Iterable[Event]:
        """Return what was told of tasks; one that has begun and takes longer is one event."""
        for name, text in map(_pair, news.get("done", ())):
            yield TaskDone(self.task(name), max(1, self.time(text, "The time at which it was done", self.now_min)))
        started = {self.task(name): text for name, text in map(_pair, news.get("started", ()))}
        takes = {self.task(name): text for name, text in map(_pair, news.get("takes", ()))}
        for task in dict.fromkeys((*started, *takes)):
            planned = self.held.plan.by_task[task]
            begun = min(planned.start_min, self.now_min)
            start = self.time(started[task], "The time at which it began", self.now_min) if task in started else begun
            length = planned.end_min - planned.start_min
            end = max(self.now_min + 1, start + length)
            if task in takes:
                end = self.time(takes[task], "The time until which it goes on")
            yield TaskRuns(task, start, end)

    def damage(self, told: Sequence[str]) -> Iterable[Event]:
        for name, text in map(_pair, told):
            yield Damage(self.vehicle(name), _minutes(text, "The time in the workshop"))

    def out(self, told: Sequence[str]) -> Iterable[Event]:
        return (VehicleOut(self.vehicle(name)) for name in told)

    def party(self, told: Sequence[str]) -> Iterable[Event]:
        for name, text in map(_pair, told):
            departure = self.departure(name)
            yield PartyAt(departure, self.time(text, f"The time at which the party of {departure} is there"))

    def walk_ins(self, told: Sequence[str]) -> Iterable[Event]:
        return (
            walk_in(self.folder, self.held.clock.day, self.catalogue, self.held.problem, name.strip()) for name in told
        )

    def closed(self, told: Sequence[str]) -> Iterable[Event]:
        for name, text in map(_pair, told):
            yield PlaceClosed(self.place(name), self.stretch(text, self.held.problem.closing_min, f"--closed {name}"))


def events_told(
    news: News, held: HeldPlan, now_min: int, folder: DepotFolder, catalogue: Catalogue
) -> tuple[Event, ...]:
    """Return what was told as events.

    Parameters
    ----------
    news
        What stood behind each option.
    held, now_min
        The plan people hold, and the minute of its day.
    folder, catalogue
        For a hire that was entered since.

    Raises
    ------
    UnknownName
        A name is none of the plan; the error names the nearest.
    BadInput
        A value is no time, no stretch or no number of minutes.
    """
    read = _Reader(held, now_min, folder, catalogue)
    return (
        *read.returns(news.get("return", ())),
        *read.away(news.get("away", ())),
        *read.tasks(news),
        *read.damage(news.get("damage", ())),
        *read.out(news.get("out", ())),
        *read.party(news.get("party", ())),
        *read.walk_ins(news.get("walk-in", ())),
        *read.closed(news.get("closed", ())),
    )


def _pair(told: str) -> tuple[str, str]:
    """Return a name and what stands behind its sign of equality."""
    name, _, value = told.partition("=")
    return name.strip(), value.strip()


def _minutes(text: str, what: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= MOST_MIN:
        todo = f"Give whole minutes from 1 to {MOST_MIN}, like 40"
        raise BadInput(f"{what} is not a number of minutes", seen=text or "nothing", todo=todo)
    return int(text)


def _named(typed: str, known: Iterable[tuple[str, Sequence[str]]], kind: str, *, loosely: bool = False) -> str:
    """Return the id of what was meant, by its id or by one of its other names.

    ``loosely`` takes what one alone has in its names too: ``w4-02 vacuum`` is ``W4-02 Vacuum seats, floor, cab``.
    """
    names = {one: tuple(name for name in (one, *others) if name) for one, others in known}
    plain = _plain(typed)
    meant = [one for one, its in names.items() if plain in map(_plain, its)]
    if not meant and loosely and plain:
        meant = [one for one, its in names.items() if any(_has_all(plain, name) for name in its)]
    if len(meant) == 1:
        return meant[0]
    if meant:
        several = "; ".join(names[one][:2][-1] for one in meant[:MOST_NAMED]) + (
            " ..." if len(meant) > MOST_NAMED else ""
        )
        raise UnknownName(f"More than one {kind} could be meant", seen=typed, todo=f"Say which: {several}")
    raise UnknownName(f"The plan of this day has no such {kind}", seen=typed or "nothing", todo=_nearest(plain, names))


def _has_all(words: str, name: str) -> bool:
    plain = _plain(name)
    return all(word in plain for word in words.split())


def _likeness(plain: str, name: str) -> float:
    return difflib.SequenceMatcher(None, plain, _plain(name)[: len(plain) + 1]).ratio()


def _nearest(plain: str, names: Mapping[str, Sequence[str]]) -> str:
    """Return what to do about a name that nothing has: the one nearest to it, or all there are when two are as near."""
    best = sorted((max((_likeness(plain, name), name) for name in its) for its in names.values()), reverse=True)[:2]
    if best and best[0][0] >= CLOSE_SHARE and (len(best) == 1 or best[0][0] > best[1][0]):
        return f"Did you mean {best[0][1]}?"
    if len(names) <= MOST_LISTED:
        return f"Choose one of the day: {', '.join(names)}"
    return "Write it as the lists of --held FILE show it, with its vehicle"


def _plain(name: str) -> str:
    return " ".join(name.casefold().replace("_", " ").split())
