# ruff: noqa: N803, PLR2004, C901
# T, S, G, D, N, L, K, U, W and R are arrays of the layout; the shares with which moves choose are plain numbers.
"""Which departures a step takes out, how much sooner they are put back, and which change vehicles, compiled.

A unit is a vehicle or a departure; ``U`` has a record for each, the vehicles first.
"""

from __future__ import annotations

from keyhook.turnaround.chance import below, draw
from keyhook.turnaround.compiled import compiled, inlined
from keyhook.turnaround.counting import is_moved
from keyhook.turnaround.crews import did
from keyhook.turnaround.helping import TRIES, departure_to_help, mode_of, waiting_task
from keyhook.turnaround.layout import (
    BOUND,
    CREW_MAX,
    D_CREW,
    D_END,
    D_READY,
    D_ROW,
    D_START,
    DEPARTURE,
    DEPARTURE_ROW,
    DEPARTURES,
    FIXED,
    G_DEPARTURE,
    G_VEHICLE,
    HELD,
    HELD_CREW,
    HELD_ROW,
    HELD_START,
    I32,
    NEVER,
    OWN,
    OWN_FIRST,
    OWN_LAST,
    PLACE,
    SERVES,
    SKILL_FIRST,
    TASK,
    TASK_ROW,
    TASKS,
    U64,
    VEHICLE,
    VEHICLE_ROW,
    VEHICLES,
)
from keyhook.turnaround.moves import may_go

#: In ``U``, by unit: the minute from which its tasks are taken out (NEVER: none are), by how much sooner they are
#: put back, and 1 when it has another partner than before.
CUT, SOONER, CHANGED, UNIT_ROW = range(4)
#: How much sooner or later tasks are put back, at most [min].
REACH = 300.0
#: How many departures change vehicles in one chain, at most.
CHAIN = 4


@inlined
def unit_of_vehicle(vehicle: int) -> int:
    """Return where the record of a vehicle begins in ``U``."""
    return vehicle * UNIT_ROW


@inlined
def unit_of_departure(T: I32, departure: int) -> int:
    """Return where the record of a departure begins in ``U``."""
    return int(T[VEHICLES] + departure) * UNIT_ROW


@inlined
def row_of_unit(T: I32, unit: int) -> int:
    """Return the record in ``T`` of the vehicle or the departure that is number ``unit``."""
    if unit < T[VEHICLES]:
        return int(T[VEHICLE] + unit * VEHICLE_ROW)
    return int(T[DEPARTURE] + (unit - T[VEHICLES]) * DEPARTURE_ROW)


@inlined
def _take(T: I32, G: I32, U: I32, vehicle: int, departure: int, cut: int, sooner: int) -> None:
    """Choose a vehicle with its departure, or a departure with its vehicle (-1: none known)."""
    if departure >= 0 and vehicle < 0:
        vehicle = G[T[G_VEHICLE] + departure]
    if vehicle >= 0:
        departure = G[T[G_DEPARTURE] + vehicle]
        unit = unit_of_vehicle(vehicle)
        U[unit + CUT], U[unit + SOONER] = cut, sooner
    if departure >= 0:
        unit = unit_of_departure(T, departure)
        U[unit + CUT], U[unit + SOONER] = cut, sooner


@inlined
def _is_taken(T: I32, U: I32, task: int) -> bool:
    row = T[TASK] + task * TASK_ROW
    if T[row + SERVES] >= 0:
        return bool(U[unit_of_departure(T, T[row + SERVES]) + CUT] < NEVER)
    return bool(T[row + BOUND] >= 0 and U[unit_of_vehicle(T[row + BOUND]) + CUT] < NEVER)


