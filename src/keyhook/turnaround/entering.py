# ruff: noqa: N803
# T and S are arrays of the layout, and compiled code is handed everything it reads.
"""A task that has its minutes, entered into the state of a plan: its people, its place, its zones; compiled."""

from __future__ import annotations

from keyhook.turnaround.compiled import compiled, inlined
from keyhook.turnaround.free_minutes import earliest_rest
from keyhook.turnaround.layout import (
    BREAK,
    BREAK_LAST,
    BREAK_LENGTH,
    BREAK_ROW,
    BREAKS,
    COUNT,
    I32,
    LAST,
    PERSON,
    PERSON_ROW,
    PLACE,
    PLACE_TAIL,
    REST_AT,
    S_PERSON,
    S_PERSON_ROW,
    S_PLACE,
    S_PLACE_ROW,
    S_VEHICLE,
    S_VEHICLE_ROW,
    TASK,
    TASK_ROW,
    USE,
    ZONE_TAIL,
    ZONES,
)


@compiled
def enter_person(T: I32, S: I32, person: int, start: int, end: int) -> bool:
    """Enter work of a person, joined with what it meets; False when that would cost them a break."""
    row, breaks = T[S_PERSON] + person * T[S_PERSON_ROW], T[BREAKS]
    first = row + REST_AT + breaks
    S[row + LAST] = max(end, S[row + LAST])
    k = first + 2 * S[row + COUNT]
    while S[k - 2] > start:
        k -= 2
    full = row + T[S_PERSON_ROW] - 2 < first + 2 * S[row + COUNT]
    if full and start > S[k - 1] and end < S[k]:
        if start - S[k - 1] < S[k] - end:
            start = S[k - 1]
        else:
            end = S[k]
    _join(S, row, first, k, start, end)
    for b in range(breaks):
        rest = S[row + REST_AT + b]
        owed = T[PERSON] + person * T[PERSON_ROW] + BREAK + b * BREAK_ROW
        if rest >= 0 and start < rest + T[owed + BREAK_LENGTH] and rest < end:
            S[row + REST_AT + b] = earliest_rest(T, S, person, b)
            if S[row + REST_AT + b] > T[owed + BREAK_LAST]:
                return False
    return True


@inlined
def _join(S: I32, row: int, first: int, k: int, start: int, end: int) -> None:
    """Put a stretch in at ``k``, joined with the one before and the one behind where they meet."""
    last = first + 2 * S[row + COUNT]
    if S[k - 1] >= start:
        if S[k] <= end:
            S[k - 1] = S[k + 1]
            for j in range(k, last - 2):
                S[j] = S[j + 2]
            S[row + COUNT] -= 1
        else:
            S[k - 1] = end
    elif S[k] <= end:
        S[k] = start
    else:
        for j in range(last - 1, k - 1, -1):
            S[j + 2] = S[j]
        S[k] = start
        S[k + 1] = end
        S[row + COUNT] += 1


@inlined
def step_at(T: I32, S: I32, place: int, minute: int) -> int:
    """Return where the step of a place stands that begins at ``minute``; put one in when there is none."""
    row = T[S_PLACE] + place * T[S_PLACE_ROW]
    last = row + 1 + 2 * S[row + COUNT]
    k = last - 2
    while S[k] > minute:
        k -= 2
    if S[k] == minute:
        return k
    for j in range(last, k + 2, -2):
        S[j] = S[j - 2]
        S[j + 1] = S[j - 1]
    S[k + 2] = minute
    S[k + 3] = S[k + 1]
    S[row + COUNT] += 1
    return k + 2


@inlined
def enter_spot(T: I32, S: I32, task: int, vehicle: int, start: int, end: int) -> None:
    """Enter the use of the place and of the zones of a task."""
    row = T[TASK] + task * TASK_ROW
    place, mask = T[row + PLACE], T[row + ZONES]
    if place >= 0:
        first = step_at(T, S, place, start)
        last = step_at(T, S, place, end + T[row + PLACE_TAIL])
        for k in range(first, last, 2):
            S[k + 1] += T[row + USE]
    if vehicle >= 0 and mask != 0:
        stays = T[S_VEHICLE] + vehicle * T[S_VEHICLE_ROW]
        k = stays + 1 + 3 * S[stays + COUNT]
        S[stays + COUNT] += 1
        while k > stays + 1 and S[k - 3] > start:
            S[k] = S[k - 3]
            S[k + 1] = S[k - 2]
            S[k + 2] = S[k - 1]
            k -= 3
        S[k] = start
        S[k + 1] = end + T[row + ZONE_TAIL]
        S[k + 2] = mask
