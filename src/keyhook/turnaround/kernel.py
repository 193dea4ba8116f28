"""The serial schedule, compiled: tasks one by one in the order of the genes, each as early as it fits.

Numbered steps (``docs/theory/turnaround.md`` works an example by hand):

1. Take the next task of the order. If it waits for tasks that have no time yet, give those theirs first.
2. Its ready minute is the latest of its release, its vehicle's arrival and what it waits for, with lags.
3. Find the earliest minute, not before the ready minute, at which zones and place are free and enough
   people with the skill are free for as long as the slowest of them needs, without losing a break.
   Gaps between earlier placed tasks count as free: a late task in the order may begin early in the day.
4. Of people who would finish first take the least versatile.
5. Enter the task everywhere and note by when its departure can leave at best. When the lateness so known
   is already above what the caller would accept, stop.

``T``, ``S``, ``G`` and ``D`` are laid out in :mod:`keyhook.turnaround.layout`.
"""

from __future__ import annotations

import numba

from keyhook.turnaround.layout import (
    ARRIVES,
    BEFORE,
    BEFORE_LAG,
    BEFORE_PTR,
    BOUND,
    BREAK_FIRST,
    BREAK_LAST,
    BREAK_LENGTH,
    BREAK_PTR,
    CLOSING,
    COUNTS,
    CREW,
    CREW_MAX,
    D_CAUSE,
    D_CREW,
    D_END,
    D_READY,
    D_START,
    DEPARTURES,
    DUE,
    FIXED,
    G_DEPARTURE,
    G_KEEP,
    G_MODE,
    G_VEHICLE,
    G_WISH,
    HELD_CREW,
    HELD_START,
    I32,
    I64,
    LEAVING,
    MINUTES,
    MODE_PTR,
    NEVER,
    OTHER,
    OTHER_PTR,
    PEOPLE,
    PERSON_ROW,
    PLACE,
    PLACE_ROW,
    PLACE_TAIL,
    POSTPONE,
    RELEASE,
    REST,
    ROW,
    S_LEAVE,
    S_PERSON_FROM,
    S_PERSON_LAST,
    S_PERSON_N,
    S_PERSON_TO,
    S_PLACE_AT,
    S_PLACE_N,
    S_PLACE_USED,
    S_REST_AT,
    S_VEHICLE_FROM,
    S_VEHICLE_N,
    S_VEHICLE_TO,
    S_VEHICLE_ZONES,
    SERVES,
    SHIFT_END,
    SKILL,
    SKILL_PTR,
    SKILLED,
    SLOTS,
    SUITS,
    TASKS,
    TOLERANCE,
    TOUCHES,
    USE,
    V_BEFORE,
    V_BEFORE_LAG,
    V_BEFORE_PTR,
    V_OTHER,
    V_OTHER_PTR,
    VEHICLE_ROW,
    VEHICLES,
    WEIGHT,
    ZONE_TAIL,
    ZONES,
)

#: What :func:`decode` returns when a task fits nowhere, and when the lateness passed the limit.
NO_ROOM, TOO_LATE = -1, -2


@numba.njit(cache=True, forceinline=True)
def _person_gap(T: I32, S: I32, person: int, minute: int, length: int) -> int:
    """Return the first minute from ``minute`` on at which a person has ``length`` free minutes."""
    first = person * T[PERSON_ROW]
    begins, ends = T[S_PERSON_FROM] + first, T[S_PERSON_TO] + first
    n = S[T[S_PERSON_N] + person]
    k = n
    while k > 0 and S[ends + k - 1] > minute:
        k -= 1
    while k < n and S[begins + k] < minute + length:
        minute = S[ends + k]
        k += 1
    return minute


@numba.njit(cache=True)
def person_free(T: I32, S: I32, person: int, minute: int, length: int) -> int:
    """Return the first minute from ``minute`` on at which a person has ``length`` free and keeps every break."""
    while True:
        minute = _person_gap(T, S, person, minute, length)
        if minute >= NEVER:
            return NEVER
        pushed = False
        for b in range(T[T[BREAK_PTR] + person], T[T[BREAK_PTR] + person + 1]):
            rest, whole = S[T[S_REST_AT] + b], T[T[BREAK_LENGTH] + b]
            if rest < 0 or minute + length <= rest or rest + whole <= minute:
                continue
            if _person_gap(T, S, person, minute + length, whole) > T[T[BREAK_LAST] + b]:
                minute = rest + whole
                pushed = True
                break
        if not pushed:
            return minute