@compiled
def in_the_way(T: I32, G: I32, D: I32, U: I32, task: int, R: U64) -> int:
    """Return a task of something not yet chosen that had the hands or the room while a task waited; -1 for none."""
    width, row = T[D_ROW], task * T[D_ROW]
    ready, start, person = D[row + D_READY], D[row + D_START], D[row + D_CREW]
    place, skill = T[T[TASK] + task * TASK_ROW + PLACE], T[mode_of(T, G, task) + SKILL_FIRST]
    found, seen = -1, 0
    for other in range(T[TASKS]):
        begins = D[other * width + D_START]
        if begins < 0 or begins >= start or D[other * width + D_END] <= ready:
            continue
        at = T[TASK] + other * TASK_ROW
        same = person >= 0 and (D[other * width + D_CREW] == person or T[mode_of(T, G, other) + SKILL_FIRST] == skill)
        if not (same or (place >= 0 and T[at + PLACE] == place)) or T[at + FIXED] == 1:
            continue
        if (T[at + SERVES] < 0 and T[at + BOUND] < 0) or _is_taken(T, U, other):
            continue
        seen += 1
        if draw(R) * seen < 1.0:
            found = other
    return found


@inlined
def _some_minute(T: I32, D: I32, departure: int, vehicle: int, R: U64) -> int:
    """Return when some task of a departure or its vehicle begins; 0 when it has none."""
    row = T[VEHICLE] + vehicle * VEHICLE_ROW
    if vehicle < 0 or draw(R) < 0.3:
        row = T[DEPARTURE] + departure * DEPARTURE_ROW
    count = T[row + OWN_LAST] - T[row + OWN_FIRST]
    if count == 0:
        return 0
    begins = D[T[T[OWN] + T[row + OWN_FIRST] + below(R, count)] * T[D_ROW] + D_START]
    return max(0, int(begins))


@compiled
def choose(T: I32, S: I32, G: I32, D: I32, U: I32, R: U64) -> int:
    """Mark in ``U`` what is taken out, from when on, and how much sooner it is put back (steps 1 and 2).

    Returns the departure that is to be helped.
    """
    for unit in range(0, len(U), UNIT_ROW):
        U[unit + CUT], U[unit + SOONER], U[unit + CHANGED] = NEVER, 0, 0
    whole, reach = draw(R) < 0.5, REACH * draw(R)
    departure = departure_to_help(T, S, G, R) if draw(R) < 0.85 else below(R, T[DEPARTURES])
    vehicle = G[T[G_VEHICLE] + departure]
    cut = 0 if whole or vehicle < 0 else _some_minute(T, D, departure, vehicle, R)
    _take(T, G, U, vehicle, departure, cut, int(reach * draw(R)))
    more = 1 + int(4.0 * draw(R) * draw(R))
    helped = departure
    for _ in range(more):
        if draw(R) < 0.7 and G[T[G_VEHICLE] + helped] >= 0:
            task = waiting_task(T, G, D, helped, R)
            other = in_the_way(T, G, D, U, task, R) if task >= 0 else -1
            if other < 0:
                continue
            cut = 0 if whole or draw(R) < 0.5 else D[other * T[D_ROW] + D_START]
            _take_owner(T, G, U, other, cut, int(-reach * draw(R)))
        else:
            departure = below(R, T[DEPARTURES])
            if U[unit_of_departure(T, departure) + CUT] < NEVER:
                continue
            vehicle = G[T[G_VEHICLE] + departure]
            cut = 0 if whole or vehicle < 0 else _some_minute(T, D, departure, vehicle, R)
            _take(T, G, U, vehicle, departure, cut, int(reach * (draw(R) - 0.7)))
    return helped


@inlined
def _take_owner(T: I32, G: I32, U: I32, task: int, cut: int, sooner: int) -> None:
    """Choose the vehicle or the departure a task belongs to."""
    row = T[TASK] + task * TASK_ROW
    _take(T, G, U, -1 if T[row + SERVES] >= 0 else T[row + BOUND], T[row + SERVES], cut, sooner)


