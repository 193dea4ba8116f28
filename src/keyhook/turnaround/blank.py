"""The day before anything is decoded: shifts, absence, closings and what has begun are already taken."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from keyhook.turnaround import layout as at
from keyhook.turnaround.arrays import index_of
from keyhook.turnaround.layout import I32, NEVER
from keyhook.turnaround.problem import Person, Place, Problem, Stretch


def blank_state(problem: Problem, tables: I32) -> I32:
    """Return ``S`` before anything is decoded."""
    state = np.zeros(tables[at.S_LENGTH], np.int32)
    state[tables[at.S_LEAVE] :] = problem.opening_min
    for row, person in enumerate(problem.people):
        _fill_person(problem, tables, state, row, person)
    for row, place in enumerate(problem.places):
        _fill_place(problem, tables, state, row, place)
    _fill_vehicles(problem, tables, state)
    return state


def blank_outcome(problem: Problem, tables: I32) -> I32:
    """Return ``D`` before anything is decoded: only what has begun has its time."""
    outcome = np.full((len(problem.tasks), tables[at.D_ROW]), -1, np.int32)
    people = index_of(problem).person
    for k, task in enumerate(problem.tasks):
        if task.fixed is not None:
            crew = sorted(people[name] for name in task.fixed.people)
            begun = [task.fixed.start_min, task.fixed.end_min, task.fixed.start_min, -1, *crew]
            outcome[k, : len(begun)] = begun
    return outcome.ravel()


def joined(spans: Iterable[Stretch]) -> list[Stretch]:
    """Return stretches in order, joined where they meet."""
    found: list[Stretch] = []
    for begin, end in sorted(spans):
        if found and begin <= found[-1][1]:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        elif end > begin:
            found.append((begin, end))
    return found


def first_gap_among(taken: Iterable[Stretch], first: int, last: int, length: int) -> int | None:
    """Return the first start from ``first`` to ``last`` with ``length`` free minutes among sorted stretches."""
    start = first
    for begin, end in taken:
        if begin < start + length and end > start:
            start = end
    return start if start <= last else None


def work_begun(problem: Problem, person: str) -> list[Stretch]:
    """Return the stretches of what a person has begun."""
    begun = [task.fixed for task in problem.tasks if task.fixed is not None]
    return [(fixed.start_min, fixed.end_min) for fixed in begun if person in fixed.people]


def _fill_person(problem: Problem, tables: I32, state: I32, number: int, person: Person) -> None:
    row = tables[at.S_PERSON] + number * tables[at.S_PERSON_ROW]
    work = work_begun(problem, person.id)
    last = min(person.shift[1] + person.overtime_max_min, problem.closing_min)
    spans = joined([(-NEVER, person.shift[0]), (last, NEVER), *person.away, *work])
    state[row + at.COUNT] = len(spans)
    state[row + at.LAST] = max([person.shift[1], *(end for _, end in work)])
    taken = joined([*person.away, *work])
    for b in range(tables[at.BREAKS]):
        rest = person.breaks[b] if b < len(person.breaks) else None
        first = None
        if rest is not None:
            earliest = max(rest.earliest_min, problem.opening_min)
            first = first_gap_among(taken, earliest, rest.latest_min, rest.length_min)
        state[row + at.REST_AT + b] = -1 if first is None else first
    begins = row + at.REST_AT + tables[at.BREAKS]
    state[begins : begins + 2 * len(spans)] = np.array(spans, np.int32).ravel()


def _fill_place(problem: Problem, tables: I32, state: I32, number: int, place: Place) -> None:
    row = tables[at.S_PLACE] + number * tables[at.S_PLACE_ROW]
    used = [(begin, end, place.slots) for begin, end in place.closed]
    used += [
        (task.fixed.start_min, task.fixed.end_min + task.place_tail_min, task.slot_use)
        for task in problem.tasks
        if task.fixed is not None and task.place == place.id
    ]
    minutes = sorted({-NEVER, *(minute for begin, end, _ in used for minute in (begin, end))})
    steps = [(minute, sum(n for begin, end, n in used if begin <= minute < end)) for minute in minutes]
    state[row + at.COUNT] = len(steps)
    state[row + 1 : row + 1 + 2 * len(steps)] = np.array(steps, np.int32).ravel()


def _fill_vehicles(problem: Problem, tables: I32, state: I32) -> None:
    index = index_of(problem)
    begun = [(task.fixed.start_min, k) for k, task in enumerate(problem.tasks) if task.fixed is not None]
    for start, k in sorted(begun):
        task, vehicle = problem.tasks[k], problem.tasks[k].vehicle
        if task.departure is not None:
            vehicle = problem.departure_by_id[task.departure].vehicles[0].vehicle
        if vehicle is not None and task.zones and task.fixed is not None:
            row = tables[at.S_VEHICLE] + index.vehicle[vehicle] * tables[at.S_VEHICLE_ROW]
            slot = row + 1 + 3 * state[row]
            zones = tables[tables[at.TASK] + k * at.TASK_ROW + at.ZONES]
            state[slot : slot + 3] = [start, task.fixed.end_min + task.zone_tail_min, zones]
            state[row] += 1
