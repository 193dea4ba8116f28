# ruff: noqa: N803, PLR0913, PLR0917, PLR2004
# T, S, G, D, N, L, K, U, W and R are arrays of the layout; the shares with which moves choose are plain numbers.
"""Taking a few departures out of a plan and putting them back another way, compiled (source ``schrimpf-2000``).

Everything else keeps its people and minutes, so that a step costs what it changes and not what the day holds:

1. Choose a departure that costs something, and those whose tasks took the hands or the room it waited for.
2. Take their tasks, and those of their vehicles, out of the state: all, or from some minute on.
3. Perhaps let them change vehicles, do a task another way, or ask for somebody.
4. Put the tasks back one by one, each as early as it fits, those of some departures sooner than they stood
   and those of others later. Stop as soon as the plan costs more than would be kept.
5. Keep the plan by the falling temperature, else put everything back as it was.

What is put back so leaves gaps. Now and then the day is laid anew in the order of the starts.
"""

from __future__ import annotations

import math

import numpy as np

from keyhook.turnaround.compiled import compiled, inlined
from keyhook.turnaround.kernel import (
    begin,
    copy_over,
    count_levels,
    decode_from,
    earliest_rest,
    enter_person,
    enter_spot,
    is_called_for,
    minutes_of,
    note_leaving,
    place_task,
    set_ready,
    step_at,
    vehicle_for,
)
from keyhook.turnaround.layout import (
    ACROSS,
    ACROSS_FROM,
    ACROSS_LAG,
    BOUND,
    BREAKS,
    COUNT,
    CREW,
    CREW_MAX,
    CROSS,
    CROSS_ROW,
    CROSSES,
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
    HELD_CREW,
    HELD_ROW,
    HELD_START,
    I32,
    I64,
    LAST,
    LINK,
    LINK_ROW,
    LINKED,
    MINUTES,
    MODE,
    MODE_FIRST,
    MODE_LAST,
    MODE_ROW,
    NEVER,
    OTHER,
    OTHER_FIRST,
    OTHER_LAST,
    OWN,
    OWN_FIRST,
    OWN_LAST,
    PEOPLE,
    PLACE,
    PLACE_TAIL,
    POSTPONE,
    REST,
    REST_AT,
    S_LEAVE,
    S_PERSON,
    S_PERSON_ROW,
    S_PLACE,
    S_PLACE_ROW,
    S_VEHICLE,
    S_VEHICLE_ROW,
    SERVES,
    SKILL_FIRST,
    SKILL_LAST,
    SKILLED,
    SKILLED_ROW,
    TASK,
    TASK_ROW,
    TASKS,
    U64,
    USE,
    V_OTHER,
    V_OTHER_PTR,
    VEHICLE,
    VEHICLE_ROW,
    VEHICLES,
    WEIGHT,
    WHO,
    ZONE_TAIL,
    ZONES,
)
from keyhook.turnaround.moves import (
    TRIES,
    ask_for_anybody,
    below,
    departure_to_help,
    draw,
    may_go,
    mode_of,
    waiting_task,
)
from keyhook.turnaround.search import is_better, is_kept, put_in_order

#: In ``U``, by vehicle and then by departure: the minute from which its tasks are taken out (NEVER: none are), by
#: how much sooner they are put back, and 1 when it has another partner than before.
CUT, SOONER, CHANGED, UNIT_ROW = range(4)
#: After so many kept steps the day is laid anew.
LAY_EVERY = 50
#: How many departures change vehicles in one chain, at most.
CHAIN = 4
#: How much sooner or later tasks are put back, at most [min].
REACH = 300.0


@compiled
def lay_as_planned(T: I32, S: I32, G: I32, D: I32, C: I64) -> bool:
    """Enter a whole outcome into a blank state as it stands, and count it.

    False when a task that is called for has no time or not the time its people need, or a break does not show.
    """
    begin(T, S, G, D, C)
    for task in range(T[TASKS]):
        row, lain = T[TASK] + task * TASK_ROW, task * T[D_ROW]
        if T[row + FIXED] == 1 or not is_called_for(T, G, task):
            continue
        start, end, vehicle = D[lain + D_START], D[lain + D_END], vehicle_for(T, G, task)
        if start < 0 or set_ready(T, G, D, task, vehicle) >= 0 or D[lain + D_READY] > start:
            return False
        mode = mode_of(T, G, task)
        for slot in range(lain + D_CREW, lain + D_CREW + T[mode + CREW]):
            if D[slot] < 0 or not enter_person(T, S, D[slot], start, end):
                return False
        if end != start + minutes_of(T, D, task, mode):
            return False
        enter_spot(T, S, task, vehicle, start, end)
        note_leaving(T, S, G, C, task, vehicle, end)
    count_levels(T, S, G, D, C)
    return True


