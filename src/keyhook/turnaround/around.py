"""The evening before, the morning of a changeover, and the days without one.

What of tomorrow can be done tonight, which vehicles go straight out again and how much room each has, and which
vehicles still stand as they came back.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from graphlib import TopologicalSorter
from zoneinfo import ZoneInfo

from keyhook.catalogue import Catalogue
from keyhook.depot.day import returns_on
from keyhook.depot.depot import WEEKDAYS
from keyhook.depot.folder import DepotFolder
from keyhook.turnaround.chances import lateness_min, left_at
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.compose import DayNews, day_problem
from keyhook.turnaround.plan import Plan, waits
from keyhook.turnaround.problem import Fixed, Problem, Task

#: What can be done the evening before: packing. Water, gas and the last look belong to the day itself.
EARLY_PHASES = frozenset({"pack"})
#: How many days ahead a next hire still counts as straight out again.
SOON_DAYS = 2
#: How many days back a return may lie for its vehicle to stand undone.
STOOD_DAYS = 7


@dataclass(frozen=True, slots=True)
class EarlyTask:
    """A task of tomorrow that can be done tonight: for whom, in which vehicle (none: at the desk), by what skill."""

    task: str
    name: str
    departure: str
    vehicle: str | None
    skill: str
    minutes: int


@dataclass(frozen=True, slots=True)
class TightTurn:
    """A vehicle that comes back and goes straight out again.

    ``work_min`` is its work by the book when nobody waits, ``open_min`` the depot's open minutes between the return
    and the promise, ``slack_min`` what is left of them.
    """

    vehicle: str
    back: str
    back_at: dt.datetime
    out: str
    promised_at: dt.datetime
    work_min: int
    open_min: int

    @property
    def slack_min(self) -> int:
        """Minutes that may be lost before the promise is."""
        return self.open_min - self.work_min


@dataclass(frozen=True, slots=True)
class Standing:
    """A vehicle that stands as it came back: since when, for which hire it is next wanted and when (None: for none)."""

    vehicle: str
    back: str
    back_at: dt.datetime
    out: str | None
    promised_at: dt.datetime | None


def evening_before(problem: Problem, catalogue: Catalogue) -> tuple[EarlyTask, ...]:
    """Return the tasks of a day that can be done the evening before, by departure as promised.

    Packing and papers for a vehicle that stands in the yard, or that touch no vehicle; nothing that waits for what can
    only be done in the morning. ``problem`` is tomorrow as :func:`keyhook.turnaround.compose.day_problem` lays it out.
    """
    found: dict[str, EarlyTask] = {}
    departures = sorted(problem.departures, key=lambda one: (one.promised_min, one.id))
    for departure in departures:
        tasks = {task.id: task for task in problem.tasks_of_departure[departure.id]}
        order = TopologicalSorter({name: [a.what for a in t.after if a.what in tasks] for name, t in tasks.items()})
        for name in order.static_order():
            task = tasks[name]
            if _is_early(problem, task, departure.allotted, catalogue, found):
                mode = task.modes[0]
                vehicle = departure.allotted if _is_inside(task) else None
                found[name] = EarlyTask(name, task.name, departure.id, vehicle, mode.skill, mode.duration_min)
    return tuple(found.values())


def _is_early(
    problem: Problem, task: Task, vehicle: str | None, catalogue: Catalogue, found: dict[str, EarlyTask]
) -> bool:
    phase = catalogue.tasks[task.kind].phase if task.kind in catalogue.tasks else ""
    if phase not in EARLY_PHASES or task.needs_hirer or task.fixed is not None:
        return False
    stands = vehicle is not None and problem.vehicle_by_id[vehicle].arrives_min <= 0
    waits_for = [link for link in task.after if not link.on_vehicle]
    return (stands or not _is_inside(task)) and all(link.what in found for link in waits_for)


def _is_inside(task: Task) -> bool:
    return bool(task.zones) or any(link.on_vehicle for link in task.after)


def done_early(problem: Problem, tasks: Sequence[str]) -> Problem:
    """Return a day on which these tasks are done already when it opens."""
    done = set(tasks)
    fixed = Fixed(problem.opening_min - 1, problem.opening_min)
    changed = tuple(
        dataclasses.replace(task, departure=None, after=(), not_by=(), fixed=fixed) if task.id in done else task
        for task in problem.tasks
    )
    return dataclasses.replace(problem, tasks=changed)


def evening_spares_min(
    problem: Problem, plan: Plan, tasks: Sequence[str], *, draws: int = 1000, seed: int = 0
) -> float:
    """Return the weighted minutes of lateness that doing these tasks the evening before spares on average."""
    fixed = problem.opening_min
    rows = tuple(
        dataclasses.replace(one, start_min=fixed - 1, end_min=fixed, people=()) if one.task in set(tasks) else one
        for one in plan.tasks
    )
    eased = dataclasses.replace(plan, tasks=rows)
    before = lateness_min(problem, left_at(problem, plan, draws, seed))
    early = done_early(problem, tasks)
    return before - lateness_min(early, left_at(early, eased, draws, seed))


def straight_out_again(
    folder: DepotFolder, day: dt.date, catalogue: Catalogue, news: DayNews | None = None
) -> tuple[TightTurn, ...]:
    """Return the vehicles that come back on a day and go out again soon, the one with the least slack first."""
    clock = Clock(day, folder.depot.zone)
    known = news.arrivals if news is not None else {}
    found = []
    for back in returns_on(folder, day):
        out, vehicle = back.next_hire, back.hire.vehicle
        if out is None or vehicle is None or _days_until(folder, day, out.collect_at) > SOON_DAYS:
            continue
        at = clock.moment(known[back.hire.id]) if back.hire.id in known else (back.news.at if back.news else back.due)
        promised = out.collect_at.astimezone(ZoneInfo(folder.depot.zone))
        work = _work_min(folder, day, catalogue, vehicle, out.id, promised.date())
        found.append(TightTurn(vehicle, back.hire.id, at, out.id, promised, work, open_minutes(folder, at, promised)))
    return tuple(sorted(found, key=lambda one: (one.slack_min, one.vehicle)))


def standing(folder: DepotFolder, day: dt.date) -> tuple[Standing, ...]:
    """Return the vehicles that came back in the last days and have not left since, the next wanted first.

    What is known of the work on them is not in the folder: whoever has finished one leaves it out.
    """
    found = []
    for days in range(1, STOOD_DAYS + 1):
        for back in returns_on(folder, day - dt.timedelta(days=days)):
            out, vehicle = back.next_hire, back.hire.vehicle
            left = out is not None and out.collect_at.astimezone(ZoneInfo(folder.depot.zone)).date() < day
            if vehicle is None or left:
                continue
            promised = out.collect_at.astimezone(ZoneInfo(folder.depot.zone)) if out is not None else None
            found.append(Standing(vehicle, back.hire.id, back.due, out.id if out else None, promised))
    return tuple(sorted(found, key=lambda one: (one.promised_at is None, one.promised_at or one.back_at, one.vehicle)))


def left_over(folder: DepotFolder, day: dt.date) -> frozenset[str]:
    """Return the vehicles that came back since the depot was last open before a day and have not left since."""
    last = day - dt.timedelta(days=1)
    while WEEKDAYS[last.weekday()] not in folder.depot.hours and (day - last).days < STOOD_DAYS:
        last -= dt.timedelta(days=1)
    zone = ZoneInfo(folder.depot.zone)
    return frozenset(one.vehicle for one in standing(folder, day) if one.back_at.astimezone(zone).date() >= last)


def open_minutes(folder: DepotFolder, start: dt.datetime, end: dt.datetime) -> int:
    """Return the minutes between two moments in which the depot is open."""
    zone = ZoneInfo(folder.depot.zone)
    day, total = start.astimezone(zone).date(), 0
    while day <= end.astimezone(zone).date():
        hours = folder.depot.hours.get(WEEKDAYS[day.weekday()])
        if hours is not None:
            clock = Clock(day, folder.depot.zone)
            opens, closes = clock.at(hours.opens), clock.at(hours.closes)
            total += max(0, min(closes, clock.minute(end)) - max(opens, clock.minute(start)))
        day += dt.timedelta(days=1)
    return total


def _days_until(folder: DepotFolder, day: dt.date, moment: dt.datetime) -> int:
    return (moment.astimezone(ZoneInfo(folder.depot.zone)).date() - day).days


def _work_min(folder: DepotFolder, day: dt.date, catalogue: Catalogue, vehicle: str, out: str, out_day: dt.date) -> int:
    """Return the shortest way from the return to a vehicle that stands ready for its party, in minutes by the book."""
    first = day_problem(folder, day, catalogue, suits={})
    mine = {task.id: task for task in first.tasks if task.vehicle == vehicle}
    if out_day == day:
        mine |= {task.id: task for task in first.tasks if task.departure == out and not task.needs_hirer}
        return _longest(first, mine, {out: vehicle})
    then = day_problem(folder, out_day, catalogue, suits={})
    packing = {task.id: task for task in then.tasks if task.departure == out and not task.needs_hirer}
    return _longest(first, mine, {}) + _longest(then, packing, {out: vehicle})


def _longest(problem: Problem, tasks: dict[str, Task], allotment: dict[str, str]) -> int:
    known = [wait for wait in waits(problem, allotment) if wait.before in tasks and wait.after in tasks]
    lag = {(wait.before, wait.after): wait.lag_min for wait in known}
    before = {name: [wait.before for wait in known if wait.after == name] for name in tasks}
    end: dict[str, int] = {}
    for name in TopologicalSorter(before).static_order():
        took = min(mode.duration_min for mode in tasks[name].modes)
        end[name] = took + max((end[other] + lag[other, name] for other in before[name]), default=0)
    return max(end.values(), default=0)
