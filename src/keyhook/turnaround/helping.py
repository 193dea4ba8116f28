# ruff: noqa: N803, PLR2004
# T, S, G, D and R are arrays of the layout; the shares with which one is chosen are plain numbers.
"""Which departure of a plan to help, which of its tasks waits, and what is in the way of that one, compiled."""

from __future__ import annotations

import math

from keyhook.turnaround.chance import below, draw
from keyhook.turnaround.compiled import compiled, inlined
from keyhook.turnaround.layout import (
    D_CAUSE,
    D_CREW,
    D_END,
    D_READY,
    D_ROW,
    D_START,
    DEPARTURE,
    DEPARTURE_ROW,
    DEPARTURES,
    DUE,
    FIXED,
    G_MODE,
    G_ROW,
    G_TASK,
    G_VEHICLE,
    I32,
    MODE,
    MODE_FIRST,
    MODE_ROW,
    OWN,
    OWN_FIRST,
    OWN_LAST,
    PLACE,
    POSTPONE,
    S_LEAVE,
    SKILL_FIRST,
    TASK,
    TASK_ROW,
    U64,
    VEHICLE,
    VEHICLE_ROW,
    WEIGHT,
)

#: How often a move that looks for something by chance looks again.
TRIES = 8


@inlined
def _cost_of(T: I32, S: I32, G: I32, departure: int) -> int:
    """Return what a departure costs in level one in the present plan."""
    row = T[DEPARTURE] + departure * DEPARTURE_ROW
    if G[T[G_VEHICLE] + departure] < 0:
        return T[row + POSTPONE]
    return T[row + WEIGHT] * max(0, S[T[S_LEAVE] + departure] - T[row + DUE])


@compiled
def departure_to_help(T: I32, S: I32, G: I32, R: U64) -> int:
    """Return a departure by chance among those that cost something, any when none does.

    Half the time by what it costs, half evenly: one hopeless departure must not take all the attention.
    """
    total = 0
    for d in range(T[DEPARTURES]):
        total += _cost_of(T, S, G, d)
    if total == 0:
        return below(R, T[DEPARTURES])
    even = draw(R) < 0.5
    left, seen, chosen = draw(R) * total, 0, -1
    for d in range(T[DEPARTURES]):
        cost = _cost_of(T, S, G, d)
        if cost == 0:
            continue
        seen += 1
        left -= cost
        if even:
            if draw(R) * seen < 1.0:
                chosen = d
        else:
            chosen = d
            if left < 0:
                break
    return chosen


@inlined
def _last_of(T: I32, D: I32, row: int, task: int) -> int:
    """Return whichever ends last: ``task`` or one of the tasks of a vehicle's or departure's row."""
    for k in range(T[row + OWN_FIRST], T[row + OWN_LAST]):
        other = T[T[OWN] + k]
        later = task < 0 or D[other * T[D_ROW] + D_END] > D[task * T[D_ROW] + D_END]
        if later and D[other * T[D_ROW] + D_START] >= 0:
            task = other
    return task


@compiled
def waiting_task(T: I32, G: I32, D: I32, departure: int, R: U64) -> int:
    """Return a task on the longest way of a departure that waits for hands or room; -1 when none does.

    The way goes from the task that ends last back through whatever made each task wait.
    """
    task = _last_of(T, D, T[DEPARTURE] + departure * DEPARTURE_ROW, -1)
    task = _last_of(T, D, T[VEHICLE] + G[T[G_VEHICLE] + departure] * VEHICLE_ROW, task)
    found, weight = -1, 0.0
    while task >= 0:
        waits = D[task * T[D_ROW] + D_START] - D[task * T[D_ROW] + D_READY]
        if waits > 0 and T[T[TASK] + task * TASK_ROW + FIXED] == 0:
            weight += math.sqrt(waits)
            if draw(R) * weight < math.sqrt(waits):
                found = task
        task = D[task * T[D_ROW] + D_CAUSE]
    return found


@inlined
def mode_of(T: I32, G: I32, task: int) -> int:
    """Return where the record of the mode of a task begins in ``T``."""
    number = T[T[TASK] + task * TASK_ROW + MODE_FIRST] + G[T[G_TASK] + task * T[G_ROW] + G_MODE]
    return T[MODE] + number * T[MODE_ROW]


@compiled
def blocker(T: I32, G: I32, D: I32, where: I32, task: int, R: U64) -> int:
    """Return a task, earlier in the order, that took the hands or the room a task waited for; -1 for none."""
    row, width = task * T[D_ROW], T[D_ROW]
    person, place = D[row + D_CREW], T[T[TASK] + task * TASK_ROW + PLACE]
    skill = T[mode_of(T, G, task) + SKILL_FIRST]
    found, seen = -1, 0
    for k in range(where[task] - 1, -1, -1):
        other = G[k]
        begins = D[other * width + D_START]
        if begins < 0 or begins >= D[row + D_START] or D[other * width + D_END] <= D[row + D_READY]:
            continue
        if T[T[TASK] + other * TASK_ROW + FIXED] == 1:
            continue
        same = (person >= 0 and D[other * width + D_CREW] == person) or T[mode_of(T, G, other) + SKILL_FIRST] == skill
        if same or (place >= 0 and T[T[TASK] + other * TASK_ROW + PLACE] == place):
            seen += 1
            if draw(R) * seen < 1.0:
                found = other
            if seen >= TRIES:
                break
    return found
