# ruff: noqa: N803, PLR0913, PLR0917, C901, SIM110
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

from keyhook.turnaround.compiled import compiled, inlined
from keyhook.turnaround.layout import (
    ARRIVES,
    BEFORE,
    BEFORE_FIRST,
    BEFORE_LAST,
    BOUND,
    BREAK,
    BREAK_FIRST,
    BREAK_LAST,
    BREAK_LENGTH,
    BREAK_ROW,
    BREAKS,
    CLOSING,
    COUNT,
    COUNTS,
    CREW,
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
    HELD_CREW,
    HELD_ROW,
    HELD_START,
    I32,
    I64,
    LAG,
    LAST,
    LEAVING,
    LINK,
    LINK_ROW,
    LINKED,
    MINUTES,
    MODE,
    MODE_FIRST,
    MODE_ROW,
    NEVER,
    OTHER,
    OTHER_FIRST,
    OTHER_LAST,
    OWN_PACE,
    PACE,
    PEOPLE,
    PERSON,
    PERSON_ROW,
    PLACE,
    PLACE_SLOTS,
    PLACE_TAIL,
    POSTPONE,
    RELEASE,
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
    SHIFT_END,
    SHIFT_LAST,
    SKILL_FIRST,
    SKILL_LAST,
    SKILLED,
    SKILLED_ROW,
    SUITS,
    TASK,
    TASK_ROW,
    TASKS,
    TOLERANCE,
    TOUCHES,
    USE,
    V_BEFORE,
    V_BEFORE_PTR,
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

#: What :func:`decode_from` returns when nobody could do a task, and when the lateness passed the limit.
NO_ROOM, TOO_LATE = -1, -2
#: What a minute outside somebody's hours counts in level one. A plan that costs as much is none.
OUTSIDE = 1 << 32


@inlined
def copy_over(into: I32 | I64, source: I32 | I64) -> None:
    """Copy one array over another of its length (a slice assignment would make a third)."""
    for k in range(len(source)):
        into[k] = source[k]


@inlined
def gap(S: I32, first: int, count: int, minute: int, length: int) -> int:
    """Return the first minute from ``minute`` on with ``length`` free minutes between stretches laid at ``first``."""
    k = first + 2 * (count - 1)
    while k >= first and S[k + 1] > minute:
        k -= 2
    k += 2
    last = first + 2 * count
    while k < last and S[k] < minute + length:
        minute = S[k + 1]
        k += 2
    return minute


@compiled
def person_free(T: I32, S: I32, person: int, minute: int, length: int) -> int:
    """Return the first minute from ``minute`` on at which a person has ``length`` free and keeps every break."""
    row, breaks = T[S_PERSON] + person * T[S_PERSON_ROW], T[BREAKS]
    first, count = row + REST_AT + breaks, S[row + COUNT]
    while True:
        minute = gap(S, first, count, minute, length)
        if minute >= NEVER:
            return NEVER
        pushed = False
        for b in range(breaks):
            rest = S[row + REST_AT + b]
            if rest < 0 or minute + length <= rest:
                continue
            owed = T[PERSON] + person * T[PERSON_ROW] + BREAK + b * BREAK_ROW
            whole = T[owed + BREAK_LENGTH]
            if rest + whole > minute and gap(S, first, count, minute + length, whole) > T[owed + BREAK_LAST]:
                minute = rest + whole
                pushed = True
                break
        if not pushed:
            return minute


@inlined
def _place_free(T: I32, S: I32, place: int, room: int, minute: int, length: int) -> int:
    """Return the first minute from ``minute`` on at which a place never holds more than ``room`` for ``length``."""
    row = T[S_PLACE] + place * T[S_PLACE_ROW]
    last = row + 1 + 2 * S[row + COUNT]
    k = last - 2
    while S[k] > minute:
        k -= 2
    while k < last and S[k] < minute + length:
        if S[k + 1] > room:
            minute = S[k + 2]
        k += 2
    return minute


@inlined
def _zones_free(T: I32, S: I32, vehicle: int, mask: int, minute: int, length: int) -> int:
    """Return the first minute from ``minute`` on at which the zones of a vehicle are free for ``length``."""
    row = T[S_VEHICLE] + vehicle * T[S_VEHICLE_ROW]
    for k in range(row + 1, row + 1 + 3 * S[row + COUNT], 3):
        if S[k] >= minute + length:
            break
        if S[k + 1] > minute and S[k + 2] & mask:
            minute = S[k + 1]
    return minute


@compiled
def spot_free(T: I32, S: I32, task: int, vehicle: int, minute: int, length: int) -> int:
    """Return the first minute from ``minute`` on at which both the zones and the place of a task are free."""
    row = T[TASK] + task * TASK_ROW
    place, mask = T[row + PLACE], T[row + ZONES]
    zoned = vehicle >= 0 and mask != 0
    while True:
        asked = minute
        if zoned:
            minute = _zones_free(T, S, vehicle, mask, minute, length + T[row + ZONE_TAIL])
        if place < 0:
            return minute
        room = T[T[PLACE_SLOTS] + place] - T[row + USE]
        minute = _place_free(T, S, place, room, minute, length + T[row + PLACE_TAIL])
        if minute == asked or not zoned:
            return minute


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


@inlined
def earliest_rest(T: I32, S: I32, person: int, number: int) -> int:
    """Return the first minute at which a break of a person fits among their work."""
    row = T[S_PERSON] + person * T[S_PERSON_ROW]
    owed = T[PERSON] + person * T[PERSON_ROW] + BREAK + number * BREAK_ROW
    return gap(S, row + REST_AT + T[BREAKS], S[row + COUNT], T[owed + BREAK_FIRST], T[owed + BREAK_LENGTH])


@compiled
def enter_person(T: I32, S: I32, person: int, start: int, end: int) -> bool:
    """Enter work of a person, joined with what it meets; False when that would cost them a break."""
    row, breaks = T[S_PERSON] + person * T[S_PERSON_ROW], T[BREAKS]
    first = row + REST_AT + breaks
    S[row + LAST] = max(end, S[row + LAST])
    k = first + 2 * S[row + COUNT]
    while S[k - 2] > start:
        k -= 2
    full = row + T[S_PERSON_ROW] - 2 < first + 2 * S[row + COUNT]
    if full and start > S[k - 1] and end < S[k]:
        if start - S[k - 1] < S[k] - end:
            start = S[k - 1]
        else:
            end = S[k]
    _join(S, row, first, k, start, end)
    for b in range(breaks):
        rest = S[row + REST_AT + b]
        owed = T[PERSON] + person * T[PERSON_ROW] + BREAK + b * BREAK_ROW
        if rest >= 0 and start < rest + T[owed + BREAK_LENGTH] and rest < end:
            S[row + REST_AT + b] = earliest_rest(T, S, person, b)
            if S[row + REST_AT + b] > T[owed + BREAK_LAST]:
                return False
    return True


@inlined
def _join(S: I32, row: int, first: int, k: int, start: int, end: int) -> None:
    """Put a stretch in at ``k``, joined with the one before and the one behind where they meet."""
    last = first + 2 * S[row + COUNT]
    if S[k - 1] >= start:
        if S[k] <= end:
            S[k - 1] = S[k + 1]
            for j in range(k, last - 2):
                S[j] = S[j + 2]
            S[row + COUNT] -= 1
        else:
            S[k - 1] = end
    elif S[k] <= end:
        S[k] = start
    else:
        for j in range(last - 1, k - 1, -1):
            S[j + 2] = S[j]
        S[k] = start
        S[k + 1] = end
        S[row + COUNT] += 1


@inlined
def step_at(T: I32, S: I32, place: int, minute: int) -> int:
    """Return where the step of a place stands that begins at ``minute``; put one in when there is none."""
    row = T[S_PLACE] + place * T[S_PLACE_ROW]
    last = row + 1 + 2 * S[row + COUNT]
    k = last - 2
    while S[k] > minute:
        k -= 2
    if S[k] == minute:
        return k
    for j in range(last, k + 2, -2):
        S[j] = S[j - 2]
        S[j + 1] = S[j - 1]
    S[k + 2] = minute
    S[k + 3] = S[k + 1]
    S[row + COUNT] += 1
    return k + 2


@inlined
def enter_spot(T: I32, S: I32, task: int, vehicle: int, start: int, end: int) -> None:
    """Enter the use of the place and of the zones of a task."""
    row = T[TASK] + task * TASK_ROW
    place, mask = T[row + PLACE], T[row + ZONES]
    if place >= 0:
        first = step_at(T, S, place, start)
        last = step_at(T, S, place, end + T[row + PLACE_TAIL])
        for k in range(first, last, 2):
            S[k + 1] += T[row + USE]
    if vehicle >= 0 and mask != 0:
        stays = T[S_VEHICLE] + vehicle * T[S_VEHICLE_ROW]
        k = stays + 1 + 3 * S[stays + COUNT]
        S[stays + COUNT] += 1
        while k > stays + 1 and S[k - 3] > start:
            S[k] = S[k - 3]
            S[k + 1] = S[k - 2]
            S[k + 2] = S[k - 1]
            k -= 3
        S[k] = start
        S[k + 1] = end + T[row + ZONE_TAIL]
        S[k + 2] = mask


@inlined
def vehicle_for(T: I32, G: I32, task: int) -> int:
    """Return the vehicle a task is done on, -1 for none."""
    row = T[TASK] + task * TASK_ROW
    return G[T[G_VEHICLE] + T[row + SERVES]] if T[row + SERVES] >= 0 else T[row + BOUND]


@inlined
def is_called_for(T: I32, G: I32, task: int) -> bool:
    """Return whether the allotment in the genes calls for a task."""
    row = T[TASK] + task * TASK_ROW
    if T[row + SERVES] >= 0:
        return G[T[G_VEHICLE] + T[row + SERVES]] >= 0
    return T[row + LEAVING] == 0 or G[T[G_DEPARTURE] + T[row + BOUND]] >= 0


@compiled
def set_ready(T: I32, G: I32, D: I32, task: int, vehicle: int) -> int:  # noqa: PLR0912  # one look at every link
    """Write when a task is ready and why; return a task that has to have its time first, -1 when none."""
    row, width = T[TASK] + task * TASK_ROW, T[D_ROW]
    ready, cause = T[row + RELEASE], -1
    if T[row + TOUCHES] == 1 and vehicle >= 0:
        ready = max(ready, T[T[VEHICLE] + vehicle * VEHICLE_ROW + ARRIVES])
    for link in range(T[row + BEFORE_FIRST], T[row + BEFORE_LAST]):
        other = T[T[BEFORE] + link * LINK_ROW + LINKED]
        if D[other * width + D_START] < 0:
            if is_called_for(T, G, other):
                return other
            continue
        over = D[other * width + D_END] + T[T[BEFORE] + link * LINK_ROW + LAG]
        if over > ready:
            ready, cause = over, other
    for link in range(T[row + OTHER_FIRST], T[row + OTHER_LAST]):
        other = T[T[OTHER] + link * LINK_ROW + LINKED]
        if D[other * width + D_START] < 0 and is_called_for(T, G, other):
            return other
    if T[row + LINK] >= 0 and vehicle >= 0:
        pair = T[row + LINK] * T[VEHICLES] + vehicle
        for link in range(T[T[V_BEFORE_PTR] + pair], T[T[V_BEFORE_PTR] + pair + 1]):
            other = T[T[V_BEFORE] + link * LINK_ROW + LINKED]
            if D[other * width + D_START] < 0:
                return other
            over = D[other * width + D_END] + T[T[V_BEFORE] + link * LINK_ROW + LAG]
            if over > ready:
                ready, cause = over, other
        for link in range(T[T[V_OTHER_PTR] + pair], T[T[V_OTHER_PTR] + pair + 1]):
            other = T[T[V_OTHER] + link * LINK_ROW + LINKED]
            if D[other * width + D_START] < 0:
                return other
    D[task * width + D_READY] = ready
    D[task * width + D_CAUSE] = cause
    return -1


@compiled
def _find_start(T: I32, S: I32, G: I32, D: I32, W: I32, task: int, vehicle: int, mode: int) -> int:
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
def _outside_hours(T: I32, S: I32, D: I32, task: int, vehicle: int, mode: int) -> int:
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


@compiled
def place_task(T: I32, S: I32, G: I32, D: I32, C: I64, W: I32, task: int, vehicle: int) -> bool:
    """Give a ready task its people and minutes and enter it everywhere; False when nobody could do it."""
    number = T[T[TASK] + task * TASK_ROW + MODE_FIRST] + G[T[G_TASK] + task * T[G_ROW] + G_MODE]
    mode = T[MODE] + number * T[MODE_ROW]
    crew, size = task * T[D_ROW] + D_CREW, T[mode + CREW]
    for slot in range(T[CREW_MAX]):
        D[crew + slot] = -1
    start = _find_start(T, S, G, D, W, task, vehicle, mode)
    inside = start < NEVER
    if not inside:
        start = _outside_hours(T, S, D, task, vehicle, mode)
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


@inlined
def note_leaving(T: I32, S: I32, G: I32, C: I64, task: int, vehicle: int, end: int) -> None:
    """Raise what is known of when the departure of a task leaves, and the lateness of the day in ``C``."""
    row = T[TASK] + task * TASK_ROW
    departure = T[row + SERVES]
    if departure < 0 and vehicle >= 0:
        departure = G[T[G_DEPARTURE] + vehicle]
    if departure < 0 or (T[row + COUNTS] == 0 and T[row + REST] == 0):
        return
    leaves, known = end + T[row + REST], S[T[S_LEAVE] + departure]
    if leaves > known:
        due = T[T[DEPARTURE] + departure * DEPARTURE_ROW + DUE]
        late = max(0, leaves - due) - max(0, known - due)
        C[0] += T[T[DEPARTURE] + departure * DEPARTURE_ROW + WEIGHT] * late
        S[T[S_LEAVE] + departure] = leaves


@compiled
def begin(T: I32, S: I32, G: I32, D: I32, C: I64) -> None:
    """Count in ``C[0]`` what the allotment costs before any task has its time: put off, or fixed late."""
    C[0] = 0
    for departure in range(T[DEPARTURES]):
        row = T[DEPARTURE] + departure * DEPARTURE_ROW
        if G[T[G_VEHICLE] + departure] < 0:
            C[0] += T[row + POSTPONE]
        else:
            C[0] += T[row + WEIGHT] * max(0, S[T[S_LEAVE] + departure] - T[row + DUE])
    for task in range(T[TASKS]):
        if T[T[TASK] + task * TASK_ROW + FIXED] == 1:
            note_leaving(T, S, G, C, task, vehicle_for(T, G, task), D[task * T[D_ROW] + D_END])


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


@inlined
def _same_crew(T: I32, D: I32, task: int) -> bool:
    held, sizes = T[HELD] + task * T[HELD_ROW] + HELD_CREW, 0
    for slot in range(T[CREW_MAX]):
        person = D[task * T[D_ROW] + D_CREW + slot]
        sizes += (1 if person >= 0 else 0) - (1 if T[held + slot] >= 0 else 0)
        found = person < 0
        for other in range(T[CREW_MAX]):
            found = found or T[held + other] == person
        if not found:
            return False
    return sizes == 0


@inlined
def is_moved(T: I32, D: I32, task: int) -> bool:
    """Return whether a task has another minute or other people than people hold."""
    told, start = T[T[HELD] + task * T[HELD_ROW] + HELD_START], D[task * T[D_ROW] + D_START]
    return told >= 0 and start >= 0 and not (abs(start - told) <= T[TOLERANCE] and _same_crew(T, D, task))


@compiled
def count_levels(T: I32, S: I32, G: I32, D: I32, C: I64) -> None:
    """Write the levels below lateness of a finished plan into ``C``."""
    C[1], C[2], C[3] = 0, 0, 0
    for departure in range(T[DEPARTURES]):
        vehicle = G[T[G_VEHICLE] + departure]
        if vehicle >= 0:
            C[1] += T[T[SUITS] + departure * T[VEHICLES] + vehicle]
    for person in range(T[PEOPLE]):
        last = S[T[S_PERSON] + person * T[S_PERSON_ROW] + LAST]
        C[2] += max(0, last - T[T[PERSON] + person * T[PERSON_ROW] + SHIFT_END])
    for task in range(T[TASKS]):
        C[3] += 1 if is_moved(T, D, task) else 0