@compiled
def choose_back(T: I32, G: I32, D: I32, U: I32, R: U64) -> bool:
    """Mark what stands between a moved task and where people hold it: its own, and who has its people then.

    Returns False when no task is moved.
    """
    for unit in range(0, len(U), UNIT_ROW):
        U[unit + CUT], U[unit + SOONER], U[unit + CHANGED] = NEVER, 0, 0
    count, width, first, whole = T[TASKS], T[D_ROW], below(R, T[TASKS]), draw(R) < 0.3
    for k in range(count):
        task = (first + k) % count
        row, held = T[TASK] + task * TASK_ROW, T[HELD] + task * T[HELD_ROW]
        owned = T[row + SERVES] >= 0 or T[row + BOUND] >= 0
        if T[row + FIXED] == 1 or not owned or not is_moved(T, D, task):
            continue
        start = T[held + HELD_START]
        end = start + D[task * width + D_END] - D[task * width + D_START]
        _take_owner(T, G, U, task, 0 if whole else min(start, D[task * width + D_START]), 0)
        for other in range(count):
            begins = D[other * width + D_START]
            if begins < 0 or begins >= end or D[other * width + D_END] <= start:
                continue
            at = T[TASK] + other * TASK_ROW
            if T[at + FIXED] == 1 or (T[at + SERVES] < 0 and T[at + BOUND] < 0) or _is_taken(T, U, other):
                continue
            for slot in range(held + HELD_CREW, held + HELD_CREW + T[CREW_MAX]):
                if T[slot] >= 0 and did(T, D, other, T[slot]):
                    _take_owner(T, G, U, other, 0 if whole else begins, 0)
                    break
        return True
    return False


@inlined
def _change(T: I32, N: I32, U: I32, departure: int, vehicle: int) -> None:
    """Give a departure a vehicle (-1: put it off), in the genes and the marks."""
    mine = unit_of_departure(T, departure)
    U[mine + CUT], U[mine + CHANGED] = 0, 1
    N[T[G_VEHICLE] + departure] = vehicle
    if vehicle >= 0:
        theirs = unit_of_vehicle(vehicle)
        U[theirs + CUT], U[theirs + CHANGED], U[theirs + SOONER] = 0, 1, U[mine + SOONER]
        N[T[G_DEPARTURE] + vehicle] = departure


@inlined
def _vehicle_for(T: I32, G: I32, U: I32, departure: int, R: U64) -> int:
    """Return by chance a vehicle that a departure may take and nobody has changed to; -1 when none is found."""
    mine = G[T[G_VEHICLE] + departure]
    for _ in range(2 * TRIES):
        vehicle = below(R, T[VEHICLES])
        if vehicle != mine and U[unit_of_vehicle(vehicle) + CHANGED] == 0 and may_go(T, departure, vehicle):
            return vehicle
    return -1


@compiled
def change_vehicles(T: I32, G: I32, N: I32, U: I32, one: int, R: U64) -> bool:
    """Give a departure another vehicle, whoever had that one the next, and so on; or put it off. False: no way found.

    The chain ends at a free vehicle, at the vehicle that the first one gave up, or with the last one put off.
    """
    mine = G[T[G_VEHICLE] + one]
    if U[unit_of_departure(T, one) + CUT] == NEVER:
        _take(T, G, U, mine, one, 0, int(0.5 * REACH * (draw(R) - 0.3)))
    if mine >= 0:
        N[T[G_DEPARTURE] + mine] = -1
        U[unit_of_vehicle(mine) + CUT] = 0
        if draw(R) < 0.05 and may_go(T, one, -1):
            U[unit_of_vehicle(mine) + CHANGED] = 1
            _change(T, N, U, one, -1)
            return True
    for _ in range(CHAIN):
        vehicle = _vehicle_for(T, G, U, one, R)
        if vehicle < 0:
            return False
        two = G[T[G_DEPARTURE] + vehicle]
        _change(T, N, U, one, vehicle)
        if two < 0:
            if mine >= 0:
                U[unit_of_vehicle(mine) + CHANGED] = 1
            return True
        if U[unit_of_departure(T, two) + CUT] == NEVER:
            _take(T, G, U, -1, two, 0, int(0.5 * REACH * (draw(R) - 0.6)))
        U[unit_of_vehicle(vehicle) + CUT] = 0
        if draw(R) < 0.1 and may_go(T, two, -1):
            _change(T, N, U, two, -1)
            if mine >= 0:
                U[unit_of_vehicle(mine) + CHANGED] = 1
            return True
        if mine >= 0 and may_go(T, two, mine):
            _change(T, N, U, two, mine)
            return True
        one = two
    return False
