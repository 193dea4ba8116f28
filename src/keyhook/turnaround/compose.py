"""From a depot's folder and a day to the day as plain data: which tasks, on which vehicle, for whom, after what.

Minutes count from the first moment of the local day in real time, so that a day on which the clocks change has its
23 or 25 hours.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from keyhook.catalogue import Catalogue
from keyhook.depot.day import departures_on, returns_on, staff_on
from keyhook.depot.depot import WEEKDAYS, Staff
from keyhook.depot.folder import DepotFolder
from keyhook.depot.window import Window
from keyhook.hire.hire import Hire
from keyhook.hire.news import ReturnNews
from keyhook.turnaround.allowed import allowed_min
from keyhook.turnaround.catalogue_tasks import departure_tasks, vehicle_tasks
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.problem import Break, Departure, Person, Place, Problem, Suits, Vehicle
from keyhook.turnaround.problem import Task as DayTask

#: Everyday spread of a return [min, one standard deviation], share of late ones and how late (common practice).
ARRIVAL_SD_MIN, LATE_PROBABILITY, LATE_MEAN_MIN = 8.0, 0.09, 45.0
OVERTIME_MIN = 60
#: Putting a hand-over off to another day costs as much as so many minutes of lateness.
POSTPONE_COST = 720


@dataclass(frozen=True, slots=True)
class DayNews:
    """What is known of the day so far.

    ``arrivals`` are minutes of return that differ from the contract, by hire; ``reports`` words of what returns
    brought, by hire; ``done`` vehicles that stand ready since yesterday; ``undone`` vehicles that came back on an
    earlier day and stand as they came: their work is done on this one.
    """

    arrivals: Mapping[str, int] = field(default_factory=dict)
    reports: Mapping[str, frozenset[str]] = field(default_factory=dict)
    done: frozenset[str] = frozenset()
    undone: frozenset[str] = frozenset()


def day_problem(
    folder: DepotFolder,
    day: dt.date,
    catalogue: Catalogue,
    *,
    suits: Mapping[str, Mapping[str, int]],
    news: DayNews | None = None,
) -> Problem:
    """Return the day to plan.

    Parameters
    ----------
    suits
        For each departure (hire id) the vehicles that may serve it with their cost: the caller has asked class,
        options, belts, loading and licence. A departure that is not named keeps its own vehicle.
    news
        What is known so far.
    """
    news = news or DayNews()
    clock = Clock(day, folder.depot.zone)
    back = {found.hire.vehicle: found.hire for found in returns_on(folder, day) if found.hire.vehicle}
    leaving = [found.hire for found in departures_on(folder, day)]
    names = _vehicles_of_the_day(folder, leaving, {*back, *news.undone}, suits)
    hours = folder.depot.hours.get(WEEKDAYS[day.weekday()])
    opening, closing = (
        (clock.at(hours.opens), clock.at(hours.closes)) if hours else (clock.at(dt.time(8)), clock.at(dt.time(18)))
    )
    tasks: list[DayTask] = []
    for name in names:
        if name in back:
            tasks.extend(vehicle_tasks(folder, name, back[name], catalogue, _told(news, back[name])))
        elif name in news.undone:
            tasks.extend(_left_over(folder, name, clock, catalogue, news))
    for hire in leaving:
        tasks.extend(departure_tasks(folder, hire, catalogue))
    return Problem(
        opening_min=opening,
        closing_min=closing + OVERTIME_MIN,
        people=tuple(_person(person, clock) for person in staff_on(folder, day)),
        places=tuple(Place(name, slots) for name, slots in folder.depot.places.items()),
        vehicles=tuple(_vehicle(folder, name, back.get(name), clock, news) for name in names),
        tasks=tuple(tasks),
        departures=tuple(_departure(hire, clock, suits, tasks) for hire in leaving),
        label=f"{folder.depot.id} {day.isoformat()}",
    )


def reports_of(news: ReturnNews) -> frozenset[str]:
    """Return the catalogue's words for what a return brought: what its plain sentences name."""
    inside = f"{news.inside} {' '.join(news.said)}".lower()
    marks = " ".join(mark.what for mark in news.marks).lower()
    words = {
        "sand": "sand" in inside or "mud" in inside,
        "smoke": "smoke" in inside and "smells" in inside,
        "wet inside": "wet" in inside,
        "toilet foul": "block" in news.cassette.lower(),
        "awning wet": "awning" in " ".join(mark.place for mark in news.marks).lower() and "wet" in marks,
        "small": bool(news.marks),
    }
    return frozenset(word for word, true in words.items() if true)