# ---------------------------------------------------------------- what is taken out


@inlined
def _unit_of_vehicle(vehicle: int) -> int:
    return vehicle * UNIT_ROW


@inlined
def _unit_of_departure(T: I32, departure: int) -> int:
    return (T[VEHICLES] + departure) * UNIT_ROW


@inlined
def _take(T: I32, G: I32, U: I32, vehicle: int, departure: int, cut: int, sooner: int) -> None:
    """Choose a vehicle with its departure, or a departure with its vehicle (-1: none known)."""
    if departure >= 0 and vehicle < 0:
        vehicle = G[T[G_VEHICLE] + departure]
    if vehicle >= 0:
        departure = G[T[G_DEPARTURE] + vehicle]
        unit = _unit_of_vehicle(vehicle)
        U[unit + CUT], U[unit + SOONER] = cut, sooner
    if departure >= 0:
        unit = _unit_of_departure(T, departure)
        U[unit + CUT], U[unit + SOONER] = cut, sooner


@inlined
def _is_taken(T: I32, U: I32, task: int) -> bool:
    row = T[TASK] + task * TASK_ROW
    if T[row + SERVES] >= 0:
        return U[_unit_of_departure(T, T[row + SERVES]) + CUT] < NEVER
    return T[row + BOUND] >= 0 and U[_unit_of_vehicle(T[row + BOUND]) + CUT] < NEVER


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
    return max(0, D[T[T[OWN] + T[row + OWN_FIRST] + below(R, count)] * T[D_ROW] + D_START])


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
            row = T[TASK] + other * TASK_ROW
            cut = 0 if whole or draw(R) < 0.5 else D[other * T[D_ROW] + D_START]
            _take(T, G, U, -1 if T[row + SERVES] >= 0 else T[row + BOUND], T[row + SERVES], cut, int(-reach * draw(R)))
        else:
            departure = below(R, T[DEPARTURES])
            if U[_unit_of_departure(T, departure) + CUT] < NEVER:
                continue
            vehicle = G[T[G_VEHICLE] + departure]
            cut = 0 if whole or vehicle < 0 else _some_minute(T, D, departure, vehicle, R)
            _take(T, G, U, vehicle, departure, cut, int(reach * (draw(R) - 0.7)))
    return helped


@inlined
def _change(T: I32, N: I32, U: I32, departure: int, vehicle: int) -> None:
    """Give a departure a vehicle (-1: put it off), in the genes and the marks."""
    mine = _unit_of_departure(T, departure)
    U[mine + CUT], U[mine + CHANGED] = 0, 1
    N[T[G_VEHICLE] + departure] = vehicle
    if vehicle >= 0:
        theirs = _unit_of_vehicle(vehicle)
        U[theirs + CUT], U[theirs + CHANGED], U[theirs + SOONER] = 0, 1, U[mine + SOONER]
        N[T[G_DEPARTURE] + vehicle] = departure


@inlined
def _vehicle_for(T: I32, G: I32, U: I32, departure: int, R: U64) -> int:
    """Return by chance a vehicle that a departure may take and nobody has changed to; -1 when none is found."""
    mine = G[T[G_VEHICLE] + departure]
    for _ in range(2 * TRIES):
        vehicle = below(R, T[VEHICLES])
        if vehicle != mine and U[_unit_of_vehicle(vehicle) + CHANGED] == 0 and may_go(T, departure, vehicle):
            return vehicle
    return -1


