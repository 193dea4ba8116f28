"""What a day lacks, and the smallest thing that would make it possible, found by trying with the rule of the yard.

The rule is a plain one, so what it finds is enough, and now and then a little less would do.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from keyhook.turnaround.dispatch import Stuck, dispatch
from keyhook.turnaround.plan import Plan
from keyhook.turnaround.problem import Departure, Person, Problem, Task

#: Longer hours are tried by so many minutes, up to the most.
STEP_MIN, MOST_MIN = 15, 360
Kind = Literal["hours", "person", "slot", "vehicle"]


@dataclass(frozen=True, slots=True)
class Remedy:
    """One thing that is enough.

    ``hours`` longer by ``minutes``, one more ``person`` with the skill ``what``, one more ``slot`` at the place
    ``what``, or a ``vehicle`` that suits, when there is none.
    """

    kind: Kind
    what: str = ""
    minutes: int = 0


@dataclass(frozen=True, slots=True)
class Lack:
    """A departure that cannot be served (empty: the day as a whole), tasks that find no room, and what would help."""

    departure: str
    tasks: tuple[str, ...]
    remedies: tuple[Remedy, ...]


def unskilled(problem: Problem) -> tuple[tuple[str, str], ...]:
    """Return each skill that a task needs and nobody who is here has, with the first such task."""
    known = {skill for person in problem.people if _is_here(problem, person) for skill in person.skills}
    found: dict[str, str] = {}
    for task in problem.tasks:
        if task.fixed is None and all(mode.crew and mode.skill not in known for mode in task.modes):
            found.setdefault(task.modes[0].skill, task.id)
    return tuple(found.items())


def _is_here(problem: Problem, person: Person) -> bool:
    """Tell whether any minute is left of somebody's shift in which they are not away."""
    start, end = max(person.shift[0], problem.opening_min), person.shift[1]
    for away_from, away_until in sorted(person.away):
        if away_from > start:
            break
        start = max(start, away_until)
    return start < end


def lacks(problem: Problem, plan: Plan | None) -> tuple[Lack, ...]:
    """Return what stands in the way: of each departure that a plan puts off, or of the whole day without a plan."""
    if plan is None:
        stuck = dispatch(problem)
        tasks = stuck.tasks if isinstance(stuck, Stuck) else ()
        served = next(
            (d.id for d in problem.departures if any(problem.task_by_id[t].departure == d.id for t in tasks)), ""
        )
        return (Lack(served, tasks, _remedies(problem, tasks)),)
    put_off = [name for name, vehicle in plan.allotment if vehicle is None]
    return tuple(_lack(problem, plan, problem.departure_by_id[name]) for name in put_off)


def _lack(problem: Problem, plan: Plan, departure: Departure) -> Lack:
    """Return what one departure lacks when those that the plan serves are served too."""
    if not departure.vehicles:
        return Lack(departure.id, (), (Remedy("vehicle"),))
    others = {name for name, vehicle in plan.allotment if vehicle is not None}
    wanted = tuple(
        dataclasses.replace(one, postpone_cost=None) if one.id in others | {departure.id} else one
        for one in problem.departures
        if one.id in others | {departure.id}
    )
    kept = {one.id for one in wanted}
    tasks = tuple(task for task in problem.tasks if task.departure is None or task.departure in kept)
    served = dataclasses.replace(problem, departures=wanted, tasks=tasks)
    stuck = dispatch(served)
    names = stuck.tasks if isinstance(stuck, Stuck) else ()
    return Lack(departure.id, names, _remedies(served, names) if names else ())


def _remedies(problem: Problem, stuck: tuple[str, ...]) -> tuple[Remedy, ...]:
    """Return what is enough, each tried by itself: hours first, then hands, then room."""
    tasks = [problem.task_by_id[name] for name in stuck if name in problem.task_by_id]
    return tuple(remedy for remedy, tried in _tries(problem, tasks) if isinstance(dispatch(tried), Plan))


def _tries(problem: Problem, tasks: list[Task]) -> Iterator[tuple[Remedy, Problem]]:
    minutes = _enough_min(problem)
    if minutes is not None:
        yield Remedy("hours", minutes=minutes), longer(problem, minutes)
    for skill in sorted({mode.skill for task in tasks for mode in task.modes if mode.crew}):
        yield Remedy("person", skill), _with_one_more(problem, skill)
    for place in sorted({task.place for task in tasks if task.place is not None}):
        places = tuple(dataclasses.replace(p, slots=p.slots + (p.id == place)) for p in problem.places)
        yield Remedy("slot", place), dataclasses.replace(problem, places=places)


def longer(problem: Problem, minutes: int) -> Problem:
    """Return the day with everybody kept, and the yard open, so many minutes longer."""
    people = tuple(
        dataclasses.replace(person, overtime_max_min=person.overtime_max_min + minutes) for person in problem.people
    )
    return dataclasses.replace(problem, people=people, closing_min=problem.closing_min + minutes)


def _enough_min(problem: Problem) -> int | None:
    """Return the least tried minutes by which longer hours are enough, None when even the most are not."""
    low, high = 1, MOST_MIN // STEP_MIN
    if not isinstance(dispatch(longer(problem, high * STEP_MIN)), Plan):
        return None
    while low < high:
        middle = (low + high) // 2
        if isinstance(dispatch(longer(problem, middle * STEP_MIN)), Plan):
            high = middle
        else:
            low = middle + 1
    return high * STEP_MIN


def _with_one_more(problem: Problem, skill: str) -> Problem:
    span = (problem.opening_min, problem.closing_min)
    return dataclasses.replace(problem, people=(*problem.people, Person(f"one_more_{skill}", frozenset({skill}), span)))