@numba.njit(cache=True, forceinline=True)
def _place_free(T: I32, S: I32, place: int, room: int, minute: int, length: int) -> int:
    """Return the first minute from ``minute`` on at which a place never holds more than ``room`` for ``length``."""
    first = place * T[PLACE_ROW]
    steps, used = T[S_PLACE_AT] + first, T[S_PLACE_USED] + first
    n = S[T[S_PLACE_N] + place]
    k = n - 1
    while S[steps + k] > minute:
        k -= 1
    while k < n and S[steps + k] < minute + length:
        if S[used + k] > room:
            minute = S[steps + k + 1]
        k += 1
    return minute


@numba.njit(cache=True, forceinline=True)
def _zones_free(T: I32, S: I32, vehicle: int, mask: int, minute: int, length: int) -> int:
    """Return the first minute from ``minute`` on at which the zones of a vehicle are free for ``length``."""
    row = vehicle * T[VEHICLE_ROW]
    begins, ends, zones = T[S_VEHICLE_FROM] + row, T[S_VEHICLE_TO] + row, T[S_VEHICLE_ZONES] + row
    for k in range(S[T[S_VEHICLE_N] + vehicle]):
        if S[begins + k] >= minute + length:
            break
        if S[ends + k] > minute and S[zones + k] & mask:
            minute = S[ends + k]
    return minute


@numba.njit(cache=True)
def spot_free(T: I32, S: I32, task: int, vehicle: int, minute: int, length: int) -> int:
    """Return the first minute from ``minute`` on at which both the zones and the place of a task are free."""
    place, mask = T[T[PLACE] + task], T[T[ZONES] + task]
    while True:
        asked = minute
        if vehicle >= 0 and mask:
            minute = _zones_free(T, S, vehicle, mask, minute, length + T[T[ZONE_TAIL] + task])
        if place >= 0:
            room = T[T[SLOTS] + place] - T[T[USE] + task]
            minute = _place_free(T, S, place, room, minute, length + T[T[PLACE_TAIL] + task])
        if minute == asked:
            return minute


@numba.njit(cache=True, forceinline=True)
def _did(T: I32, D: I32, task: int, person: int) -> bool:
    first = T[D_CREW] + task * T[CREW_MAX]
    for slot in range(T[CREW_MAX]):
        if D[first + slot] == person:
            return True
    return False


@numba.njit(cache=True)
def _is_barred(T: I32, D: I32, task: int, vehicle: int, person: int) -> bool:
    """Return whether a person has done what this task needs other eyes for."""
    for link in range(T[T[OTHER_PTR] + task], T[T[OTHER_PTR] + task + 1]):
        if _did(T, D, T[T[OTHER] + link], person):
            return True
    row = T[T[ROW] + task]
    if row >= 0 and vehicle >= 0:
        pair = T[V_OTHER_PTR] + row * T[VEHICLES] + vehicle
        for link in range(T[pair], T[pair + 1]):
            if _did(T, D, T[T[V_OTHER] + link], person):
                return True
    return False


@numba.njit(cache=True, forceinline=True)
def _is_asked_for(T: I32, G: I32, task: int, person: int) -> bool:
    first = T[G_WISH] + task * T[CREW_MAX]
    for slot in range(T[CREW_MAX]):
        if G[first + slot] == person:
            return True
    return False