def _told(news: DayNews, back: Hire) -> frozenset[str]:
    return news.reports.get(back.id, frozenset())


def _vehicles_of_the_day(
    folder: DepotFolder, leaving: list[Hire], back: set[str], suits: Mapping[str, Mapping[str, int]]
) -> list[str]:
    wanted: set[str | None] = {hire.vehicle for hire in leaving} | back
    wanted |= {name for costs in suits.values() for name in costs}
    return [name for name in folder.vehicles if name in wanted]


def _person(person: Staff, clock: Clock) -> Person:
    breaks: tuple[Break, ...] = ()
    if person.break_min:
        window = person.break_window
        breaks = (Break(clock.at(window.opens), clock.at(window.closes), person.break_min),)
    return Person(
        id=person.id,
        name=person.name,
        skills=frozenset(person.skills),
        shift=_span(person.shift, clock),
        breaks=breaks,
        pace_factor=person.pace_factor,
        overtime_max_min=OVERTIME_MIN,
    )


def _span(window: Window, clock: Clock) -> tuple[int, int]:
    return clock.at(window.opens), clock.at(window.closes)


def _vehicle(folder: DepotFolder, name: str, back: Hire | None, clock: Clock, news: DayNews) -> Vehicle:
    sheet = folder.vehicles[name].sheet
    if back is None:
        return Vehicle(name, group=sheet)
    known = back.id in news.arrivals
    arrives = news.arrivals.get(back.id, clock.minute(back.return_at))
    if known:
        return Vehicle(name, group=sheet, arrives_min=arrives)
    return Vehicle(name, sheet, frozenset(), arrives, ARRIVAL_SD_MIN, LATE_PROBABILITY, LATE_MEAN_MIN)


def _left_over(folder: DepotFolder, name: str, clock: Clock, catalogue: Catalogue, news: DayNews) -> Iterator[DayTask]:
    """Yield the work on a vehicle that came back on an earlier day; it is done whether it leaves today or not.

    It was checked in when it came, unless the depot was closed.
    """
    earlier = [hire for hire in folder.hires.values() if hire.vehicle == name and clock.minute(hire.return_at) < 0]
    if not earlier:
        return
    last = max(earlier, key=lambda hire: hire.return_at)
    was_open = WEEKDAYS[clock.moment(clock.minute(last.return_at)).weekday()] in folder.depot.hours
    every = vehicle_tasks(folder, name, last, catalogue, _told(news, last))
    tasks = [task for task in every if task.only_if_leaving or not was_open]
    here = {task.id for task in tasks}
    for task in tasks:
        after = tuple(link for link in task.after if link.what in here)
        yield dataclasses.replace(task, after=after, only_if_leaving=False)


def _departure(hire: Hire, clock: Clock, suits: Mapping[str, Mapping[str, int]], tasks: list[DayTask]) -> Departure:
    promised = clock.minute(hire.collect_at)
    own = {hire.vehicle: 0} if hire.vehicle else {}
    costs = {**suits.get(hire.id, {}), **own}
    return Departure(
        id=hire.id,
        promised_min=promised,
        due_min=promised + allowed_min([task for task in tasks if task.departure == hire.id and task.needs_hirer]),
        vehicles=tuple(Suits(vehicle, cost) for vehicle, cost in costs.items()),
        allotted=hire.vehicle,
        postpone_cost=POSTPONE_COST,
    )