@compiled
def change_vehicles(T: I32, G: I32, N: I32, U: I32, one: int, R: U64) -> bool:
    """Give a departure another vehicle, whoever had that one the next, and so on; or put it off. False: no way found.

    The chain ends at a free vehicle, or at the vehicle that the first one gave up.
    """
    mine = G[T[G_VEHICLE] + one]
    if U[_unit_of_departure(T, one) + CUT] == NEVER:
        _take(T, G, U, mine, one, 0, int(0.5 * REACH * (draw(R) - 0.3)))
    if mine >= 0:
        N[T[G_DEPARTURE] + mine] = -1
        U[_unit_of_vehicle(mine) + CUT] = 0
        if draw(R) < 0.05 and may_go(T, one, -1):
            U[_unit_of_vehicle(mine) + CHANGED] = 1
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
                U[_unit_of_vehicle(mine) + CHANGED] = 1
            return True
        if U[_unit_of_departure(T, two) + CUT] == NEVER:
            _take(T, G, U, -1, two, 0, int(0.5 * REACH * (draw(R) - 0.6)))
        U[_unit_of_vehicle(vehicle) + CUT] = 0
        if mine >= 0 and may_go(T, two, mine):
            _change(T, N, U, two, mine)
            return True
        one = two
    return False


@compiled
def _leave_person(T: I32, S: I32, person: int, start: int, end: int) -> None:
    """Take work out of the stretches of a person, and look again from when each break fits."""
    row, breaks = T[S_PERSON] + person * T[S_PERSON_ROW], T[BREAKS]
    first = row + REST_AT + breaks
    last = first + 2 * S[row + COUNT]
    k = first
    while S[k + 1] < end:
        k += 2
    if S[k] > start:
        return
    if S[k] == start and S[k + 1] == end:
        for j in range(k, last - 2):
            S[j] = S[j + 2]
        S[row + COUNT] -= 1
    elif S[k] == start:
        S[k] = end
    elif S[k + 1] == end:
        S[k + 1] = start
    elif last + 1 < row + T[S_PERSON_ROW]:
        for j in range(last - 1, k, -1):
            S[j + 2] = S[j]
        S[k + 1] = start
        S[k + 2] = end
        S[row + COUNT] += 1
    else:
        return
    for b in range(breaks):
        if S[row + REST_AT + b] >= 0:
            S[row + REST_AT + b] = earliest_rest(T, S, person, b)


@inlined
def _leave_place(T: I32, S: I32, place: int, start: int, end: int, use: int) -> None:
    """Take use of a place out of its steps, and the steps at which nothing changes any more."""
    first = step_at(T, S, place, start)
    last = step_at(T, S, place, end)
    for k in range(first, last, 2):
        S[k + 1] -= use
    row = T[S_PLACE] + place * T[S_PLACE_ROW]
    into = row + 3
    for k in range(row + 3, row + 1 + 2 * S[row + COUNT], 2):
        if S[k + 1] != S[into - 1]:
            S[into], S[into + 1] = S[k], S[k + 1]
            into += 2
    S[row + COUNT] = (into - row - 1) // 2


@inlined
def _leave_zones(T: I32, S: I32, vehicle: int, start: int, end: int, mask: int) -> None:
    """Take one stay out of the stays of a vehicle."""
    row = T[S_VEHICLE] + vehicle * T[S_VEHICLE_ROW]
    last = row + 1 + 3 * S[row + COUNT]
    for k in range(row + 1, last, 3):
        if S[k] == start and S[k + 1] == end and S[k + 2] == mask:
            for j in range(k, last - 3):
                S[j] = S[j + 3]
            S[row + COUNT] -= 1
            return


@compiled
def _take_out(T: I32, S: I32, G: I32, D: I32, task: int) -> None:
    """Take a task out of the state and the outcome."""
    row, lain = T[TASK] + task * TASK_ROW, task * T[D_ROW]
    start, end, vehicle = D[lain + D_START], D[lain + D_END], vehicle_for(T, G, task)
    for slot in range(lain + D_CREW, lain + D_CREW + T[CREW_MAX]):
        if D[slot] >= 0:
            _leave_person(T, S, D[slot], start, end)
            D[slot] = -1
    if T[row + PLACE] >= 0:
        _leave_place(T, S, T[row + PLACE], start, end + T[row + PLACE_TAIL], T[row + USE])
    if vehicle >= 0 and T[row + ZONES] != 0:
        _leave_zones(T, S, vehicle, start, end + T[row + ZONE_TAIL], T[row + ZONES])
    D[lain + D_START] = -1