@numba.njit(cache=True)
def _one_person(T: I32, S: I32, G: I32, D: I32, task: int, vehicle: int, mode: int, minute: int, asked: bool) -> int:
    """Write who finishes a one-person task first into its crew; return when they begin (NEVER: nobody can)."""
    best_start, best_end = NEVER, NEVER
    skill = T[SKILL_PTR] + T[T[SKILL] + mode]
    picky = T[T[ROW] + task] >= 0 or T[T[OTHER_PTR] + task] < T[T[OTHER_PTR] + task + 1]
    for k in range(T[skill], T[skill + 1]):
        person = T[T[SKILLED] + k]
        length = T[T[MINUTES] + mode * T[PEOPLE] + person]
        if minute + length >= best_end or (asked and not _is_asked_for(T, G, task, person)):
            continue
        if picky and _is_barred(T, D, task, vehicle, person):
            continue
        start = minute
        while start + length < best_end:
            free = person_free(T, S, person, start, length)
            if free + length >= best_end:
                break
            start = spot_free(T, S, task, vehicle, free, length)
            if start == free:
                best_start, best_end = start, start + length
                D[T[D_CREW] + task * T[CREW_MAX]] = person
    return best_start


@numba.njit(cache=True)
def _crew(T: I32, S: I32, G: I32, D: I32, W: I32, task: int, vehicle: int, mode: int, minute: int, asked: bool) -> int:
    """Write a crew of two or more into the outcome; return when it begins (NEVER: there is none).

    ``W`` takes the minute from which each person of the skill is free.
    """
    skill, size = T[SKILL_PTR] + T[T[SKILL] + mode], T[T[CREW] + mode]
    first, last = T[skill], T[skill + 1]
    while minute < NEVER:
        found, soonest = 0, NEVER
        for k in range(first, last):
            person = T[T[SKILLED] + k]
            free = NEVER
            if not (asked and not _is_asked_for(T, G, task, person)) and not _is_barred(T, D, task, vehicle, person):
                free = person_free(T, S, person, minute, T[T[MINUTES] + mode * T[PEOPLE] + person])
            W[k - first] = free
            if free == minute:
                found += 1
            elif free < soonest:
                soonest = free
        if found < size:
            minute = soonest
            continue
        length = _quickest(T, D, W, task, mode, minute, size)
        spot = spot_free(T, S, task, vehicle, minute, length)
        late = spot
        for slot in range(size):
            late = max(late, person_free(T, S, D[T[D_CREW] + task * T[CREW_MAX] + slot], minute, length))
        if late == minute:
            return minute
        minute = min(late, soonest) if spot == minute else late
    return NEVER


@numba.njit(cache=True, forceinline=True)
def _quickest(T: I32, D: I32, W: I32, task: int, mode: int, minute: int, size: int) -> int:
    """Write the quickest people free at ``minute`` into the crew of a task; return how long they take."""
    skill, length = T[SKILL_PTR] + T[T[SKILL] + mode], 0
    first, minutes = T[skill], T[MINUTES] + mode * T[PEOPLE]
    for slot in range(size):
        best, shortest = -1, NEVER
        for k in range(first, T[skill + 1]):
            if W[k - first] == minute and T[minutes + T[T[SKILLED] + k]] < shortest:
                best, shortest = k, T[minutes + T[T[SKILLED] + k]]
        D[T[D_CREW] + task * T[CREW_MAX] + slot] = T[T[SKILLED] + best]
        W[best - first] = NEVER
        length = max(length, shortest)
    return length


@numba.njit(cache=True, forceinline=True)
def _enter_person(T: I32, S: I32, person: int, start: int, end: int) -> None:
    row = person * T[PERSON_ROW]
    begins, ends = T[S_PERSON_FROM] + row, T[S_PERSON_TO] + row
    k = S[T[S_PERSON_N] + person]
    S[T[S_PERSON_N] + person] = k + 1
    while k > 0 and S[begins + k - 1] > start:
        S[begins + k] = S[begins + k - 1]
        S[ends + k] = S[ends + k - 1]
        k -= 1
    S[begins + k] = start
    S[ends + k] = end
    if end > S[T[S_PERSON_LAST] + person]:
        S[T[S_PERSON_LAST] + person] = end
    for b in range(T[T[BREAK_PTR] + person], T[T[BREAK_PTR] + person + 1]):
        rest, whole = S[T[S_REST_AT] + b], T[T[BREAK_LENGTH] + b]
        if rest >= 0 and start < rest + whole and rest < end:
            S[T[S_REST_AT] + b] = _person_gap(T, S, person, T[T[BREAK_FIRST] + b], whole)


