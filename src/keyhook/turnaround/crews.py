# ruff: noqa: N803, PLR0913, PLR0917, C901, SIM110
# T, S, G, D and W are arrays of the layout, and compiled code is handed everything it reads.
"""Who does a task and from when on (steps 3 and 4 of :mod:`keyhook.turnaround.kernel`), compiled."""

from __future__ import annotations

from keyhook.turnaround.compiled import compiled, inlined
from keyhook.turnaround.free_minutes import person_free, spot_free
from keyhook.turnaround.layout import (
    CLOSING,
    CREW,
    CREW_MAX,
    D_CREW,
    D_READY,
    D_ROW,
    G_FIRM,
    G_KEEP,
    G_ROW,
    G_TASK,
    G_WISH,
    HELD,
    HELD_ROW,
    HELD_START,
    I32,
    LAST,
    LINK,
    LINK_ROW,
    LINKED,
    MINUTES,
    NEVER,
    OTHER,
    OTHER_FIRST,
    OTHER_LAST,
    OWN_PACE,
    PACE,
    PERSON,
    PERSON_ROW,
    PLACE,
    S_PERSON,
    S_PERSON_ROW,
    SHIFT_LAST,
    SKILL_FIRST,
    SKILL_LAST,
    SKILLED,
    SKILLED_ROW,
    TASK,
    TASK_ROW,
    V_OTHER,
    V_OTHER_PTR,
    VEHICLES,
    WHO,
    ZONES,
)


@inlined
def did(T: I32, D: I32, task: int, person: int) -> bool:
    """Return whether a person is of the crew of a task."""
    first = task * T[D_ROW] + D_CREW
    for slot in range(first, first + T[CREW_MAX]):
        if D[slot] == person:
            return True
    return False


@compiled
def is_barred(T: I32, D: I32, task: int, vehicle: int, person: int) -> bool:
    """Return whether a person has done what this task needs other eyes for."""
    row = T[TASK] + task * TASK_ROW
    for link in range(T[row + OTHER_FIRST], T[row + OTHER_LAST]):
        if did(T, D, T[T[OTHER] + link * LINK_ROW + LINKED], person):
            return True
    if T[row + LINK] >= 0 and vehicle >= 0:
        pair = T[V_OTHER_PTR] + T[row + LINK] * T[VEHICLES] + vehicle
        for link in range(T[pair], T[pair + 1]):
            if did(T, D, T[T[V_OTHER] + link * LINK_ROW + LINKED], person):
                return True
    return False


@inlined
def _is_asked_for(T: I32, G: I32, task: int, person: int) -> bool:
    first = T[G_TASK] + task * T[G_ROW] + G_WISH
    for slot in range(first, first + T[CREW_MAX]):
        if G[slot] == person:
            return True
    return False


@inlined
def _is_picky(T: I32, task: int, vehicle: int) -> bool:
    """Return whether a task needs other eyes than some other."""
    row = T[TASK] + task * TASK_ROW
    if T[row + OTHER_FIRST] < T[row + OTHER_LAST]:
        return True
    if T[row + LINK] < 0 or vehicle < 0:
        return False
    pair = T[V_OTHER_PTR] + T[row + LINK] * T[VEHICLES] + vehicle
    return T[pair] < T[pair + 1]


@inlined
def minutes_of(T: I32, D: I32, task: int, mode: int) -> int:
    """Return how long the crew of a task takes."""
    if T[mode + CREW] == 0:
        return T[mode + MINUTES]
    length, crew = 0, task * T[D_ROW] + D_CREW
    for slot in range(T[mode + CREW]):
        pace = T[T[PERSON] + D[crew + slot] * T[PERSON_ROW] + OWN_PACE]
        length = max(length, T[mode + MINUTES + pace])
    return length


@compiled
def _one_person(T: I32, S: I32, D: I32, task: int, vehicle: int, mode: int, minute: int, known: int) -> int:
    """Write who finishes a one-person task first into its crew; return when they begin (NEVER: nobody can).

    ``known`` is when the person already in the crew can begin (NEVER: nobody is); they are kept in a tie.
    """
    best_start, best_end = known, NEVER
    if known < NEVER:
        best_end = known + minutes_of(T, D, task, mode)
    picky = _is_picky(T, task, vehicle)
    spotted = T[T[TASK] + task * TASK_ROW + PLACE] >= 0 or T[T[TASK] + task * TASK_ROW + ZONES] != 0
    for k in range(T[mode + SKILL_FIRST], T[mode + SKILL_LAST]):
        who = T[SKILLED] + k * SKILLED_ROW
        length = T[mode + MINUTES + T[who + PACE]]
        if minute + length >= best_end:
            continue
        person = T[who + WHO]
        if picky and is_barred(T, D, task, vehicle, person):
            continue
        start = minute
        while start + length < best_end:
            free = person_free(T, S, person, start, length)
            if free + length >= best_end:
                break
            start = spot_free(T, S, task, vehicle, free, length) if spotted else free
            if start == free:
                best_start, best_end = start, start + length
                D[task * T[D_ROW] + D_CREW] = person
    return best_start