@inlined
def _barring_stays(T: I32, G: I32, D: I32, task: int, cut: int) -> bool:
    """Return whether a task that keeps its people may not share them with one that is taken out from ``cut`` on."""
    row, width = T[TASK] + task * TASK_ROW, T[D_ROW]
    for link in range(T[row + OTHER_FIRST], T[row + OTHER_LAST]):
        if D[T[T[OTHER] + link * LINK_ROW + LINKED] * width + D_START] >= cut:
            return True
    vehicle = vehicle_for(T, G, task)
    if T[row + LINK] >= 0 and vehicle >= 0:
        pair = T[V_OTHER_PTR] + T[row + LINK] * T[VEHICLES] + vehicle
        for link in range(T[pair], T[pair + 1]):
            if D[T[T[V_OTHER] + link * LINK_ROW + LINKED] * width + D_START] >= cut:
                return True
    return False


@inlined
def _row_of_unit(T: I32, unit: int) -> int:
    """Return the record in ``T`` of the vehicle or the departure that is number ``unit``."""
    if unit < T[VEHICLES]:
        return T[VEHICLE] + unit * VEHICLE_ROW
    return T[DEPARTURE] + (unit - T[VEHICLES]) * DEPARTURE_ROW


@inlined
def _partner(T: I32, G: I32, unit: int) -> int:
    """Return the unit of the departure of a vehicle, or of the vehicle of a departure; -1 for none."""
    if unit < T[VEHICLES]:
        departure = G[T[G_DEPARTURE] + unit]
        return T[VEHICLES] + departure if departure >= 0 else -1
    return G[T[G_VEHICLE] + unit - T[VEHICLES]]


@compiled
def _keep_eyes_apart(T: I32, G: I32, D: I32, U: I32) -> None:
    """Take out whole what would keep a task that may not share its people with one that is taken out."""
    for unit in range(T[VEHICLES] + T[DEPARTURES]):
        cut, row = U[unit * UNIT_ROW + CUT], _row_of_unit(T, unit)
        if cut <= 0 or cut == NEVER:
            continue
        for k in range(T[row + OWN_FIRST], T[row + OWN_LAST]):
            task = T[T[OWN] + k]
            begins = D[task * T[D_ROW] + D_START]
            if 0 <= begins < cut and _barring_stays(T, G, D, task, cut):
                U[unit * UNIT_ROW + CUT] = 0
                if _partner(T, G, unit) >= 0:
                    U[_partner(T, G, unit) * UNIT_ROW + CUT] = 0
                break


@compiled
def take_out(T: I32, S0: I32, S: I32, G: I32, D: I32, N: I32, U: I32, L: I32) -> int:
    """Take out what is chosen, as it stands by the genes ``G``; list in ``L`` what the genes ``N`` put back.

    Returns how many those are.
    """
    _keep_eyes_apart(T, G, D, U)
    width, count = T[D_ROW], 0
    for unit in range(T[VEHICLES] + T[DEPARTURES]):
        cut = U[unit * UNIT_ROW + CUT]
        if cut == NEVER:
            continue
        row = _row_of_unit(T, unit)
        for k in range(T[row + OWN_FIRST], T[row + OWN_LAST]):
            task = T[T[OWN] + k]
            if T[T[TASK] + task * TASK_ROW + FIXED] == 1:
                continue
            if D[task * width + D_START] >= 0:
                if D[task * width + D_START] < cut:
                    continue
                _take_out(T, S, G, D, task)
            if is_called_for(T, N, task):
                L[count] = task
                count += 1
        if unit >= T[VEHICLES]:
            S[T[S_LEAVE] + unit - T[VEHICLES]] = S0[T[S_LEAVE] + unit - T[VEHICLES]]
    return count


# ---------------------------------------------------------------- what is put back


@inlined
def _due_for(T: I32, N: I32, task: int) -> int:
    """Return the latest a task can begin without making its departure late; closing when it has none."""
    row = T[TASK] + task * TASK_ROW
    departure = T[row + SERVES]
    if departure < 0:
        departure = N[T[G_DEPARTURE] + T[row + BOUND]]
    if departure < 0:
        return NEVER // 2
    minutes = T[T[MODE] + T[row + MODE_FIRST] * T[MODE_ROW] + MINUTES]
    return T[T[DEPARTURE] + departure * DEPARTURE_ROW + DUE] - T[row + REST] - minutes