@numba.njit(cache=True, forceinline=True)
def _step_at(T: I32, S: I32, place: int, minute: int) -> int:
    """Return the step of a place that begins at ``minute``; put one in when there is none."""
    row = place * T[PLACE_ROW]
    steps, used = T[S_PLACE_AT] + row, T[S_PLACE_USED] + row
    n = S[T[S_PLACE_N] + place]
    k = n - 1
    while S[steps + k] > minute:
        k -= 1
    if S[steps + k] == minute:
        return k
    for j in range(n, k + 1, -1):
        S[steps + j] = S[steps + j - 1]
        S[used + j] = S[used + j - 1]
    S[steps + k + 1] = minute
    S[used + k + 1] = S[used + k]
    S[T[S_PLACE_N] + place] = n + 1
    return k + 1


@numba.njit(cache=True, forceinline=True)
def _enter_spot(T: I32, S: I32, task: int, vehicle: int, start: int, end: int) -> None:
    place, mask = T[T[PLACE] + task], T[T[ZONES] + task]
    if place >= 0:
        first = _step_at(T, S, place, start)
        last = _step_at(T, S, place, end + T[T[PLACE_TAIL] + task])
        used = T[S_PLACE_USED] + place * T[PLACE_ROW]
        for k in range(first, last):
            S[used + k] += T[T[USE] + task]
    if vehicle >= 0 and mask:
        row = vehicle * T[VEHICLE_ROW]
        begins, ends, zones = T[S_VEHICLE_FROM] + row, T[S_VEHICLE_TO] + row, T[S_VEHICLE_ZONES] + row
        k = S[T[S_VEHICLE_N] + vehicle]
        S[T[S_VEHICLE_N] + vehicle] = k + 1
        while k > 0 and S[begins + k - 1] > start:
            S[begins + k] = S[begins + k - 1]
            S[ends + k] = S[ends + k - 1]
            S[zones + k] = S[zones + k - 1]
            k -= 1
        S[begins + k] = start
        S[ends + k] = end + T[T[ZONE_TAIL] + task]
        S[zones + k] = mask


@numba.njit(cache=True, forceinline=True)
def vehicle_for(T: I32, G: I32, task: int) -> int:
    """Return the vehicle a task is done on, -1 for none."""
    departure = T[T[SERVES] + task]
    return G[T[G_VEHICLE] + departure] if departure >= 0 else T[T[BOUND] + task]


@numba.njit(cache=True, forceinline=True)
def is_called_for(T: I32, G: I32, task: int) -> bool:
    """Return whether the allotment in the genes calls for a task."""
    departure = T[T[SERVES] + task]
    if departure >= 0:
        return G[T[G_VEHICLE] + departure] >= 0
    return T[T[LEAVING] + task] == 0 or G[T[G_DEPARTURE] + T[T[BOUND] + task]] >= 0


@numba.njit(cache=True)
def _set_ready(T: I32, G: I32, D: I32, task: int, vehicle: int) -> int:
    """Write when a task is ready and why; return a task that has to have its time first, -1 when none."""
    ready, cause = T[T[RELEASE] + task], -1
    if T[T[TOUCHES] + task] == 1 and vehicle >= 0:
        ready = max(ready, T[T[ARRIVES] + vehicle])
    for link in range(T[T[BEFORE_PTR] + task], T[T[BEFORE_PTR] + task + 1]):
        other = T[T[BEFORE] + link]
        if D[T[D_START] + other] < 0:
            if is_called_for(T, G, other):
                return other
        elif D[T[D_END] + other] + T[T[BEFORE_LAG] + link] > ready:
            ready, cause = D[T[D_END] + other] + T[T[BEFORE_LAG] + link], other
    for link in range(T[T[OTHER_PTR] + task], T[T[OTHER_PTR] + task + 1]):
        other = T[T[OTHER] + link]
        if D[T[D_START] + other] < 0 and is_called_for(T, G, other):
            return other
    row = T[T[ROW] + task]
    if row >= 0 and vehicle >= 0:
        pair = row * T[VEHICLES] + vehicle
        for link in range(T[T[V_BEFORE_PTR] + pair], T[T[V_BEFORE_PTR] + pair + 1]):
            other = T[T[V_BEFORE] + link]
            if D[T[D_START] + other] < 0:
                return other
            if D[T[D_END] + other] + T[T[V_BEFORE_LAG] + link] > ready:
                ready, cause = D[T[D_END] + other] + T[T[V_BEFORE_LAG] + link], other
        for link in range(T[T[V_OTHER_PTR] + pair], T[T[V_OTHER_PTR] + pair + 1]):
            if D[T[D_START] + T[T[V_OTHER] + link]] < 0:
                return T[T[V_OTHER] + link]
    D[T[D_READY] + task] = ready
    D[T[D_CAUSE] + task] = cause
    return -1


