# ruff: noqa: N803, C901
# T, S, G, D, N, L, K, U, W and R are arrays of the layout; the shares with which moves choose are plain numbers.
"""Taking tasks out of the state of a plan, so that what stays keeps its people and minutes, compiled."""

from __future__ import annotations

from keyhook.turnaround.calling import is_called_for, vehicle_for
from keyhook.turnaround.choosing import CUT, UNIT_ROW, row_of_unit
from keyhook.turnaround.compiled import compiled, inlined
from keyhook.turnaround.entering import step_at
from keyhook.turnaround.free_minutes import earliest_rest
from keyhook.turnaround.layout import (
    BREAKS,
    COUNT,
    CREW_MAX,
    D_CREW,
    D_END,
    D_ROW,
    D_START,
    DEPARTURES,
    FIXED,
    G_DEPARTURE,
    G_VEHICLE,
    I32,
    LINK,
    LINK_ROW,
    LINKED,
    NEVER,
    OTHER,
    OTHER_FIRST,
    OTHER_LAST,
    OWN,
    OWN_FIRST,
    OWN_LAST,
    PLACE,
    PLACE_TAIL,
    REST_AT,
    S_LEAVE,
    S_PERSON,
    S_PERSON_ROW,
    S_PLACE,
    S_PLACE_ROW,
    S_VEHICLE,
    S_VEHICLE_ROW,
    TASK,
    TASK_ROW,
    USE,
    V_OTHER,
    V_OTHER_PTR,
    VEHICLES,
    ZONE_TAIL,
    ZONES,
)


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
def _partner(T: I32, G: I32, unit: int) -> int:
    """Return the unit of the departure of a vehicle, or of the vehicle of a departure; -1 for none."""
    if unit < T[VEHICLES]:
        departure = G[T[G_DEPARTURE] + unit]
        return int(T[VEHICLES] + departure) if departure >= 0 else -1
    return int(G[T[G_VEHICLE] + unit - T[VEHICLES]])


@compiled
def _keep_eyes_apart(T: I32, G: I32, D: I32, U: I32) -> None:
    """Take out whole what would keep a task that may not share its people with one that is taken out."""
    for unit in range(T[VEHICLES] + T[DEPARTURES]):
        cut, row = U[unit * UNIT_ROW + CUT], row_of_unit(T, unit)
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
        row = row_of_unit(T, unit)
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
