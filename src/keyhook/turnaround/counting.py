# ruff: noqa: N803
# T, S, G, D and C are arrays of the layout.
"""What a plan costs, level by level, counted while and after its tasks get their minutes, compiled."""

from __future__ import annotations

from keyhook.turnaround.calling import vehicle_for
from keyhook.turnaround.compiled import compiled, inlined
from keyhook.turnaround.layout import (
    COUNTS,
    CREW_MAX,
    D_CREW,
    D_END,
    D_ROW,
    D_START,
    DEPARTURE,
    DEPARTURE_ROW,
    DEPARTURES,
    DUE,
    FIXED,
    G_DEPARTURE,
    G_VEHICLE,
    HELD,
    HELD_CREW,
    HELD_ROW,
    HELD_START,
    I32,
    I64,
    LAST,
    PEOPLE,
    PERSON,
    PERSON_ROW,
    POSTPONE,
    REST,
    S_LEAVE,
    S_PERSON,
    S_PERSON_ROW,
    SERVES,
    SHIFT_END,
    SUITS,
    TASK,
    TASK_ROW,
    TASKS,
    TOLERANCE,
    VEHICLES,
    WEIGHT,
)

#: What a minute outside somebody's hours counts in level one. A plan that costs as much is none.
OUTSIDE = 1 << 32


@inlined
def note_leaving(T: I32, S: I32, G: I32, C: I64, task: int, vehicle: int, end: int) -> None:
    """Raise what is known of when the departure of a task leaves, and the lateness of the day in ``C``."""
    row = T[TASK] + task * TASK_ROW
    departure = T[row + SERVES]
    if departure < 0 and vehicle >= 0:
        departure = G[T[G_DEPARTURE] + vehicle]
    if departure < 0 or (T[row + COUNTS] == 0 and T[row + REST] == 0):
        return
    leaves, known = end + T[row + REST], S[T[S_LEAVE] + departure]
    if leaves > known:
        due = T[T[DEPARTURE] + departure * DEPARTURE_ROW + DUE]
        late = max(0, leaves - due) - max(0, known - due)
        C[0] += T[T[DEPARTURE] + departure * DEPARTURE_ROW + WEIGHT] * late
        S[T[S_LEAVE] + departure] = leaves


@compiled
def begin(T: I32, S: I32, G: I32, D: I32, C: I64) -> None:
    """Count in ``C[0]`` what the allotment costs before any task has its time: put off, or fixed late."""
    C[0] = 0
    for departure in range(T[DEPARTURES]):
        row = T[DEPARTURE] + departure * DEPARTURE_ROW
        if G[T[G_VEHICLE] + departure] < 0:
            C[0] += T[row + POSTPONE]
        else:
            C[0] += T[row + WEIGHT] * max(0, S[T[S_LEAVE] + departure] - T[row + DUE])
    for task in range(T[TASKS]):
        if T[T[TASK] + task * TASK_ROW + FIXED] == 1:
            note_leaving(T, S, G, C, task, vehicle_for(T, G, task), D[task * T[D_ROW] + D_END])


@inlined
def _same_crew(T: I32, D: I32, task: int) -> bool:
    held, sizes = T[HELD] + task * T[HELD_ROW] + HELD_CREW, 0
    for slot in range(T[CREW_MAX]):
        person = D[task * T[D_ROW] + D_CREW + slot]
        sizes += (1 if person >= 0 else 0) - (1 if T[held + slot] >= 0 else 0)
        found = person < 0
        for other in range(T[CREW_MAX]):
            found = found or T[held + other] == person
        if not found:
            return False
    return sizes == 0


@inlined
def is_moved(T: I32, D: I32, task: int) -> bool:
    """Return whether a task has another minute or other people than people hold."""
    told, start = T[T[HELD] + task * T[HELD_ROW] + HELD_START], D[task * T[D_ROW] + D_START]
    return told >= 0 and start >= 0 and not (abs(start - told) <= T[TOLERANCE] and _same_crew(T, D, task))


@compiled
def count_levels(T: I32, S: I32, G: I32, D: I32, C: I64) -> None:
    """Write the levels below lateness of a finished plan into ``C``."""
    C[1], C[2], C[3] = 0, 0, 0
    for departure in range(T[DEPARTURES]):
        vehicle = G[T[G_VEHICLE] + departure]
        if vehicle >= 0:
            C[1] += T[T[SUITS] + departure * T[VEHICLES] + vehicle]
    for person in range(T[PEOPLE]):
        last = S[T[S_PERSON] + person * T[S_PERSON_ROW] + LAST]
        C[2] += max(0, last - T[T[PERSON] + person * T[PERSON_ROW] + SHIFT_END])
    for task in range(T[TASKS]):
        C[3] += 1 if is_moved(T, D, task) else 0
