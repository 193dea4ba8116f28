# ruff: noqa: N803, PLR0913, PLR0917, C901
# T, S, G, D and W are arrays of the layout, and compiled code is handed everything it reads.
"""The serial schedule, compiled: tasks one by one in the order of the genes, each as early as it fits.

Numbered steps (``docs/theory/day-plan.md`` works an example by hand):

1. Take the next task of the order. If it waits for tasks that have no time yet, give those theirs first.
2. Its ready minute is the latest of its release, its vehicle's arrival and what it waits for, with lags.
3. Find the earliest minute, not before the ready minute, at which zones and place are free and enough
   people with the skill are free for as long as the slowest of them needs, without losing a break.
   Gaps between earlier placed tasks count as free: a late task in the order may begin early in the day.
4. A task for which people are asked by name goes to them, if they can. Else, of people who would finish first,
   take the least versatile.
5. Enter the task everywhere and note by when its departure can leave at best. When the lateness so known
   is already above what the caller would accept, stop.

A task that fits into nobody's hours is laid behind them at :data:`OUTSIDE` a minute, so that the search can
walk through days that do not fit; what costs so much is never a plan.
"""

from __future__ import annotations

from keyhook.turnaround.calling import is_called_for, set_ready, vehicle_for
from keyhook.turnaround.compiled import compiled, copy_over
from keyhook.turnaround.counting import OUTSIDE, note_leaving
from keyhook.turnaround.crews import find_start, minutes_of, outside_hours, too_long
from keyhook.turnaround.entering import enter_person, enter_spot
from keyhook.turnaround.layout import (
    CREW,
    CREW_MAX,
    D_CREW,
    D_END,
    D_ROW,
    D_START,
    FIXED,
    G_MODE,
    G_ROW,
    G_TASK,
    I32,
    I64,
    LAST,
    MODE,
    MODE_FIRST,
    MODE_ROW,
    NEVER,
    S_PERSON,
    S_PERSON_ROW,
    TASK,
    TASK_ROW,
    TASKS,
)

#: What :func:`decode_from` returns when nobody could do a task, and when the lateness passed the limit.
NO_ROOM, TOO_LATE = -1, -2


@compiled
def place_task(T: I32, S: I32, G: I32, D: I32, C: I64, W: I32, task: int, vehicle: int) -> bool:
    """Give a ready task its people and minutes and enter it everywhere; False when nobody could do it."""
    number = T[T[TASK] + task * TASK_ROW + MODE_FIRST] + G[T[G_TASK] + task * T[G_ROW] + G_MODE]
    mode = T[MODE] + number * T[MODE_ROW]
    crew, size = task * T[D_ROW] + D_CREW, T[mode + CREW]
    for slot in range(T[CREW_MAX]):
        D[crew + slot] = -1
    start = find_start(T, S, G, D, W, task, vehicle, mode)
    inside = start < NEVER
    if not inside:
        start = outside_hours(T, S, D, task, vehicle, mode)
        if start >= NEVER:
            return False
    end = start + minutes_of(T, D, task, mode)
    outside = too_long(T, D, task, size, end)
    if outside > 0 or not inside:
        C[0] += OUTSIDE * max(1, outside)
    for slot in range(size):
        if inside:
            if not enter_person(T, S, D[crew + slot], start, end):
                return False
        else:
            row = T[S_PERSON] + D[crew + slot] * T[S_PERSON_ROW]
            S[row + LAST] = max(end, S[row + LAST])
    enter_spot(T, S, task, vehicle, start, end)
    D[task * T[D_ROW] + D_START] = start
    D[task * T[D_ROW] + D_END] = end
    return True


@compiled
def decode_from(
    T: I32, S: I32, G: I32, D: I32, C: I64, W: I32, order: I32, first: int, limit: int,
    shots: I32, costs: I64, into: I32, every: int
) -> int:  # fmt: skip
    """Give times to the tasks of the order from position ``first`` on; positions before it have theirs.

    ``order`` takes every task as it comes up (those called for earlier before those that called), so that
    it is an order from which the same plan is decoded without calling. With ``every`` above 0 the state
    before each such number of positions is kept in the row of ``shots`` that ``into`` names, and its cost
    in ``costs``.

    Returns
    -------
    The length of the order; ``NO_ROOM`` when nobody could do a task; ``TOO_LATE`` when lateness passed ``limit``.
    """
    count, placed, vehicle, width = T[TASKS], first, -1, T[D_ROW]
    stack, people = W[: count + 1], W[count + 1 :]
    for k in range(first, count):
        if D[G[k] * width + D_START] >= 0 and T[T[TASK] + G[k] * TASK_ROW + FIXED] == 0:
            continue
        stack[0] = G[k]
        depth = 1
        while depth > 0:
            task = stack[depth - 1]
            idle = T[T[TASK] + task * TASK_ROW + FIXED] == 1 or not is_called_for(T, G, task)
            if not idle:
                vehicle = vehicle_for(T, G, task)
                call = set_ready(T, G, D, task, vehicle)
                if call >= 0:
                    stack[depth] = call
                    depth += 1
                    continue
            if every > 0 and placed % every == 0:
                copy_over(shots[into[placed // every]], S)
                costs[into[placed // every]] = C[0]
            if not idle:
                if not place_task(T, S, G, D, C, people, task, vehicle):
                    return NO_ROOM
                note_leaving(T, S, G, C, task, vehicle, D[task * width + D_END])
                if C[0] > limit:
                    return TOO_LATE
            order[placed] = task
            placed += 1
            depth -= 1
    return placed
