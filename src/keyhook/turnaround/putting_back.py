# ruff: noqa: N803, PLR0913, PLR0917, PLR2004, C901
# T, S, G, D, N, L, K, U, W and R are arrays of the layout; the shares with which moves choose are plain numbers.
"""Putting tasks back into the state of a plan, each as early as it fits, and laying down whole plans, compiled."""

from __future__ import annotations

from keyhook.turnaround.calling import is_called_for, set_ready, vehicle_for
from keyhook.turnaround.chance import below, draw
from keyhook.turnaround.choosing import CHANGED, CUT, SOONER, UNIT_ROW, row_of_unit, unit_of_departure, unit_of_vehicle
from keyhook.turnaround.compiled import compiled, inlined
from keyhook.turnaround.counting import begin, count_levels, note_leaving
from keyhook.turnaround.crews import is_barred, minutes_of, too_long
from keyhook.turnaround.entering import enter_person, enter_spot
from keyhook.turnaround.free_minutes import person_free, spot_free
from keyhook.turnaround.helping import mode_of
from keyhook.turnaround.kernel import place_task
from keyhook.turnaround.layout import (
    ACROSS,
    ACROSS_FROM,
    ACROSS_LAG,
    BOUND,
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
    MINUTES,
    MODE,
    MODE_FIRST,
    MODE_LAST,
    MODE_ROW,
    NEVER,
    OWN,
    OWN_FIRST,
    OWN_LAST,
    PEOPLE,
    POSTPONE,
    REST,
    S_LEAVE,
    S_PERSON,
    S_PERSON_ROW,
    SERVES,
    SKILL_FIRST,
    SKILL_LAST,
    SKILLED,
    SKILLED_ROW,
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
from keyhook.turnaround.moves import ask_for_anybody

#: In which order tasks are put back.
AS_THEY_STOOD, BY_DUE, BY_HELD = range(3)


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
    return int(T[T[DEPARTURE] + departure * DEPARTURE_ROW + DUE] - T[row + REST] - minutes)


@compiled
def line_up(T: I32, D: I32, N: I32, U: I32, L: I32, K: I32, count: int, by: int, shake: float, R: U64) -> None:
    """Sort what is put back: by where it stood, when it has to begin, or where people hold it.

    Sooner or later by the minutes of its unit, and each task by up to ``shake`` minutes by chance.
    """
    for k in range(count):
        task = L[k]
        row = T[TASK] + task * TASK_ROW
        unit = unit_of_departure(T, T[row + SERVES]) if T[row + SERVES] >= 0 else unit_of_vehicle(T[row + BOUND])
        stood = D[task * T[D_ROW] + D_START]
        told = T[T[HELD] + task * T[HELD_ROW] + HELD_START]
        if by == BY_HELD and told >= 0:
            stood = told
        elif by == BY_DUE or stood < 0 or U[unit + CHANGED] == 1:
            stood = _due_for(T, N, task)
        key, j = stood - U[unit + SOONER], k
        if shake > 0.0:
            key += int(shake * (draw(R) - 0.5))
        while j > 0 and K[j - 1] > key:
            K[j], L[j] = K[j - 1], L[j - 1]
            j -= 1
        K[j], L[j] = key, task


@inlined
def can_do(T: I32, mode: int, person: int) -> bool:
    """Return whether a person has the skill of a mode."""
    for k in range(T[mode + SKILL_FIRST], T[mode + SKILL_LAST]):
        if T[T[SKILLED] + k * SKILLED_ROW + WHO] == person:
            return True
    return False


@compiled
def ask_for_held(T: I32, N: I32, task: int) -> None:
    """Ask for the minute people hold, and for their people in the way that needs as many, if they can."""
    row, held, gene = T[TASK] + task * TASK_ROW, T[HELD] + task * T[HELD_ROW], T[G_TASK] + task * T[G_ROW]
    if T[held + HELD_START] < 0:
        return
    N[gene + G_KEEP] = 1
    crew = 0
    while crew < T[CREW_MAX] and T[held + HELD_CREW + crew] >= 0:
        crew += 1
    for number in range(T[row + MODE_LAST] - T[row + MODE_FIRST]):
        mode, able = T[MODE] + (T[row + MODE_FIRST] + number) * T[MODE_ROW], 0
        if T[mode + CREW] != crew:
            continue
        for slot in range(crew):
            able += 1 if can_do(T, mode, T[held + HELD_CREW + slot]) else 0
        if able == crew:
            N[gene + G_MODE], N[gene + G_FIRM] = number, 0
            for slot in range(T[CREW_MAX]):
                N[gene + G_WISH + slot] = T[held + HELD_CREW + slot]
            return


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
            ask_for_held(T, N, task)
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
def count_kept(T: I32, S: I32, N: I32, D: I32, C: I64, U: I32) -> None:
    """Count in ``C[0]`` what the allotment and everything not taken out cost."""
    C[0] = 0
    for unit in range(T[VEHICLES] + T[DEPARTURES]):
        if U[unit * UNIT_ROW + CUT] == NEVER:
            continue
        row = row_of_unit(T, unit)
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
def keeps_across(T: I32, D: I32) -> bool:
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
def count_last(T: I32, S0: I32, S: I32, D: I32) -> None:
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
            if D[slot] < 0 or person_free(T, S, D[slot], start, end - start) > start:
                return False  # also where a gap was closed because there are too many pieces
            enter_person(T, S, D[slot], start, end)
        if end != start + minutes_of(T, D, task, mode):
            return False
        enter_spot(T, S, task, vehicle, start, end)
        note_leaving(T, S, G, C, task, vehicle, end)
    count_levels(T, S, G, D, C)
    return True


@inlined
def _stands(T: I32, S: I32, G: I32, D: I32, task: int, vehicle: int, mode: int) -> bool:
    """Return whether a task can be entered with the minute and the people in the outcome."""
    lain = task * T[D_ROW]
    start = D[lain + D_START]
    if start < 0 or set_ready(T, G, D, task, vehicle) >= 0 or D[lain + D_READY] > start:
        return False
    for slot in range(lain + D_CREW, lain + D_CREW + T[mode + CREW]):
        if D[slot] < 0 or not can_do(T, mode, D[slot]) or is_barred(T, D, task, vehicle, D[slot]):
            return False
    length = minutes_of(T, D, task, mode)
    D[lain + D_END] = start + length
    if spot_free(T, S, task, vehicle, start, length) > start:
        return False
    for slot in range(lain + D_CREW, lain + D_CREW + T[mode + CREW]):
        if person_free(T, S, D[slot], start, length) > start:
            return False
    return True


@compiled
def lay_held(T: I32, S: I32, G: I32, D: I32, C: I64, W: I32, L: I32) -> bool:
    """Enter into a blank state what still stands of the plan people hold, then lay the rest around it.

    The outcome has minutes and people as they are held; the genes ask for them in the order of their minutes.
    False when something fits nowhere.
    """
    begin(T, S, G, D, C)
    count = 0
    for k in range(T[TASKS]):
        task = G[k]
        lain = task * T[D_ROW]
        if T[T[TASK] + task * TASK_ROW + FIXED] == 1:
            continue
        called, vehicle, mode = is_called_for(T, G, task), vehicle_for(T, G, task), mode_of(T, G, task)
        if not called or not _stands(T, S, G, D, task, vehicle, mode):
            for slot in range(lain + D_CREW, lain + D_CREW + T[CREW_MAX]):
                D[slot] = -1
            D[lain + D_START] = -1
            if called:
                L[count] = task
                count += 1
            continue
        for slot in range(lain + D_CREW, lain + D_CREW + T[mode + CREW]):
            enter_person(T, S, D[slot], D[lain + D_START], D[lain + D_END])
        enter_spot(T, S, task, vehicle, D[lain + D_START], D[lain + D_END])
        note_leaving(T, S, G, C, task, vehicle, D[lain + D_END])
    if not put_back(T, S, G, D, C, W, L, count, 1 << 60):
        return False
    count_levels(T, S, G, D, C)
    return True


@compiled
def put_off_one(T: I32, G: I32, D: I32) -> bool:
    """Put off the departure with most minutes outside everybody's hours; False when none of those may be put off."""
    worst, most = -1, 0
    for departure in range(T[DEPARTURES]):
        row, vehicle = T[DEPARTURE] + departure * DEPARTURE_ROW, G[T[G_VEHICLE] + departure]
        if vehicle < 0 or T[row + POSTPONE] < 0:
            continue
        outside = _outside_of(T, G, D, row) + _outside_of(T, G, D, T[VEHICLE] + vehicle * VEHICLE_ROW)
        if outside > most:
            worst, most = departure, outside
    if worst < 0:
        return False
    G[T[G_DEPARTURE] + G[T[G_VEHICLE] + worst]] = -1
    G[T[G_VEHICLE] + worst] = -1
    return True


@inlined
def _outside_of(T: I32, G: I32, D: I32, row: int) -> int:
    """Return the minutes outside everybody's hours of the tasks of a vehicle or a departure."""
    outside = 0
    for k in range(T[row + OWN_FIRST], T[row + OWN_LAST]):
        task = T[T[OWN] + k]
        if D[task * T[D_ROW] + D_START] >= 0 and T[T[TASK] + task * TASK_ROW + FIXED] == 0:
            outside += too_long(T, D, task, T[mode_of(T, G, task) + CREW], D[task * T[D_ROW] + D_END])
    return outside
