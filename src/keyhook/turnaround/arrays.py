"""A day as arrays for the compiled decoder; :mod:`keyhook.turnaround.layout` says what stands where."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from keyhook.errors import BadInput
from keyhook.turnaround import layout as at
from keyhook.turnaround.layout import EVERY_BIT, I32, MOST_ZONES, NEVER
from keyhook.turnaround.plan import earliest_start_min, tasks_meant
from keyhook.turnaround.problem import ALL_ZONES, After, Mode, NotBy, Person, Problem, Task, minutes_at_pace

#: Lists (or counts) by their number in the layout.
Parts = Mapping[int, npt.ArrayLike]


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


def build_tables(problem: Problem) -> I32:
    """Return ``T`` of a verified problem, with ``REST`` still 0 (:mod:`keyhook.turnaround.bound` fills it)."""
    index = index_of(problem)
    rows = [k for k, task in enumerate(problem.tasks) if task.departure is not None]
    counts: Parts = {
        at.TASKS: len(problem.tasks),
        at.PEOPLE: len(problem.people),
        at.PLACES: len(problem.places),
        at.VEHICLES: len(problem.vehicles),
        at.DEPARTURES: len(problem.departures),
        at.CREW_MAX: most_crew(problem),
        at.TOLERANCE: problem.held_tolerance_min,
        at.CLOSING: problem.closing_min,
    }
    lists = (
        _of_tasks(problem, index, rows),
        _of_modes(problem),
        _of_people(problem),
        _of_links(problem, index),
        _of_links_by_vehicle(problem, index, rows),
        _of_places_and_departures(problem, index),
        _of_held(problem, index),
    )
    return _packed([counts, _rows_of_state(problem)], lists)


def most_crew(problem: Problem) -> int:
    """Return the largest crew any task may need, at least 1."""
    crews = [mode.crew for task in problem.tasks for mode in task.modes]
    begun = [len(task.fixed.people) for task in problem.tasks if task.fixed is not None]
    return max([1, *crews, *begun, *(len(held.people) for held in problem.held)])


def column(tables: I32, number: int, length: int) -> I32:
    """Return a view of one list of ``T``."""
    return tables[tables[number] : tables[number] + length]


# ---------------------------------------------------------------- packing


def _packed(counts: Sequence[Parts], lists: Sequence[Parts]) -> I32:
    """Lay all lists end to end behind the header, and the places of those of ``S``, ``G`` and ``D`` into it."""
    header = np.zeros(at.HEADER, np.int32)
    for part in counts:
        for number, value in part.items():
            header[number] = value
    pieces, length = [header], at.HEADER
    for part in lists:
        for number, values in part.items():
            piece = np.asarray(values, np.int32).ravel()
            header[number] = length
            length += len(piece)
            pieces.append(piece)
    _place_lists(header)
    return np.concatenate(pieces)


def _place_lists(header: I32) -> None:
    """Write into the header where the lists of ``S``, ``G`` and ``D`` begin."""
    tasks, people, places = header[at.TASKS], header[at.PEOPLE], header[at.PLACES]
    vehicles, departures, crew = header[at.VEHICLES], header[at.DEPARTURES], header[at.CREW_MAX]
    stays, stands, serves = header[at.PERSON_ROW], header[at.PLACE_ROW], header[at.VEHICLE_ROW]
    breaks = header[at.S_LENGTH]
    state = [
        (at.S_PERSON_N, people), (at.S_PERSON_FROM, people * stays), (at.S_PERSON_TO, people * stays),
        (at.S_PERSON_LAST, people), (at.S_REST_AT, breaks),
        (at.S_PLACE_N, places), (at.S_PLACE_AT, places * stands), (at.S_PLACE_USED, places * stands),
        (at.S_VEHICLE_N, vehicles), (at.S_VEHICLE_FROM, vehicles * serves), (at.S_VEHICLE_TO, vehicles * serves),
        (at.S_VEHICLE_ZONES, vehicles * serves), (at.S_LEAVE, departures), (at.S_LENGTH, 0),
    ]  # fmt: skip
    genes = [
        (at.G_ORDER, tasks), (at.G_VEHICLE, departures), (at.G_DEPARTURE, vehicles), (at.G_MODE, tasks),
        (at.G_WISH, tasks * crew), (at.G_KEEP, tasks), (at.G_LENGTH, 0),
    ]  # fmt: skip
    done = [
        (at.D_START, tasks), (at.D_END, tasks), (at.D_READY, tasks), (at.D_CAUSE, tasks),
        (at.D_CREW, tasks * crew), (at.D_LENGTH, 0),
    ]  # fmt: skip
    for lists in (state, genes, done):
        begins = 0
        for number, length in lists:
            header[number] = begins
            begins += length


def _end_to_end(lists: Iterable[Sequence[int]]) -> tuple[list[int], list[int]]:
    """Return pointers and items of lists laid end to end."""
    ptr, items = [0], []
    for one in lists:
        items.extend(one)
        ptr.append(len(items))
    return ptr, items


# ---------------------------------------------------------------- the lists of T


def _of_tasks(problem: Problem, index: Index, rows: list[int]) -> Parts:
    tasks, bits = problem.tasks, _zone_bits(problem)
    row = np.full(len(tasks), -1, np.int32)
    row[rows] = np.arange(len(rows))
    return {
        at.RELEASE: [earliest_start_min(problem, task, task.vehicle) for task in tasks],
        at.BOUND: [index.vehicle.get(task.vehicle or "", -1) for task in tasks],
        at.SERVES: [index.departure.get(task.departure or "", -1) for task in tasks],
        at.TOUCHES: [task.departure is not None and len(task.zones) > 0 for task in tasks],
        at.ZONES: [sum(bits[zone] for zone in task.zones) if ALL_ZONES not in task.zones else -1 for task in tasks],
        at.PLACE: [index.place.get(task.place or "", -1) for task in tasks],
        at.USE: [task.slot_use for task in tasks],
        at.PLACE_TAIL: [task.place_tail_min for task in tasks],
        at.ZONE_TAIL: [task.zone_tail_min for task in tasks],
        at.COUNTS: [task.counts for task in tasks],
        at.LEAVING: [task.only_if_leaving and task.vehicle is not None for task in tasks],
        at.FIXED: [task.fixed is not None for task in tasks],
        at.ROW: row,
        at.REST: np.zeros(len(tasks), np.int32),
    }


def _zone_bits(problem: Problem) -> dict[str, int]:
    names = sorted({zone for task in problem.tasks for zone in task.zones} - {ALL_ZONES})
    if len(names) > MOST_ZONES:
        raise BadInput("The vehicles have too many zones", seen=len(names), todo=f"Use {MOST_ZONES} names or fewer")
    return {name: 1 << k for k, name in enumerate(names)} | {ALL_ZONES: EVERY_BIT}


def skills_of(problem: Problem) -> list[str]:
    """Return the skills that tasks ask for, in the order of the arrays."""
    return sorted({mode.skill for task in problem.tasks for mode in task.modes})


def _of_modes(problem: Problem) -> Parts:
    skills, paces = skills_of(problem), [person.pace_factor for person in problem.people] or [1.0]
    modes = [mode for task in problem.tasks for mode in task.modes]
    return {
        at.MODE_PTR: _end_to_end([[0] * len(task.modes) for task in problem.tasks])[0],
        at.CREW: [mode.crew for mode in modes],
        at.SKILL: [skills.index(mode.skill) for mode in modes],
        at.MINUTES: [[_minutes(mode, pace) for pace in paces] for mode in modes],
    }


def _minutes(mode: Mode, pace: float) -> int:
    return minutes_at_pace(mode.duration_min, pace) if mode.crew > 0 else mode.duration_min


def _of_people(problem: Problem) -> Parts:
    """People of a skill stand with the least versatile first, then the quickest: scarce skills are spared."""
    used = set(skills_of(problem))
    thrift = sorted(range(len(problem.people)), key=lambda k: _thrift(problem.people[k], used))
    skilled = [[k for k in thrift if skill in problem.people[k].skills] for skill in skills_of(problem)]
    breaks = [rest for person in problem.people for rest in person.breaks]
    skill_ptr, who = _end_to_end(skilled)
    return {
        at.SKILL_PTR: skill_ptr,
        at.SKILLED: who,
        at.BREAK_PTR: _end_to_end([[0] * len(person.breaks) for person in problem.people])[0],
        at.BREAK_FIRST: [max(rest.earliest_min, problem.opening_min) for rest in breaks],
        at.BREAK_LAST: [rest.latest_min for rest in breaks],
        at.BREAK_LENGTH: [rest.length_min for rest in breaks],
        at.SHIFT_END: [person.shift[1] for person in problem.people],
    }


def _thrift(person: Person, used: set[str]) -> tuple[int, float]:
    return len(person.skills & used), person.pace_factor


def _of_links(problem: Problem, index: Index) -> Parts:
    """Links that do not hang on who serves whom: plain ones, and those of a task bound to its vehicle."""

    def plain(task: Task, links: Iterable[After | NotBy]) -> list[tuple[int, int]]:
        stay = [link for link in links if not (link.on_vehicle and task.departure is not None)]
        return _meant(problem, index, task, stay, task.vehicle)

    before = [plain(task, task.after) for task in problem.tasks]
    other = [plain(task, task.not_by) for task in problem.tasks]
    before_ptr, items = _end_to_end([[k for k, _ in links] for links in before])
    other_ptr, others = _end_to_end([[k for k, _ in links] for links in other])
    lags = [lag for links in before for _, lag in links]
    return {
        at.BEFORE_PTR: before_ptr,
        at.BEFORE: items,
        at.BEFORE_LAG: lags,
        at.OTHER_PTR: other_ptr,
        at.OTHER: others,
    }


def _of_links_by_vehicle(problem: Problem, index: Index, rows: list[int]) -> Parts:
    """Links of departure tasks to tasks of whichever vehicle serves, by row and vehicle."""
    before: list[list[tuple[int, int]]] = []
    other: list[list[tuple[int, int]]] = []
    for task in (problem.tasks[k] for k in rows):
        allowed = {suits.vehicle for suits in problem.departure_by_id[task.departure or ""].vehicles}
        after = [link for link in task.after if link.on_vehicle]
        eyes = [link for link in task.not_by if link.on_vehicle]
        for vehicle in problem.vehicles:
            serves = vehicle.id in allowed
            before.append(_meant(problem, index, task, after, vehicle.id) if serves else [])
            other.append(_meant(problem, index, task, eyes, vehicle.id) if serves else [])
    before_ptr, items = _end_to_end([[k for k, _ in links] for links in before])
    other_ptr, others = _end_to_end([[k for k, _ in links] for links in other])
    return {
        at.V_BEFORE_PTR: before_ptr,
        at.V_BEFORE: items,
        at.V_BEFORE_LAG: [lag for links in before for _, lag in links],
        at.V_OTHER_PTR: other_ptr,
        at.V_OTHER: others,
    }


def _meant(
    problem: Problem, index: Index, task: Task, links: Sequence[After | NotBy], vehicle: str | None
) -> list[tuple[int, int]]:
    return [
        (index.task[other.id], link.lag_min if isinstance(link, After) else 0)
        for link in links
        for other in tasks_meant(problem, task, link, vehicle)
    ]


def _of_places_and_departures(problem: Problem, index: Index) -> Parts:
    suits = np.full((len(problem.departures), max(1, len(problem.vehicles))), -1, np.int32)
    for row, departure in enumerate(problem.departures):
        for allowed in departure.vehicles:
            suits[row, index.vehicle[allowed.vehicle]] = departure.cost_of(allowed.vehicle)
    own = [[index.task[task.id] for task in problem.tasks_of_vehicle[vehicle.id]] for vehicle in problem.vehicles]
    dues = [[index.task[task.id] for task in problem.tasks_of_departure[d.id]] for d in problem.departures]
    vtask_ptr, vtask = _end_to_end(own)
    dtask_ptr, dtask = _end_to_end(dues)
    return {
        at.SLOTS: [place.slots for place in problem.places],
        at.ARRIVES: [vehicle.arrives_min for vehicle in problem.vehicles],
        at.VTASK_PTR: vtask_ptr,
        at.VTASK: vtask,
        at.DTASK_PTR: dtask_ptr,
        at.DTASK: dtask,
        at.WEIGHT: [departure.weight for departure in problem.departures],
        at.DUE: [departure.due for departure in problem.departures],
        at.POSTPONE: [-1 if d.postpone_cost is None else d.postpone_cost for d in problem.departures],
        at.SUITS: suits,
    }


def _of_held(problem: Problem, index: Index) -> Parts:
    start = np.full(len(problem.tasks), -1, np.int32)
    crew = np.full((len(problem.tasks), most_crew(problem)), -1, np.int32)
    for held in problem.held:
        if held.task in index.task:
            row = index.task[held.task]
            people = sorted(index.person.get(name, NEVER) for name in held.people)
            start[row] = held.start_min
            crew[row, : len(people)] = people
    return {at.HELD_START: start, at.HELD_CREW: crew}


# ---------------------------------------------------------------- how long the rows of S are


def _rows_of_state(problem: Problem) -> Parts:
    stays = max((_most_stays(problem, person) for person in problem.people), default=1)
    here = [sum(1 for task in problem.tasks if task.place == place.id) + len(place.closed) for place in problem.places]
    own = max((len(tasks) for tasks in problem.tasks_of_vehicle.values()), default=0)
    served = max((len(tasks) for tasks in problem.tasks_of_departure.values()), default=0)
    return {
        at.PERSON_ROW: stays,
        at.PLACE_ROW: 2 * max(here, default=0) + 3,
        at.VEHICLE_ROW: own + served + 1,
        at.S_LENGTH: sum(len(person.breaks) for person in problem.people),
    }


def _most_stays(problem: Problem, person: Person) -> int:
    """Return how many stretches a day of one person can have: the shortest tasks that fill it, and a few more."""
    room = person.shift[1] + person.overtime_max_min - person.shift[0]
    able = [
        min(_minutes(mode, person.pace_factor) for mode in task.modes)
        for task in problem.tasks
        if any(mode.skill in person.skills and mode.crew > 0 for mode in task.modes)
    ]
    count = int(np.searchsorted(np.cumsum(sorted(able)), room, side="right")) if able else 0
    begun = sum(1 for task in problem.tasks if task.fixed is not None and person.id in task.fixed.people)
    return count + begun + len(person.away) + 3
