"""A day as arrays for the compiled decoder; :mod:`keyhook.turnaround.layout` says what stands where."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from keyhook.errors import BadInput
from keyhook.turnaround import layout as at
from keyhook.turnaround.layout import EVERY_BIT, I32, MOST_ZONES, NEVER
from keyhook.turnaround.plan import earliest_start_min, tasks_meant
from keyhook.turnaround.problem import ALL_ZONES, After, Mode, NotBy, Person, Problem, Task, minutes_at_pace

#: Into more pieces than this the work of one person is not cut; then the smallest gap between two is closed.
MOST_PIECES = 48


@dataclass(frozen=True)
class Index:
    """Positions by id: the order of the problem is the order of every array."""

    task: Mapping[str, int]
    person: Mapping[str, int]
    place: Mapping[str, int]
    vehicle: Mapping[str, int]
    departure: Mapping[str, int]


def index_of(problem: Problem) -> Index:
    """Return positions of everything that has an id."""
    kinds = (problem.tasks, problem.people, problem.places, problem.vehicles, problem.departures)
    return Index(*({item.id: k for k, item in enumerate(items)} for items in kinds))  # type: ignore[attr-defined]


def build_tables(problem: Problem, rest: Sequence[int]) -> I32:
    """Return ``T`` of a verified problem; ``rest`` is the shortest way from each task to the leaving."""
    index = index_of(problem)
    paces = paces_of(problem)
    skill_first, skilled = _skilled(problem, paces)
    modes, mode_first = _modes(problem, skill_first, paces)
    before, before_first = _end_to_end([_plain_links(problem, index, task, task.after) for task in problem.tasks])
    other, other_first = _end_to_end([_plain_links(problem, index, task, task.not_by) for task in problem.tasks])
    rows = [k for k, task in enumerate(problem.tasks) if task.departure is not None]
    v_before, v_before_ptr = _links_by_vehicle(problem, index, rows, eyes=False)
    v_other, v_other_ptr = _links_by_vehicle(problem, index, rows, eyes=True)
    own, vehicle_first, departure_first = _own(problem, index)
    stretches = np.column_stack([_bounds(first) for first in (mode_first, before_first, other_first)])
    header = _header(problem)
    header[at.MODE_ROW] = at.MINUTES + len(paces)
    across = _across(problem, index)
    header[at.CROSSES] = len(across)
    lists: dict[int, Any] = {
        at.TASK: np.column_stack([_tasks(problem, index, rows, rest), stretches]),
        at.MODE: modes,
        at.SKILLED: skilled,
        at.PERSON: _people(problem, paces),
        at.PLACE_SLOTS: [place.slots for place in problem.places],
        at.VEHICLE: np.column_stack([_bounds(vehicle_first), [v.arrives_min for v in problem.vehicles]]),
        at.DEPARTURE: np.column_stack([_bounds(departure_first), _departures(problem)]),
        at.SUITS: _suits(problem, index),
        at.HELD: _held(problem, index),
        at.BEFORE: before,
        at.OTHER: other,
        at.V_BEFORE_PTR: v_before_ptr,
        at.V_BEFORE: v_before,
        at.V_OTHER_PTR: v_other_ptr,
        at.V_OTHER: v_other,
        at.OWN: own,
        at.CROSS: across,
    }
    return _packed(header, lists)


def most_crew(problem: Problem) -> int:
    """Return the largest crew any task may need, at least 1."""
    crews = [mode.crew for task in problem.tasks for mode in task.modes]
    begun = [len(task.fixed.people) for task in problem.tasks if task.fixed is not None]
    return max([1, *crews, *begun, *(len(held.people) for held in problem.held)])


# ---------------------------------------------------------------- packing


def _header(problem: Problem) -> I32:
    header = np.zeros(at.HEADER, np.int32)
    header[at.TASKS] = len(problem.tasks)
    header[at.PEOPLE] = len(problem.people)
    header[at.PLACES] = len(problem.places)
    header[at.VEHICLES] = len(problem.vehicles)
    header[at.DEPARTURES] = len(problem.departures)
    header[at.CREW_MAX] = crew = most_crew(problem)
    header[at.BREAKS] = breaks = max((len(person.breaks) for person in problem.people), default=0)
    header[at.TOLERANCE] = problem.held_tolerance_min
    header[at.CLOSING] = problem.closing_min
    header[at.PERSON_ROW] = at.BREAK + breaks * at.BREAK_ROW
    header[at.HELD_ROW] = at.HELD_CREW + crew
    header[at.S_PERSON_ROW] = at.REST_AT + breaks + 2 * _most_stretches(problem)
    header[at.S_PLACE_ROW] = 1 + 2 * _most_steps(problem)
    header[at.S_VEHICLE_ROW] = 1 + 3 * _most_stays(problem)
    header[at.G_ROW] = at.G_WISH + crew
    header[at.D_ROW] = at.D_CREW + crew
    _place_lists(header)
    return header


def _place_lists(header: I32) -> None:
    """Write into the header where the lists of ``S``, ``G`` and ``D`` begin."""
    tasks, vehicles, departures = header[at.TASKS], header[at.VEHICLES], header[at.DEPARTURES]
    header[at.S_PLACE] = header[at.S_PERSON] + header[at.PEOPLE] * header[at.S_PERSON_ROW]
    header[at.S_VEHICLE] = header[at.S_PLACE] + header[at.PLACES] * header[at.S_PLACE_ROW]
    header[at.S_LEAVE] = header[at.S_VEHICLE] + vehicles * header[at.S_VEHICLE_ROW]
    header[at.S_LENGTH] = header[at.S_LEAVE] + departures
    header[at.G_VEHICLE] = tasks
    header[at.G_DEPARTURE] = header[at.G_VEHICLE] + departures
    header[at.G_TASK] = header[at.G_DEPARTURE] + vehicles
    header[at.G_LENGTH] = header[at.G_TASK] + tasks * header[at.G_ROW]
    header[at.D_LENGTH] = tasks * header[at.D_ROW]


def _packed(header: I32, lists: Mapping[int, npt.ArrayLike]) -> I32:
    """Lay all lists end to end behind the header."""
    pieces, length = [header], at.HEADER
    for number, values in lists.items():
        piece = np.asarray(values, np.int32).ravel()
        header[number] = length
        length += len(piece)
        pieces.append(piece)
    return np.concatenate(pieces)


def _end_to_end(lists: Iterable[Sequence[tuple[int, ...]]]) -> tuple[list[tuple[int, ...]], list[int]]:
    """Return items of lists laid end to end, and where each list begins (and the last ends)."""
    first: list[int] = [0]
    items: list[tuple[int, ...]] = []
    for one in lists:
        items.extend(one)
        first.append(len(items))
    return items, first


def _bounds(first: Sequence[int]) -> I32:
    """Return from and to of each stretch."""
    return np.column_stack([first[:-1], first[1:]]).astype(np.int32)


# ---------------------------------------------------------------- the lists of T


def _tasks(problem: Problem, index: Index, rows: list[int], rest: Sequence[int]) -> I32:
    bits = _zone_bits(problem)
    link = np.full(len(problem.tasks), -1, np.int32)
    link[rows] = np.arange(len(rows))
    table = np.zeros((len(problem.tasks), at.MODE_FIRST), np.int32)
    for k, task in enumerate(problem.tasks):
        table[k] = [
            earliest_start_min(problem, task, task.vehicle),
            index.vehicle.get(task.vehicle or "", -1),
            index.departure.get(task.departure or "", -1),
            task.departure is not None and len(task.zones) > 0,
            EVERY_BIT if ALL_ZONES in task.zones else sum(bits[zone] for zone in task.zones),
            index.place.get(task.place or "", -1),
            task.slot_use,
            task.place_tail_min,
            task.zone_tail_min,
            task.counts,
            task.only_if_leaving and task.vehicle is not None,
            task.fixed is not None,
            link[k],
            rest[k],
        ]
    return table


def _zone_bits(problem: Problem) -> dict[str, int]:
    names = sorted({zone for task in problem.tasks for zone in task.zones} - {ALL_ZONES})
    if len(names) > MOST_ZONES:
        raise BadInput("The vehicles have too many zones", seen=len(names), todo=f"Use {MOST_ZONES} names or fewer")
    return {name: 1 << k for k, name in enumerate(names)}


def skills_of(problem: Problem) -> list[str]:
    """Return the skills that tasks ask for, in the order of the arrays."""
    return sorted({mode.skill for task in problem.tasks for mode in task.modes})


def paces_of(problem: Problem) -> list[float]:
    """Return the paces people have, in the order of the arrays."""
    return sorted({person.pace_factor for person in problem.people}) or [1.0]


def _skilled(problem: Problem, paces: list[float]) -> tuple[list[int], list[tuple[int, ...]]]:
    """People of a skill stand with the least versatile first, then the quickest: scarce skills are spared."""
    used = set(skills_of(problem))
    thrift = sorted(range(len(problem.people)), key=lambda k: _thrift(problem.people[k], used))
    people = problem.people
    lists = [
        [(k, paces.index(people[k].pace_factor)) for k in thrift if skill in people[k].skills]
        for skill in skills_of(problem)
    ]
    items, first = _end_to_end(lists)
    return first, items


def _thrift(person: Person, used: set[str]) -> tuple[int, float]:
    return len(person.skills & used), person.pace_factor


def _modes(problem: Problem, skill_first: list[int], paces: list[float]) -> tuple[list[list[int]], list[int]]:
    skills, table, first = skills_of(problem), [], [0]
    for task in problem.tasks:
        for mode in task.modes:
            skill = skills.index(mode.skill)
            minutes = [_minutes(mode, pace) for pace in paces]
            table.append([mode.crew, skill_first[skill], skill_first[skill + 1], *minutes])
        first.append(len(table))
    return table, first


def _minutes(mode: Mode, pace: float) -> int:
    return minutes_at_pace(mode.duration_min, pace) if mode.crew > 0 else mode.duration_min


def _people(problem: Problem, paces: list[float]) -> list[list[int]]:
    breaks = max((len(person.breaks) for person in problem.people), default=0)
    table, told = [], told_ends(problem)
    for person in problem.people:
        last = min(person.shift[1] + person.overtime_max_min, problem.closing_min)
        row = [max(person.shift[1], told.get(person.id, 0)), last, paces.index(person.pace_factor)]
        for rest in person.breaks:
            row += [max(rest.earliest_min, problem.opening_min), rest.latest_min, rest.length_min]
        table.append(row + [0] * at.BREAK_ROW * (breaks - len(person.breaks)))
    return table


def told_ends(problem: Problem) -> dict[str, int]:
    """Return until when each person works in the plan people hold: nobody is moved about to save that overtime."""
    ends: dict[str, int] = {}
    for held in problem.held:
        task = problem.task_by_id.get(held.task)
        paces = [problem.person_by_id[name].pace_factor for name in held.people if name in problem.person_by_id]
        for mode in task.modes if task is not None else ():
            if mode.crew == len(held.people) == len(paces) > 0:
                end = held.start_min + minutes_at_pace(mode.duration_min, max(paces))
                ends.update({name: max(end, ends.get(name, 0)) for name in held.people})
    return ends


def _plain_links(problem: Problem, index: Index, task: Task, links: Iterable[After | NotBy]) -> list[tuple[int, ...]]:
    """Links that do not hang on who serves whom: plain ones, and those of a task bound to its vehicle."""
    stay = [link for link in links if not (link.on_vehicle and task.departure is not None)]
    return _meant(problem, index, task, stay, task.vehicle)


def _links_by_vehicle(
    problem: Problem, index: Index, rows: list[int], *, eyes: bool
) -> tuple[list[tuple[int, ...]], list[int]]:
    """Links of departure tasks to tasks of whichever vehicle serves, by row and vehicle."""
    lists: list[list[tuple[int, ...]]] = []
    for task in (problem.tasks[k] for k in rows):
        allowed = {suits.vehicle for suits in problem.departure_by_id[task.departure or ""].vehicles}
        links = [link for link in (task.not_by if eyes else task.after) if link.on_vehicle]
        lists.extend(
            _meant(problem, index, task, links, vehicle.id) if vehicle.id in allowed else []
            for vehicle in problem.vehicles
        )
    return _end_to_end(lists)


def _meant(
    problem: Problem, index: Index, task: Task, links: Sequence[After | NotBy], vehicle: str | None
) -> list[tuple[int, ...]]:
    return [
        (index.task[other.id], link.lag_min if isinstance(link, After) else 0)
        for link in links
        for other in tasks_meant(problem, task, link, vehicle)
    ]


def _across(problem: Problem, index: Index) -> list[tuple[int, int, int]]:
    """Links between tasks of two owners: taking out what one vehicle and its departure own does not take out both."""
    links = []
    for task in problem.tasks:
        everything: list[After | NotBy] = [*task.after, *task.not_by]
        plain = [link for link in everything if not (link.on_vehicle and task.departure is not None)]
        for link in plain:
            lag = link.lag_min if isinstance(link, After) else at.OTHER_EYES
            links += [
                (index.task[task.id], index.task[other.id], lag)
                for other in tasks_meant(problem, task, link, task.vehicle)
                if (other.vehicle, other.departure) != (task.vehicle, task.departure)
            ]
    return links


def _own(problem: Problem, index: Index) -> tuple[list[tuple[int, ...]], list[int], list[int]]:
    """Tasks by vehicle, then by departure, in one list, and where each begins."""
    lists = [[(index.task[task.id],) for task in problem.tasks_of_vehicle[v.id]] for v in problem.vehicles]
    lists += [[(index.task[task.id],) for task in problem.tasks_of_departure[d.id]] for d in problem.departures]
    items, first = _end_to_end(lists)
    vehicles = len(problem.vehicles)
    return items, first[: vehicles + 1], first[vehicles:]


def _departures(problem: Problem) -> I32:
    rows = [(d.weight, d.due, -1 if d.postpone_cost is None else d.postpone_cost) for d in problem.departures]
    return np.array(rows, np.int32).reshape(-1, 3)


def _suits(problem: Problem, index: Index) -> I32:
    """Cost of level two by departure and vehicle; -1: not allowed."""
    suits = np.full((len(problem.departures), len(problem.vehicles)), -1, np.int32)
    for row, departure in enumerate(problem.departures):
        for allowed in departure.vehicles:
            cost = departure.cost_of(allowed.vehicle)
            suits[row, index.vehicle[allowed.vehicle]] = -1 if cost is None else cost
    return suits


def _held(problem: Problem, index: Index) -> I32:
    held = np.full((len(problem.tasks), at.HELD_CREW + most_crew(problem)), -1, np.int32)
    for one in problem.held:
        if one.task in index.task:
            people = sorted(index.person.get(name, NEVER) for name in one.people)
            held[index.task[one.task], : at.HELD_CREW + len(people)] = [one.start_min, *people]
    return held


# ---------------------------------------------------------------- how long the rows of S are


def _most_stretches(problem: Problem) -> int:
    return max((_stretches(problem, person) for person in problem.people), default=1)


def _settled_stretches(problem: Problem, person: Person) -> int:
    """Return how many stretches of a person's day are settled beforehand, at most."""
    begun = sum(1 for task in problem.tasks if task.fixed is not None and person.id in task.fixed.people)
    return begun + len(person.away) + 3


def _stretches(problem: Problem, person: Person) -> int:
    """Return how many stretches a day of one person can have: the shortest tasks that fill it, and a few more."""
    room = person.shift[1] + person.overtime_max_min - person.shift[0]
    able = [
        min(_minutes(mode, person.pace_factor) for mode in task.modes)
        for task in problem.tasks
        if any(mode.skill in person.skills and mode.crew > 0 for mode in task.modes)
    ]
    count = int(np.searchsorted(np.cumsum(sorted(able)), room, side="right")) if able else 0
    settled = _settled_stretches(problem, person)
    return min(count, MOST_PIECES) + settled


def _most_steps(problem: Problem) -> int:
    here = [sum(1 for task in problem.tasks if task.place == place.id) + len(place.closed) for place in problem.places]
    return 2 * max(here, default=0) + 3


def _most_stays(problem: Problem) -> int:
    own = max((len(tasks) for tasks in problem.tasks_of_vehicle.values()), default=0)
    return own + max((len(tasks) for tasks in problem.tasks_of_departure.values()), default=0) + 1
