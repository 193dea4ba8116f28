# ruff: noqa: N803, PLR0913, PLR0917, PLR2004
# T, S, G, D, N, W and R are arrays of the layout; the shares with which moves choose are plain numbers.
"""Changes of the genes that the annealer proposes, compiled.

Each writes the changed genes into ``N`` and returns the first position of the order from which the plan can
differ; ``NOTHING`` when it found nothing to change, ``FROM_BLANK`` when what the allotment costs at the
outset changes too, so that nothing of the old decoding holds. ``where`` gives the position of every task.
"""

from __future__ import annotations

from keyhook.turnaround.chance import below, draw
from keyhook.turnaround.compiled import compiled, inlined
from keyhook.turnaround.helping import TRIES, blocker, departure_to_help, mode_of, waiting_task
from keyhook.turnaround.layout import (
    CREW_MAX,
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
    WHO,
)

NOTHING, FROM_BLANK = -1, -2


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