@numba.njit(cache=True)
def _find_start(T: I32, S: I32, G: I32, D: I32, W: I32, task: int, vehicle: int, mode: int) -> int:
    """Write the crew of a ready task and return its start (steps 3 and 4); NEVER when it fits nowhere."""
    minute = D[T[D_READY] + task]
    if G[T[G_KEEP] + task] == 1:
        minute = max(minute, T[T[HELD_START] + task])
    size, start = T[T[CREW] + mode], NEVER
    minute = spot_free(T, S, task, vehicle, minute, T[T[MINUTES] + mode * T[PEOPLE]] if size == 0 else 1)
    if size == 0:
        return minute
    asked = G[T[G_WISH] + task * T[CREW_MAX]] >= 0
    while start >= NEVER:
        if size == 1:
            start = _one_person(T, S, G, D, task, vehicle, mode, minute, asked)
        else:
            start = _crew(T, S, G, D, W, task, vehicle, mode, minute, asked)
        if not asked:
            break
        asked = False
    return start


@numba.njit(cache=True)
def _place_task(T: I32, S: I32, G: I32, D: I32, W: I32, task: int, vehicle: int) -> bool:
    """Give a ready task its people and minutes and enter it everywhere; False when it fits nowhere."""
    mode = T[T[MODE_PTR] + task] + G[T[G_MODE] + task]
    crew, size = T[D_CREW] + task * T[CREW_MAX], T[T[CREW] + mode]
    for slot in range(T[CREW_MAX]):
        D[crew + slot] = -1
    start = _find_start(T, S, G, D, W, task, vehicle, mode)
    if start >= NEVER:
        return False
    length = T[T[MINUTES] + mode * T[PEOPLE]] if size == 0 else 0
    for slot in range(size):
        length = max(length, T[T[MINUTES] + mode * T[PEOPLE] + D[crew + slot]])
    end = start + length
    if end > T[CLOSING]:
        return False
    for slot in range(size):
        _enter_person(T, S, D[crew + slot], start, end)
    _enter_spot(T, S, task, vehicle, start, end)
    D[T[D_START] + task] = start
    D[T[D_END] + task] = end
    return True


@numba.njit(cache=True, forceinline=True)
def _note_leaving(T: I32, S: I32, G: I32, C: I64, task: int, vehicle: int, end: int) -> None:
    """Raise what is known of when the departure of a task leaves, and the lateness of the day in ``C``."""
    departure = T[T[SERVES] + task]
    if departure < 0 and vehicle >= 0:
        departure = G[T[G_DEPARTURE] + vehicle]
    if departure < 0 or (T[T[COUNTS] + task] == 0 and T[T[REST] + task] == 0):
        return
    leaves, known, due = end + T[T[REST] + task], S[T[S_LEAVE] + departure], T[T[DUE] + departure]
    if leaves > known:
        C[0] += T[T[WEIGHT] + departure] * (max(0, leaves - due) - max(0, known - due))
        S[T[S_LEAVE] + departure] = leaves