@compiled
def _line_up(T: I32, D: I32, N: I32, U: I32, L: I32, K: I32, count: int, by_due: bool) -> None:
    """Sort what is put back: by where it stood, or by when it has to begin; sooner or later by its unit's minutes."""
    for k in range(count):
        task = L[k]
        row = T[TASK] + task * TASK_ROW
        unit = _unit_of_departure(T, T[row + SERVES]) if T[row + SERVES] >= 0 else _unit_of_vehicle(T[row + BOUND])
        stood = D[task * T[D_ROW] + D_START]
        if by_due or stood < 0 or U[unit + CHANGED] == 1:
            stood = _due_for(T, N, task)
        key, j = stood - U[unit + SOONER], k
        while j > 0 and K[j - 1] > key:
            K[j], L[j] = K[j - 1], L[j - 1]
            j -= 1
        K[j], L[j] = key, task


@inlined
def _ask_for_held(T: I32, N: I32, task: int) -> None:
    """Ask for the minute and the people that people hold, if the mode has as many."""
    held, gene = T[HELD] + task * T[HELD_ROW], T[G_TASK] + task * T[G_ROW]
    if T[held + HELD_START] < 0:
        return
    N[gene + G_KEEP] = 1
    crew, able = T[mode_of(T, N, task) + CREW], 0
    for slot in range(T[CREW_MAX]):
        person = T[held + HELD_CREW + slot]
        if person >= 0:
            mode = mode_of(T, N, task)
            for k in range(T[mode + SKILL_FIRST], T[mode + SKILL_LAST]):
                able += 1 if T[T[SKILLED] + k * SKILLED_ROW + WHO] == person else 0
            able += 0 if slot < crew else -1
    if able == crew and crew > 0:
        for slot in range(T[CREW_MAX]):
            N[gene + G_WISH + slot] = T[held + HELD_CREW + slot]


@compiled
def wish_anew(T: I32, N: I32, L: I32, count: int, again: bool, R: U64) -> None:
    """Change, by chance, in which way and by whom what is put back is done (step 3)."""
    kind, modes = draw(R), draw(R) < 0.3
    for k in range(count):
        task = L[k]
        row, gene = T[TASK] + task * TASK_ROW, T[G_TASK] + task * T[G_ROW]
        ways = T[row + MODE_LAST] - T[row + MODE_FIRST]
        if modes and ways > 1 and draw(R) < 0.25:
            N[gene + G_MODE] = below(R, ways)
            ask_for_anybody(T, N, task)
        if kind < 0.5:
            ask_for_anybody(T, N, task)
            N[gene + G_KEEP] = 0
        elif again and kind < 0.8:
            _ask_for_held(T, N, task)
    if count > 0 and draw(R) < 0.3:
        task = L[below(R, count)]
        mode = mode_of(T, N, task)
        able = T[mode + SKILL_LAST] - T[mode + SKILL_FIRST]
        if able > 0:
            ask_for_anybody(T, N, task)
            gene = T[G_TASK] + task * T[G_ROW]
            N[gene + G_WISH] = T[T[SKILLED] + (T[mode + SKILL_FIRST] + below(R, able)) * SKILLED_ROW + WHO]
            N[gene + G_FIRM] = 1


@compiled
def _count_kept(T: I32, S: I32, N: I32, D: I32, C: I64, U: I32) -> None:
    """Count in ``C[0]`` what the allotment and everything not taken out cost."""
    C[0] = 0
    for unit in range(T[VEHICLES] + T[DEPARTURES]):
        if U[unit * UNIT_ROW + CUT] == NEVER:
            continue
        row = _row_of_unit(T, unit)
        for k in range(T[row + OWN_FIRST], T[row + OWN_LAST]):
            task = T[T[OWN] + k]
            if D[task * T[D_ROW] + D_START] >= 0:
                note_leaving(T, S, N, C, task, vehicle_for(T, N, task), D[task * T[D_ROW] + D_END])
    C[0] = 0
    for departure in range(T[DEPARTURES]):
        row = T[DEPARTURE] + departure * DEPARTURE_ROW
        if N[T[G_VEHICLE] + departure] < 0:
            C[0] += T[row + POSTPONE]
        else:
            C[0] += T[row + WEIGHT] * max(0, S[T[S_LEAVE] + departure] - T[row + DUE])


