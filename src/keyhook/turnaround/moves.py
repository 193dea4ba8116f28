# ruff: noqa: N803, PLR0913, PLR0917, PLR2004
# T, S, G, D, N, W and R are arrays of the layout; the shares with which moves choose are plain numbers.
"""Changes of the genes that the annealer proposes, compiled.

Each writes the changed genes into ``N`` and returns the first position of the order from which the plan can
differ; ``NOTHING`` when it found nothing to change, ``FROM_BLANK`` when what the allotment costs at the
outset changes too, so that nothing of the old decoding holds. ``where`` gives the position of every task.
"""

from __future__ import annotations

import math

import numpy as np

from keyhook.turnaround.compiled import compiled, inlined
from keyhook.turnaround.layout import (
    CREW_MAX,
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
    G_DEPARTURE,
    G_FIRM,
    G_KEEP,
    G_MODE,
    G_ROW,
    G_TASK,
    G_VEHICLE,
    G_WISH,
    HELD,
    HELD_ROW,
    HELD_START,
    I32,
    MINUTES,
    MODE,
    MODE_FIRST,
    MODE_LAST,
    MODE_ROW,
    NEVER,
    OWN,
    OWN_FIRST,
    OWN_LAST,
    PLACE,
    POSTPONE,
    RELEASE,
    REST,
    S_LEAVE,
    SKILL_FIRST,
    SKILL_LAST,
    SKILLED,
    SKILLED_ROW,
    SUITS,
    TASK,
    TASK_ROW,
    TASKS,
    U64,
    VEHICLE,
    VEHICLE_ROW,
    VEHICLES,
    WEIGHT,
    WHO,
)

NOTHING, FROM_BLANK = -1, -2
#: How often a move that looks for something by chance looks again.
TRIES = 8


