"""The day before anything is decoded: shifts, absence, closings and what has begun are already taken."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from keyhook.turnaround import layout as at
from keyhook.turnaround.arrays import index_of
from keyhook.turnaround.layout import I32, NEVER
from keyhook.turnaround.problem import Place, Problem, Stretch


def blank_state(problem: Problem, tables: I32) -> I32:
    """Return ``S`` before anything is decoded."""
    state = np.zeros(tables[at.S_LENGTH], np.int32)
    state[tables[at.S_LEAVE] :] = problem.opening_min
    _fill_people(problem, tables, state)
    for row, place in enumerate(problem.places):
        _fill_place(problem, tables, state, row, place)
    _fill_vehicles(problem, tables, state)
    return state


def blank_outcome(problem: Problem, tables: I32) -> I32:
    """Return ``D`` before anything is decoded: only what has begun has its time."""
    outcome = np.full(tables[at.D_LENGTH], -1, np.int32)
    people = index_of(problem).person
    for k, task in enumerate(problem.tasks):
        if task.fixed is not None:
            outcome[[tables[at.D_START] + k, tables[at.D_READY] + k]] = task.fixed.start_min
            outcome[tables[at.D_END] + k] = task.fixed.end_min
            crew = sorted(people[name] for name in task.fixed.people)
            begins = tables[at.D_CREW] + k * tables[at.CREW_MAX]
            outcome[begins : begins + len(crew)] = crew
    return outcome


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


def _fill_people(problem: Problem, tables: I32, state: I32) -> None:
    number = 0
    for k, person in enumerate(problem.people):
        work = work_begun(problem, person.id)
        last = min(person.shift[1] + person.overtime_max_min, problem.closing_min)
        spans = joined([(-NEVER, person.shift[0]), (last, NEVER), *person.away, *work])
        row = k * tables[at.PERSON_ROW]
        state[tables[at.S_PERSON_N] + k] = len(spans)
        for slot, (begin, end) in enumerate(spans):
            state[tables[at.S_PERSON_FROM] + row + slot] = begin
            state[tables[at.S_PERSON_TO] + row + slot] = end
        state[tables[at.S_PERSON_LAST] + k] = max([person.shift[1], *(end for _, end in work)])
        taken = joined([*person.away, *work])
        for rest in person.breaks:
            first = max(rest.earliest_min, problem.opening_min)
            start = first_gap_among(taken, first, rest.latest_min, rest.length_min)
            state[tables[at.S_REST_AT] + number] = -1 if start is None else start
            number += 1


def _fill_place(problem: Problem, tables: I32, state: I32, row: int, place: Place) -> None:
    used = [(begin, end, place.slots) for begin, end in place.closed]
    used += [
        (task.fixed.start_min, task.fixed.end_min + task.place_tail_min, task.slot_use)
        for task in problem.tasks
        if task.fixed is not None and task.place == place.id
    ]
    steps = sorted({-NEVER, *(minute for begin, end, _ in used for minute in (begin, end))})
    state[tables[at.S_PLACE_N] + row] = len(steps)
    for slot, minute in enumerate(steps):
        at_step = row * tables[at.PLACE_ROW] + slot
        state[tables[at.S_PLACE_AT] + at_step] = minute
        state[tables[at.S_PLACE_USED] + at_step] = sum(n for begin, end, n in used if begin <= minute < end)


def _fill_vehicles(problem: Problem, tables: I32, state: I32) -> None:
    begun = [(task.fixed.start_min, k) for k, task in enumerate(problem.tasks) if task.fixed is not None]
    for start, k in sorted(begun):
        task, vehicle = problem.tasks[k], tables[tables[at.BOUND] + k]
        if task.departure is not None:
            suits = tables[at.SUITS] + tables[tables[at.SERVES] + k] * tables[at.VEHICLES]
            vehicle = int(np.flatnonzero(tables[suits : suits + tables[at.VEHICLES]] >= 0)[0])
        if vehicle >= 0 and task.zones and task.fixed is not None:
            slot = state[tables[at.S_VEHICLE_N] + vehicle]
            row = vehicle * tables[at.VEHICLE_ROW] + slot
            state[tables[at.S_VEHICLE_FROM] + row] = start
            state[tables[at.S_VEHICLE_TO] + row] = task.fixed.end_min + task.zone_tail_min
            state[tables[at.S_VEHICLE_ZONES] + row] = tables[tables[at.ZONES] + k]
            state[tables[at.S_VEHICLE_N] + vehicle] = slot + 1