@compiled
def put_back(T: I32, S: I32, N: I32, D: I32, C: I64, W: I32, L: I32, count: int, limit: int) -> bool:
    """Give times to the tasks of a list in turn; False when one fits nowhere or the plan costs more than ``limit``."""
    stack, people = W[: T[TASKS] + 1], W[T[TASKS] + 1 :]
    for k in range(count):
        if D[L[k] * T[D_ROW] + D_START] >= 0:
            continue
        stack[0] = L[k]
        depth = 1
        while depth > 0:
            task = stack[depth - 1]
            vehicle = vehicle_for(T, N, task)
            call = set_ready(T, N, D, task, vehicle)
            if call >= 0:
                stack[depth] = call
                depth += 1
                continue
            if not place_task(T, S, N, D, C, people, task, vehicle):
                return False
            note_leaving(T, S, N, C, task, vehicle, D[task * T[D_ROW] + D_END])
            if C[0] > limit:
                return False
            depth -= 1
    return True


@compiled
def _keeps_across(T: I32, D: I32) -> bool:
    """Return whether every link between tasks of two owners is kept."""
    width = T[D_ROW]
    for row in range(T[CROSS], T[CROSS] + T[CROSSES] * CROSS_ROW, CROSS_ROW):
        task, other, lag = T[row + ACROSS], T[row + ACROSS_FROM], T[row + ACROSS_LAG]
        if D[task * width + D_START] < 0 or D[other * width + D_START] < 0:
            continue
        if T[T[TASK] + task * TASK_ROW + FIXED] == 1:
            continue
        if lag >= 0:
            if D[task * width + D_START] < D[other * width + D_END] + lag:
                return False
            continue
        for slot in range(task * width + D_CREW, task * width + D_CREW + T[CREW_MAX]):
            for theirs in range(other * width + D_CREW, other * width + D_CREW + T[CREW_MAX]):
                if D[slot] >= 0 and D[slot] == D[theirs]:
                    return False
    return True


@compiled
def _count_last(T: I32, S0: I32, S: I32, D: I32) -> None:
    """Write the last minute each person works."""
    for person in range(T[PEOPLE]):
        row = T[S_PERSON] + person * T[S_PERSON_ROW]
        S[row + LAST] = S0[row + LAST]
    for task in range(T[TASKS]):
        lain = task * T[D_ROW]
        if D[lain + D_START] >= 0:
            for slot in range(lain + D_CREW, lain + D_CREW + T[CREW_MAX]):
                if D[slot] >= 0:
                    row = T[S_PERSON] + D[slot] * T[S_PERSON_ROW]
                    S[row + LAST] = max(S[row + LAST], D[lain + D_END])


@compiled
def _copy_touched(
    T: I32, U: I32, into: I32, source: I32, into_d: I32, source_d: I32, into_g: I32, source_g: I32
) -> None:
    """Copy what a step may have changed: people, places, leaving, and the chosen vehicles with their tasks."""
    for k in range(T[S_VEHICLE]):
        into[k] = source[k]
    for k in range(T[S_LEAVE], T[S_LEAVE] + T[DEPARTURES]):
        into[k] = source[k]
    for k in range(T[G_VEHICLE], T[G_TASK]):
        into_g[k] = source_g[k]
    for unit in range(T[VEHICLES] + T[DEPARTURES]):
        if U[unit * UNIT_ROW + CUT] == NEVER:
            continue
        row = _row_of_unit(T, unit)
        for k in range(T[row + OWN_FIRST], T[row + OWN_LAST]):
            lain, gene = T[T[OWN] + k] * T[D_ROW], T[G_TASK] + T[T[OWN] + k] * T[G_ROW]
            for j in range(lain, lain + T[D_ROW]):
                into_d[j] = source_d[j]
            for j in range(gene, gene + T[G_ROW]):
                into_g[j] = source_g[j]
        if unit < T[VEHICLES]:
            stays = T[S_VEHICLE] + unit * T[S_VEHICLE_ROW]
            for j in range(stays, stays + T[S_VEHICLE_ROW]):
                into[j] = source[j]