@inlined
def draw(R: U64) -> float:
    """Return the next number in [0, 1): a 64-bit xorshift with a final multiplication."""
    x = R[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    R[0] = x
    return float((x * np.uint64(2685821657736338717)) >> np.uint64(11)) / 9007199254740992.0


@inlined
def below(R: U64, count: int) -> int:
    """Return a whole number from 0 to below ``count``."""
    return min(count - 1, int(draw(R) * count))


# ---------------------------------------------------------------- whom to help, and what holds it up


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


# ---------------------------------------------------------------- moves of the order


@compiled
def shift_to(N: I32, old: int, new: int) -> int:
    """Move one task of the order to another position."""
    task = N[old]
    step = -1 if new < old else 1
    for k in range(old, new, step):
        N[k] = N[k + step]
    N[new] = task
    return min(old, new)


@inlined
def ask_for_anybody(T: I32, N: I32, task: int) -> None:
    """Let a task be done by whoever finishes it first."""
    N[T[G_TASK] + task * T[G_ROW] + G_FIRM] = 0
    for slot in range(T[CREW_MAX]):
        N[T[G_TASK] + task * T[G_ROW] + G_WISH + slot] = -1


@compiled
def help_late(T: I32, S: I32, G: I32, D: I32, N: I32, where: I32, R: U64) -> int:
    """Put a waiting task of a late departure before something that was in its way, or change places with it."""
    departure = departure_to_help(T, S, G, R)
    if G[T[G_VEHICLE] + departure] < 0:
        return NOTHING
    task = waiting_task(T, G, D, departure, R)
    if task < 0 or where[task] == 0:
        return NOTHING
    other, old = blocker(T, G, D, where, task, R), where[task]
    kind = draw(R)
    if kind < 0.6:
        ask_for_anybody(T, N, task)
    if kind < 0.2:
        return old
    if other < 0:
        return shift_to(N, old, max(0, old - 1 - int(old * draw(R) * draw(R))))
    new = where[other]
    if draw(R) < 0.3:
        if draw(R) < 0.3:
            ask_for_anybody(T, N, other)
        N[old], N[new] = N[new], N[old]
        return new
    return shift_to(N, old, new)


@compiled
def shift_any(T: I32, G: I32, N: I32, R: U64) -> int:
    """Move any task to somewhere near."""
    count = T[TASKS]
    old = below(R, count)
    reach = 1 + int(0.3 * count * draw(R) * draw(R) * draw(R))
    new = old - reach if draw(R) < 0.5 else old + reach
    if new < 0 or new >= count:
        return NOTHING
    if draw(R) < 0.5:
        ask_for_anybody(T, N, G[old])
    return shift_to(N, old, new)


@compiled
def mark(T: I32, N: I32, W: I32, departure: int, vehicle: int, anybody: bool) -> None:
    """Write 1 into ``W`` for every task of a departure and of a vehicle, 0 for the others; ask for anybody."""
    for task in range(T[TASKS]):
        W[task] = 0
    for row in (T[DEPARTURE] + departure * DEPARTURE_ROW, T[VEHICLE] + vehicle * VEHICLE_ROW):
        for k in range(T[row + OWN_FIRST], T[row + OWN_LAST]):
            W[T[T[OWN] + k]] = 1
            if anybody:
                ask_for_anybody(T, N, T[T[OWN] + k])


@inlined
def _next(G: I32, W: I32, count: int, k: int, marked: int) -> int:
    while k < count and W[G[k]] != marked:
        k += 1
    return k


@compiled
def shift_together(T: I32, S: I32, G: I32, N: I32, W: I32, R: U64) -> int:
    """Move all tasks of a departure and its vehicle earlier together, or those of one on time later."""
    count, reach = T[TASKS], 1 + int(0.3 * T[TASKS] * draw(R) * draw(R))
    departure = departure_to_help(T, S, G, R) if draw(R) < 0.6 else below(R, T[DEPARTURES])
    if G[T[G_VEHICLE] + departure] < 0:
        return NOTHING
    late = S[T[S_LEAVE] + departure] > T[T[DEPARTURE] + departure * DEPARTURE_ROW + DUE]
    by = -reach if late or draw(R) < 0.3 else reach
    mark(T, N, W, departure, G[T[G_VEHICLE] + departure], draw(R) < 0.5)
    mine, theirs, first = _next(G, W, count, 0, 1), _next(G, W, count, 0, 0), -1
    for k in range(count):
        if theirs >= count or (mine < count and mine + by < theirs):
            N[k] = G[mine]
            mine = _next(G, W, count, mine + 1, 1)
        else:
            N[k] = G[theirs]
            theirs = _next(G, W, count, theirs + 1, 0)
        if first < 0 and N[k] != G[k]:
            first = k
    return first if first >= 0 else NOTHING


@inlined
def _latest(T: I32, W: I32, due: int, departure: int, vehicle: int) -> tuple[int, int]:
    """Return the marked task that has to begin first, and when it does at the latest (not before its release)."""
    mine, soonest = -1, NEVER
    for row in (T[DEPARTURE] + departure * DEPARTURE_ROW, T[VEHICLE] + vehicle * VEHICLE_ROW):
        for k in range(T[row + OWN_FIRST], T[row + OWN_LAST]):
            task = T[T[OWN] + k]
            at = T[TASK] + task * TASK_ROW
            minutes = T[T[MODE] + T[at + MODE_FIRST] * T[MODE_ROW] + MINUTES]
            begins = max(T[at + RELEASE], due - T[at + REST] - minutes)
            if W[task] == 1 and begins < soonest:
                mine, soonest = task, begins
    return mine, soonest


@compiled
def lay_in(T: I32, G: I32, D: I32, N: I32, W: I32, departure: int, vehicle: int, ahead: int, anybody: bool) -> int:
    """Lay all tasks of a departure and its vehicle where they have to begin ``ahead`` minutes before the latest.

    The latest is the due minute less the shortest way from the task to the leaving.
    """
    count, due = T[TASKS], T[T[DEPARTURE] + departure * DEPARTURE_ROW + DUE] - ahead
    mark(T, N, W, departure, vehicle, anybody)
    theirs, first = _next(G, W, count, 0, 0), -1
    mine, soonest = _latest(T, W, due, departure, vehicle)
    for k in range(count):
        if theirs >= count or (mine >= 0 and soonest <= D[G[theirs] * T[D_ROW] + D_START]):
            N[k] = mine
            W[mine] = 2
            mine, soonest = _latest(T, W, due, departure, vehicle)
        else:
            N[k] = G[theirs]
            theirs = _next(G, W, count, theirs + 1, 0)
        if first < 0 and N[k] != G[k]:
            first = k
    return first if first >= 0 else NOTHING


@compiled
def lay_anew(T: I32, S: I32, G: I32, D: I32, N: I32, W: I32, R: U64) -> int:
    """Lay all tasks of a departure by its due minute, with more or less time in hand."""
    departure = departure_to_help(T, S, G, R) if draw(R) < 0.5 else below(R, T[DEPARTURES])
    vehicle = G[T[G_VEHICLE] + departure]
    if vehicle < 0:
        return NOTHING
    return lay_in(T, G, D, N, W, departure, vehicle, int(240 * draw(R) * draw(R)), draw(R) < 0.7)


# ---------------------------------------------------------------- moves of modes, people and allotment


@compiled
def other_mode(T: I32, N: I32, where: I32, R: U64) -> int:
    """Do a task in another of its ways."""
    for _ in range(TRIES):
        task = below(R, T[TASKS])
        row, gene = T[TASK] + task * TASK_ROW, T[G_TASK] + task * T[G_ROW] + G_MODE
        modes = T[row + MODE_LAST] - T[row + MODE_FIRST]
        if modes > 1 and T[row + FIXED] == 0:
            N[gene] = (N[gene] + 1 + below(R, modes - 1)) % modes
            ask_for_anybody(T, N, task)
            return where[task]
    return NOTHING


@compiled
def other_people(T: I32, G: I32, N: I32, where: I32, R: U64) -> int:
    """Ask for somebody by name, or for nobody any more; let go of the time people hold, or take it up again."""
    task = below(R, T[TASKS])
    if T[T[TASK] + task * TASK_ROW + FIXED] == 1:
        return NOTHING
    gene = T[G_TASK] + task * T[G_ROW]
    if T[T[HELD] + task * T[HELD_ROW] + HELD_START] >= 0 and draw(R) < 0.5:
        N[gene + G_KEEP] = 1 - G[gene + G_KEEP]
        return where[task]
    ask_for_anybody(T, N, task)
    mode = mode_of(T, G, task)
    able = T[mode + SKILL_LAST] - T[mode + SKILL_FIRST]
    if able > 0 and draw(R) < 0.7:
        N[gene + G_WISH] = T[T[SKILLED] + (T[mode + SKILL_FIRST] + below(R, able)) * SKILLED_ROW + WHO]
        N[gene + G_FIRM] = 1
    return where[task]


@inlined
def _first_touched(T: I32, where: I32, row: int, least: int) -> int:
    """Return the first position of any task of a vehicle's or departure's row, or ``least``."""
    for k in range(T[row + OWN_FIRST], T[row + OWN_LAST]):
        least = min(least, where[T[T[OWN] + k]])
    return least


@inlined
def may_go(T: I32, departure: int, vehicle: int) -> bool:
    """Return whether a departure may take a vehicle (-1: be put off)."""
    if vehicle < 0:
        return T[T[DEPARTURE] + departure * DEPARTURE_ROW + POSTPONE] >= 0
    return T[T[SUITS] + departure * T[VEHICLES] + vehicle] >= 0


@compiled
def other_vehicle(T: I32, S: I32, G: I32, D: I32, N: I32, W: I32, where: I32, R: U64, begun: bool) -> int:
    """Let two departures change vehicles, give one a free vehicle, take one up again, or put one off."""
    one = departure_to_help(T, S, G, R) if draw(R) < 0.5 else below(R, T[DEPARTURES])
    mine = G[T[G_VEHICLE] + one]
    if mine >= 0 and draw(R) < 0.05 and may_go(T, one, -1):
        N[T[G_VEHICLE] + one] = -1
        N[T[G_DEPARTURE] + mine] = -1
        return FROM_BLANK
    for _ in range(TRIES):
        vehicle = below(R, T[VEHICLES])
        two = G[T[G_DEPARTURE] + vehicle]
        if vehicle == mine or not may_go(T, one, vehicle) or (two >= 0 and not may_go(T, two, mine)):
            continue
        N[T[G_VEHICLE] + one] = vehicle
        N[T[G_DEPARTURE] + vehicle] = one
        if mine >= 0:
            N[T[G_DEPARTURE] + mine] = two
        if two >= 0:
            N[T[G_VEHICLE] + two] = mine
        first = T[TASKS] - 1
        if two < 0:
            first = max(0, lay_in(T, G, D, N, W, one, vehicle, int(120 * draw(R)), True))
        if begun or mine < 0:
            return FROM_BLANK
        first = _first_touched(T, where, T[DEPARTURE] + one * DEPARTURE_ROW, first)
        first = _first_touched(T, where, T[VEHICLE] + mine * VEHICLE_ROW, first)
        first = _first_touched(T, where, T[VEHICLE] + vehicle * VEHICLE_ROW, first)
        return first if two < 0 else _first_touched(T, where, T[DEPARTURE] + two * DEPARTURE_ROW, first)
    return NOTHING