@compiled
def _asked_person(T: I32, S: I32, D: I32, task: int, vehicle: int, mode: int, minute: int, person: int) -> int:
    """Write the person asked for into the crew of a task; return when they begin (NEVER: they cannot)."""
    if _is_picky(T, task, vehicle) and is_barred(T, D, task, vehicle, person):
        return NEVER
    length = T[mode + MINUTES + T[T[PERSON] + person * T[PERSON_ROW] + OWN_PACE]]
    while minute < NEVER:
        free = person_free(T, S, person, minute, length)
        if free >= NEVER:
            return NEVER
        minute = spot_free(T, S, task, vehicle, free, length)
        if minute == free:
            D[task * T[D_ROW] + D_CREW] = person
            return minute
    return NEVER


@compiled
def _crew(T: I32, S: I32, G: I32, D: I32, W: I32, task: int, vehicle: int, mode: int, minute: int, asked: bool) -> int:
    """Write a crew of two or more into the outcome; return when it begins (NEVER: there is none).

    ``W`` takes the minute from which each person of the skill is free.
    """
    first, last, size = T[mode + SKILL_FIRST], T[mode + SKILL_LAST], T[mode + CREW]
    while minute < NEVER:
        found, soonest = 0, NEVER
        for k in range(first, last):
            who = T[SKILLED] + k * SKILLED_ROW
            person, free = T[who + WHO], NEVER
            if not (asked and not _is_asked_for(T, G, task, person)) and not is_barred(T, D, task, vehicle, person):
                free = person_free(T, S, person, minute, T[mode + MINUTES + T[who + PACE]])
            W[k - first] = free
            if free == minute:
                found += 1
            elif free < soonest:
                soonest = free
        if found < size:
            minute = soonest
            continue
        length = _quickest(T, D, W, task, mode, minute)
        spot = spot_free(T, S, task, vehicle, minute, length)
        late = spot
        for slot in range(size):
            late = max(late, person_free(T, S, D[task * T[D_ROW] + D_CREW + slot], minute, length))
        if late == minute:
            return minute
        minute = min(late, soonest) if spot == minute else late
    return NEVER


@inlined
def _quickest(T: I32, D: I32, W: I32, task: int, mode: int, minute: int) -> int:
    """Write the quickest people free at ``minute`` into the crew of a task; return how long they take."""
    length, first = 0, T[mode + SKILL_FIRST]
    for slot in range(T[mode + CREW]):
        best, shortest = -1, NEVER
        for k in range(first, T[mode + SKILL_LAST]):
            minutes = T[mode + MINUTES + T[T[SKILLED] + k * SKILLED_ROW + PACE]]
            if W[k - first] == minute and minutes < shortest:
                best, shortest = k, minutes
        D[task * T[D_ROW] + D_CREW + slot] = T[T[SKILLED] + best * SKILLED_ROW + WHO]
        W[best - first] = NEVER
        length = max(length, shortest)
    return length


@compiled
def find_start(T: I32, S: I32, G: I32, D: I32, W: I32, task: int, vehicle: int, mode: int) -> int:
    """Write the crew of a ready task and return its start (steps 3 and 4); NEVER when it fits nowhere."""
    minute, gene = D[task * T[D_ROW] + D_READY], T[G_TASK] + task * T[G_ROW]
    if G[gene + G_KEEP] == 1:
        minute = max(minute, T[T[HELD] + task * T[HELD_ROW] + HELD_START])
    size, start = T[mode + CREW], NEVER
    minute = spot_free(T, S, task, vehicle, minute, T[mode + MINUTES] if size == 0 else 1)
    if size == 0:
        return minute
    if G[gene + G_WISH] >= 0:
        if size == 1:
            start = _asked_person(T, S, D, task, vehicle, mode, minute, G[gene + G_WISH])
            if start > minute and G[gene + G_FIRM] == 0:
                return _one_person(T, S, D, task, vehicle, mode, minute, start)
        else:
            start = _crew(T, S, G, D, W, task, vehicle, mode, minute, True)
    if start >= NEVER:
        if size == 1:
            return _one_person(T, S, D, task, vehicle, mode, minute, NEVER)
        return _crew(T, S, G, D, W, task, vehicle, mode, minute, False)
    return start


@compiled
def outside_hours(T: I32, S: I32, D: I32, task: int, vehicle: int, mode: int) -> int:
    """Write the crew that is done with everything else first; return when it could begin, hours or not.

    NEVER when there are too few people with the skill.
    """
    crew, start, length = task * T[D_ROW] + D_CREW, D[task * T[D_ROW] + D_READY], 0
    for slot in range(T[CREW_MAX]):
        D[crew + slot] = -1
    for slot in range(T[mode + CREW]):
        best, soonest, minutes = -1, NEVER, 0
        for k in range(T[mode + SKILL_FIRST], T[mode + SKILL_LAST]):
            who = T[SKILLED] + k * SKILLED_ROW
            person = T[who + WHO]
            last = S[T[S_PERSON] + person * T[S_PERSON_ROW] + LAST]
            if last < soonest and not did(T, D, task, person) and not is_barred(T, D, task, vehicle, person):
                best, soonest, minutes = person, last, T[mode + MINUTES + T[who + PACE]]
        if best < 0:
            return NEVER
        D[crew + slot] = best
        start = max(start, soonest)
        length = max(length, minutes)
    return spot_free(T, S, task, vehicle, start, length)


@inlined
def too_long(T: I32, D: I32, task: int, size: int, end: int) -> int:
    """Return by how many minutes a task passes the hours of its crew and the closing."""
    outside = max(0, end - T[CLOSING])
    for slot in range(size):
        person = D[task * T[D_ROW] + D_CREW + slot]
        outside += max(0, end - T[T[PERSON] + person * T[PERSON_ROW] + SHIFT_LAST])
    return outside