@compiled
def lay_whole(
    T: I32, S0: I32, D0: I32, S: I32, G: I32, D: I32, C: I64, W: I32, order: I32,
    N: I32, S2: I32, D2: I32, C2: I64, shots: I32, costs: I64, spare: I32, R: U64, slack: float, heat: float
) -> bool:  # fmt: skip
    """Lay the whole day anew in the order of the starts; False, and everything as it was, when that is worse."""
    put_in_order(T, N, D)
    if draw(R) < 0.5:
        for task in range(T[TASKS]):
            lain, gene = task * T[D_ROW], T[G_TASK] + task * T[G_ROW]
            if D[lain + D_START] >= 0 and T[T[TASK] + task * TASK_ROW + FIXED] == 0:
                N[gene + G_FIRM] = 0
                for slot in range(T[CREW_MAX]):
                    N[gene + G_WISH + slot] = D[lain + D_CREW + slot]
    copy_over(S2, S0)
    copy_over(D2, D0)
    begin(T, S2, N, D2, C2)
    if decode_from(T, S2, N, D2, C2, W, order, 0, C[0] + np.int64(slack), shots, costs, spare, 0) >= 0:
        count_levels(T, S2, N, D2, C2)
        if is_kept(C, C2, slack, heat):
            copy_over(S, S2)
            copy_over(D, D2)
            copy_over(C, C2)
            copy_over(G, N)
            return True
    copy_over(S2, S)
    copy_over(D2, D)
    copy_over(N, G)
    return False


@compiled
def recreate(
    T: I32, S0: I32, D0: I32, S: I32, G: I32, D: I32, C: I64, W: I32, order: I32, shots: I32, costs: I64, spare: I32,
    N: I32, S2: I32, D2: I32, C2: I64, best_g: I32, best_s: I32, best_d: I32, B: I64, U: I32, L: I32, K: I32,
    R: U64, count: int, warm: float, cold: float, hottest: float, again: bool
) -> int:  # fmt: skip
    """Take so many steps while the temperature falls from ``warm`` to ``cold``; return how many were kept.

    ``S``, ``G``, ``D``, ``C`` are of the present plan, which keeps within everybody's hours; ``best_s``,
    ``best_g``, ``best_d``, ``B`` of the best one so far.
    """
    taken = 0
    cooling = math.log(cold / warm) / max(1, count)
    copy_over(S2, S)
    copy_over(D2, D)
    copy_over(N, G)
    for step in range(count):
        slack = -warm * math.exp(cooling * step) * math.log(1.0 - draw(R))
        helped = choose(T, S, G, D, U, R)
        put_off = G[T[G_VEHICLE] + helped] < 0
        if (put_off or draw(R) < 0.12) and not change_vehicles(T, G, N, U, helped, R):
            _copy_touched(T, U, S2, S, D2, D, N, G)
            continue
        number = take_out(T, S0, S2, G, D2, N, U, L)
        _count_kept(T, S2, N, D2, C2, U)
        limit = C[0] + np.int64(slack)
        kept = C2[0] <= limit
        if kept:
            wish_anew(T, N, L, number, again, R)
            _line_up(T, D, N, U, L, K, number, draw(R) < 0.15)
            kept = put_back(T, S2, N, D2, C2, W, L, number, limit) and _keeps_across(T, D2)
        if kept:
            _count_last(T, S0, S2, D2)
            count_levels(T, S2, N, D2, C2)
            kept = is_kept(C, C2, slack, hottest)
        if not kept:
            _copy_touched(T, U, S2, S, D2, D, N, G)
            continue
        taken += 1
        _copy_touched(T, U, S, S2, D, D2, G, N)
        copy_over(C, C2)
        if taken % LAY_EVERY == 0:
            lay_whole(T, S0, D0, S, G, D, C, W, order, N, S2, D2, C2, shots, costs, spare, R, slack, hottest)
        if is_better(C, B):
            copy_over(B, C)
            copy_over(best_s, S)
            copy_over(best_g, G)
            copy_over(best_d, D)
    return taken
