"""From a depot's folder and a day to the day as plain data: which tasks, on which vehicle, for whom, after what.

Minutes count from the first moment of the local day in real time, so that a day on which the clocks change has its
23 or 25 hours. Durations are the catalogue's means, rounded up; a task that two people can share has a second mode.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from graphlib import TopologicalSorter
from zoneinfo import ZoneInfo

from keyhook.catalogue import Catalogue, Task
from keyhook.catalogue.conditions import Facts, applies
from keyhook.depot.day import departures_on, returns_on, staff_on
from keyhook.depot.depot import WEEKDAYS, Staff
from keyhook.depot.folder import DepotFolder
from keyhook.depot.window import Window
from keyhook.hire.hire import Hire
from keyhook.hire.news import ReturnNews
from keyhook.turnaround.problem import (
    ALL_ZONES,
    After,
    Break,
    Departure,
    Mode,
    NotBy,
    Person,
    Place,
    Problem,
    Suits,
    Vehicle,
)
from keyhook.turnaround.problem import Task as DayTask
from keyhook.vehicle.build_sheet import BuildSheet

#: Phases of the catalogue that belong to the vehicle, whoever takes it next; the others belong to the departure.
VEHICLE_PHASES = ("arrive", "waste", "clean", "wash", "tech", "fill")
#: Tasks of those phases that are done for the next party all the same.
FOR_THE_PARTY = frozenset({"water_fill"})
#: Phases that count for when a vehicle that goes nowhere today is looked after: it is checked in and no more.
ON_RETURN = frozenset({"arrive"})
#: Which part of the vehicle a task needs for itself (common practice); a task that moves it needs all of it.
ZONES: Mapping[str, tuple[str, ...]] = {
    "strip_bins": ("kitchen",),
    "strip_linen": ("beds",),
    "clean_kitchen": ("kitchen",),
    "clean_fridge": ("kitchen",),
    "clean_bath": ("washroom",),
    "clean_lounge": ("lounge",),
    "clean_beds": ("beds",),
    "clean_glass": ("lounge",),
    "clean_floor": ("kitchen", "washroom", "lounge", "beds"),
    "clean_garage": ("garage",),
    "clean_sand": ("lounge", "beds"),
    "clean_pet": ("lounge",),
    "tech_habit": ("kitchen",),
    "tech_beds": ("beds",),
    "tech_belts": ("lounge",),
    "tech_vents": ("lounge",),
    "pack_kit": ("kitchen",),
    "pack_beds": ("beds",),
    "fin_quality": ("kitchen", "washroom", "lounge", "beds"),
}
#: Tasks that two may share, and the share of the minutes they then take (common practice).
SHARED: Mapping[str, float] = {"clean_lounge": 0.55, "clean_beds": 0.55, "clean_kitchen": 0.6, "clean_sand": 0.55}
#: Below this share of hands the hirer works and the depot looks in.
OWN_HANDS_SHARE = 0.5
#: Desk tasks of the check-in that a yard hand does as well (common practice).
ALSO_BY: Mapping[str, str] = {"in_inside": "yard", "in_meters": "yard"}
#: Standard deviations by which a normal exceeds its mean once in twenty (statistical tables: 1.645).
ENOUGH_SD = 1.645
#: Whoever cleans may not give the second look.
SECOND_EYES = ("fin_quality",)
#: Everyday spread of a return [min, one standard deviation], share of late ones and how late (common practice).
ARRIVAL_SD_MIN, LATE_PROBABILITY, LATE_MEAN_MIN = 8.0, 0.09, 45.0
OVERTIME_MIN = 60
#: Putting a hand-over off to another day costs as much as so many minutes of lateness.
POSTPONE_COST = 720
#: Tasks of the catalogue that the plan leaves to others: laundry runs by itself, moves are in the tasks' own minutes.
LEFT_OUT = frozenset({"yard_move", "yard_wait", "yard_laundry", "yard_frost_round", "fridge_cool", "tech_battery"})


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


@dataclass(frozen=True, slots=True)
class Clock:
    """Minutes of one local day: 0 is its first moment."""

    day: dt.date
    zone: str

    @property
    def midnight(self) -> dt.datetime:
        """The first moment of the day."""
        return dt.datetime.combine(self.day, dt.time(), tzinfo=ZoneInfo(self.zone))

    def minute(self, moment: dt.datetime) -> int:
        """Return the minute of the day of a moment, in time that really passes."""
        return (moment.astimezone(dt.UTC) - self.midnight.astimezone(dt.UTC)) // dt.timedelta(minutes=1)

    def moment(self, minute: int) -> dt.datetime:
        """Return the local moment of a minute of the day."""
        return (self.midnight.astimezone(dt.UTC) + dt.timedelta(minutes=minute)).astimezone(ZoneInfo(self.zone))

    def says(self, minute: int) -> str:
        """Return a minute as people read it off the wall; with its zone where the clock shows that time twice."""
        moment = self.moment(minute)
        twice = moment.replace(fold=0).utcoffset() != moment.replace(fold=1).utcoffset()
        return f"{moment:%H:%M %Z}" if twice else f"{moment:%H:%M}"

    def holds(self, moment: dt.datetime) -> bool:
        """Tell whether a moment lies in the day."""
        return moment.astimezone(ZoneInfo(self.zone)).date() == self.day

    def at(self, clock: dt.time) -> int:
        """Return the minute of a clock time of the day."""
        return self.minute(dt.datetime.combine(self.day, clock, tzinfo=ZoneInfo(self.zone)))


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
            tasks.extend(_vehicle_tasks(folder, name, back[name], catalogue, news))
        elif name in news.undone:
            tasks.extend(_left_over(folder, name, clock, catalogue, news))
    for hire in leaving:
        tasks.extend(_departure_tasks(folder, hire, catalogue))
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


# ---------------------------------------------------------------- tasks


def _vehicle_tasks(
    folder: DepotFolder, name: str, back: Hire, catalogue: Catalogue, news: DayNews
) -> Iterator[DayTask]:
    sheet = folder.built(name)
    facts = Facts(
        fittings=[fitted.fitting for fitted in sheet.fittings],
        tags_in=back.tags,
        reports=news.reports.get(back.id, frozenset()),
    )
    chosen = [task for task in catalogue.tasks.values() if _is_of_vehicle(task) and applies(task.when, facts)]
    for task in chosen:
        yield DayTask(
            id=f"{name}.{task.id}",
            kind=task.id,
            name=task.name,
            vehicle=name,
            modes=_modes(task, _scale(task, sheet, back)),
            zones=_zones(task),
            place=_place(task, folder),
            after=tuple(_after(task, chosen, name)),
            gate=task.gate,
            only_if_leaving=task.phase not in ON_RETURN,
            sd_min=task.sd_min * math.sqrt(_scale(task, sheet, back)),
        )


def _left_over(folder: DepotFolder, name: str, clock: Clock, catalogue: Catalogue, news: DayNews) -> Iterator[DayTask]:
    """Yield the work on a vehicle that came back on an earlier day; it is done whether it leaves today or not.

    It was checked in when it came, unless the depot was closed.
    """
    earlier = [hire for hire in folder.hires.values() if hire.vehicle == name and clock.minute(hire.return_at) < 0]
    if not earlier:
        return
    last = max(earlier, key=lambda hire: hire.return_at)
    was_open = WEEKDAYS[clock.moment(clock.minute(last.return_at)).weekday()] in folder.depot.hours
    every = _vehicle_tasks(folder, name, last, catalogue, news)
    tasks = [task for task in every if task.only_if_leaving or not was_open]
    here = {task.id for task in tasks}
    for task in tasks:
        after = tuple(link for link in task.after if link.what in here)
        yield dataclasses.replace(task, after=after, only_if_leaving=False)


def _departure_tasks(folder: DepotFolder, hire: Hire, catalogue: Catalogue) -> Iterator[DayTask]:
    sheet = folder.sheet_of(hire)
    facts = Facts(
        tags=hire.tags, options=hire.options, fittings=[fitted.fitting for fitted in sheet.fittings] if sheet else ()
    )
    chosen = [task for task in catalogue.tasks.values() if _is_of_departure(task) and applies(task.when, facts)]
    here = {task.id for task in chosen}
    for task in chosen:
        added = task.first_timer_add_min if "first_timer" in hire.tags else 0
        scale = _scale(task, sheet, hire)
        after = [After(f"{hire.id}.{other}") for other in task.after if other in here]
        after += [
            After(other, lag_min=int(catalogue.tasks[other].wait_min), on_vehicle=True)
            for other in task.after
            if other not in here and other not in LEFT_OUT
        ]
        yield DayTask(
            id=f"{hire.id}.{task.id}",
            kind=task.id,
            name=task.name,
            departure=hire.id,
            modes=_modes(task, scale, added),
            zones=_zones(task),
            place=_place(task, folder),
            after=tuple(after),
            not_by=tuple(NotBy(kind, on_vehicle=True) for kind in catalogue.tasks if _is_cleaning(catalogue, kind))
            if task.id in SECOND_EYES
            else (),
            needs_hirer=task.needs_hirer,
            gate=task.gate,
            counts=task.id != "out_message",
            sd_min=task.sd_min * math.sqrt(scale),
        )


def _is_of_vehicle(task: Task) -> bool:
    return task.id not in LEFT_OUT and task.phase in VEHICLE_PHASES and task.id not in FOR_THE_PARTY


def _is_of_departure(task: Task) -> bool:
    return task.id not in LEFT_OUT and not _is_of_vehicle(task) and task.phase not in (*VEHICLE_PHASES, "yard")


def _is_cleaning(catalogue: Catalogue, kind: str) -> bool:
    return catalogue.tasks[kind].phase == "clean" and kind not in LEFT_OUT


def _after(task: Task, chosen: list[Task], name: str) -> Iterator[After]:
    by_id = {other.id: other for other in chosen}
    for before in task.after:
        if before in by_id:
            yield After(f"{name}.{before}", lag_min=int(by_id[before].wait_min))


def _modes(task: Task, scale: float, added_min: float = 0.0) -> tuple[Mode, ...]:
    minutes = max(1, math.ceil(task.mean_min * scale + added_min))
    if task.hands_share < OWN_HANDS_SHARE:
        return (Mode(0, minutes),)
    alone = Mode(1, minutes, task.skill)
    if task.id in ALSO_BY:
        return alone, Mode(1, minutes, ALSO_BY[task.id])
    if task.id in SHARED:
        return alone, Mode(2, max(1, math.ceil(minutes * SHARED[task.id])), task.skill)
    return (alone,)


def _scale(task: Task, sheet: BuildSheet | None, hire: Hire) -> float:
    counts = {
        "": 1,
        "berth": sum(berth.sleeps for berth in sheet.berths) if sheet else 2,
        "belt": sum(1 for seat in sheet.seats if seat.belt != "none") if sheet else 2,
        "person": len(hire.party),
        "bike": max(1, len(hire.bikes)),
        "day": 1,
    }
    if task.id == "pack_child":
        return float(max(1, sum(1 for person in hire.party if person.age_years < 12)))  # noqa: PLR2004
    return float(counts[task.scale])


def _zones(task: Task) -> frozenset[str]:
    if task.moves_vehicle:
        return frozenset({ALL_ZONES})
    return frozenset(ZONES.get(task.id, ()))


def _place(task: Task, folder: DepotFolder) -> str | None:
    """Return the place a task takes room at.

    A bay is where the vehicle stands anyway and takes none; what the hirer does alone is done beside the depot's own
    tasks on a vehicle that has its room already.
    """
    if task.hands_share < OWN_HANDS_SHARE:
        return None
    return task.place if task.place in folder.depot.places and task.place != "bay" else None


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


def hand_over_min(tasks: list[DayTask]) -> int:
    """Return the length of the hand-over itself when nobody waits, in minutes by the book.

    One person of each skill does it, one task after the other; what the hirer does alone runs beside.
    """
    free: dict[str, int] = {}
    end: dict[str, int] = {}
    for name in TopologicalSorter({task.id: _before(task, tasks) for task in tasks}).static_order():
        task = next(task for task in tasks if task.id == name)
        mode = task.modes[0]
        start = max([free.get(mode.skill, 0) if mode.crew else 0, *(end[before] for before in _before(task, tasks))])
        end[name] = start + mode.duration_min
        if mode.crew:
            free[mode.skill] = end[name]
    return max(end.values(), default=0)


def allowed_min(tasks: list[DayTask]) -> int:
    """Return how long a hand-over may take before it counts as late: what is enough nineteen times in twenty.

    Its usual length alone would be overrun every other time even when the vehicle stands ready at the promised minute.
    """
    hands_on = [task.sd_min for task in tasks if task.modes[0].crew]
    return hand_over_min(tasks) + math.ceil(ENOUGH_SD * math.hypot(*hands_on))


def _before(task: DayTask, tasks: list[DayTask]) -> list[str]:
    here = {other.id for other in tasks}
    return [link.what for link in task.after if link.what in here]