@numba.njit(cache=True)
def begin(T: I32, S: I32, G: I32, D: I32, C: I64) -> None:
    """Count in ``C[0]`` what the allotment costs before any task has its time: put off, or fixed late."""
    C[0] = 0
    for departure in range(T[DEPARTURES]):
        if G[T[G_VEHICLE] + departure] < 0:
            C[0] += T[T[POSTPONE] + departure]
        else:
            C[0] += T[T[WEIGHT] + departure] * max(0, S[T[S_LEAVE] + departure] - T[T[DUE] + departure])
    for task in range(T[TASKS]):
        if T[T[FIXED] + task] == 1:
            _note_leaving(T, S, G, C, task, vehicle_for(T, G, task), D[T[D_END] + task])


@numba.njit(cache=True)
def decode_from(
    T: I32,
    S: I32,
    G: I32,
    D: I32,
    C: I64,
    W: I32,
    order: I32,
    first: int,
    limit: int,
    shots: I32,
    costs: I64,
    every: int,
) -> int:
    """Give times to the tasks of the order from position ``first`` on; positions before it have theirs.

    ``order`` takes every task as it comes up (those called for earlier before those that called), so that
    it is an order from which the same plan is decoded without calling. With ``every`` above 0 the state
    before each such number of positions is kept in ``shots``, and its cost in ``costs``.

    Returns
    -------
    The length of the order; ``NO_ROOM`` when a task fits nowhere; ``TOO_LATE`` when lateness passed ``limit``.
    """
    count, placed, vehicle = T[TASKS], first, -1
    stack, people = W[: count + 1], W[count + 1 :]
    for k in range(first, count):
        if D[T[D_START] + G[k]] >= 0 and T[T[FIXED] + G[k]] == 0:
            continue
        stack[0] = G[k]
        depth = 1
        while depth > 0:
            task = stack[depth - 1]
            idle = T[T[FIXED] + task] == 1 or not is_called_for(T, G, task)
            if not idle:
                vehicle = vehicle_for(T, G, task)
                call = _set_ready(T, G, D, task, vehicle)
                if call >= 0:
                    stack[depth] = call
                    depth += 1
                    continue
            if every > 0 and placed % every == 0:
                shots[placed // every, :] = S
                costs[placed // every] = C[0]
            if not idle:
                if not _place_task(T, S, G, D, people, task, vehicle):
                    return NO_ROOM
                _note_leaving(T, S, G, C, task, vehicle, D[T[D_END] + task])
                if C[0] > limit:
                    return TOO_LATE
            order[placed] = task
            placed += 1
            depth -= 1
    return placed


@numba.njit(cache=True)
def count_levels(T: I32, S: I32, G: I32, D: I32, C: I64) -> None:
    """Write the levels below lateness of a finished plan into ``C``."""
    C[1], C[2], C[3] = 0, 0, 0
    for departure in range(T[DEPARTURES]):
        vehicle = G[T[G_VEHICLE] + departure]
        if vehicle >= 0:
            C[1] += T[T[SUITS] + departure * T[VEHICLES] + vehicle]
    for person in range(T[PEOPLE]):
        C[2] += max(0, S[T[S_PERSON_LAST] + person] - T[T[SHIFT_END] + person])
    for task in range(T[TASKS]):
        held, start = T[T[HELD_START] + task], D[T[D_START] + task]
        if held >= 0 and start >= 0:
            same = abs(start - held) <= T[TOLERANCE]
            for slot in range(T[CREW_MAX]):
                same = same and _holds(T, D, task, D[T[D_CREW] + task * T[CREW_MAX] + slot])
            C[3] += 0 if same and _crew_size(D, T[D_CREW], T, task) == _crew_size(T, T[HELD_CREW], T, task) else 1


@numba.njit(cache=True, forceinline=True)
def _holds(T: I32, D: I32, task: int, person: int) -> bool:
    if person < 0:
        return True
    first = T[HELD_CREW] + task * T[CREW_MAX]
    for slot in range(T[CREW_MAX]):
        if T[first + slot] == person:
            return True
    return False


@numba.njit(cache=True, forceinline=True)
def _crew_size(array: I32, begins: int, T: I32, task: int) -> int:
    size = 0
    for slot in range(T[CREW_MAX]):
        size += 1 if array[begins + task * T[CREW_MAX] + slot] >= 0 else 0
    return size
