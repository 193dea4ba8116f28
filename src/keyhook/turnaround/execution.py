# ruff: noqa: C901
# Loops of compiled code are long where a call would cost more than the work.
"""One day carried out, compiled: whoever is free takes the next task that is ready, in the order of the plan.

An event loop over real minutes. Tasks stand in plan order and are bits of words, so that one pass over a few words
finds the first task that is ready, has somebody free with the skill, and has room at its place:

1. Take the next minute at which anything happens from the queue (buckets of a minute, found by their bits).
2. Settle all that happens then: hands, zones and places come free, tasks become ready, people go and come back.
3. Begin tasks in plan order while any can. One whose zones are taken is set aside until they come free.

Of people who are free those whom the plan names go first. A break begins when somebody is free for the first time
after its planned minute; nobody begins anything after the end of the longest overtime. When nothing can happen any
more and something is left, those who have gone stay on, and at last the second pair of eyes may be anybody's.

Nothing here allocates: :mod:`keyhook.turnaround.laid` makes the tables and the workspace. What can happen stands in
:mod:`keyhook.turnaround.happenings`.
"""

from __future__ import annotations

import numpy as np

from keyhook.turnaround.bits import lowest_bit
from keyhook.turnaround.compiled import compiled, inlined
from keyhook.turnaround.execution_tables import F32, F64, FAR, SPOT_FREE, ZONES_FREE, Tables, Work
from keyhook.turnaround.happenings import moment_passes, opens, push, settle_hands, settle_spots


@inlined
def hands_on(tables: Tables, work: Work, task: int) -> float:
    """Choose the people of a task, those whom the plan names first; return the pace of the slowest, -1 for too few."""
    kind, words = tables.hand[task], len(work.free)
    missing, slowest = tables.hand_crew[kind], 0.0
    if missing == 0:
        return 1.0
    for word in range(words):
        work.who[task, word] = 0
    for asked in (1, 0):
        for word in range(words):
            left = work.free[word] & tables.hand_people[kind, word] & ~work.who[task, word]
            if asked:
                left &= tables.asked[task, word]
            if work.stretched[0] < 2:  # noqa: PLR2004
                for k in range(tables.bar_ptr[task], tables.bar_ptr[task + 1]):
                    left &= ~work.who[tables.bars[k], word]
            while left and missing:
                person = (word << 6) + lowest_bit(left)
                work.who[task, word] |= left & -left
                left &= left - 1
                missing -= 1
                slowest = max(slowest, tables.pace[person])
        if missing == 0:
            return slowest
    for word in range(words):
        work.who[task, word] = 0
    return -1.0


@inlined
def begin(tables: Tables, work: Work, task: int, until: float) -> None:
    """Take hands, zones and slots for a task until it ends."""
    if tables.hand_crew[tables.hand[task]]:
        for word in range(len(work.free)):
            work.free[word] &= ~work.who[task, word]
        settle_hands(tables, work)
    hold(tables, work, task)
    work.ready[task >> 6] &= ~(np.int64(1) << (task & 63))
    push(work, task, until, tables.opening)


@inlined
def hold(tables: Tables, work: Work, task: int) -> None:
    """Take the zones and slots of a task."""
    if tables.of[task] >= 0:
        work.taken[tables.of[task]] |= tables.zones[task]
    kind = tables.spot[task]
    if kind >= 0:
        work.used[tables.spot_place[kind]] += tables.spot_use[kind]
        settle_spots(tables, work, tables.spot_place[kind])


@inlined
def begin_all(tables: Tables, work: Work, minute: float, took: F32, leaves: F64) -> int:
    """Begin, in plan order, every task that can begin now; return how many."""
    begun, look, again = 0, work.look[0], np.int64(0)
    for word in range(len(work.ready) if look else 0):
        if look >> (word & 63) & 1 == 0:
            continue
        seen = np.int64(0)
        while True:
            left = work.ready[word] & work.hand_ok[word] & work.spot_ok[word] & ~seen
            if left == 0:
                break
            task = (word << 6) + lowest_bit(left)
            seen |= left & -left
            if tables.of[task] >= 0 and tables.zones[task] & work.taken[tables.of[task]]:
                work.ready[word] &= ~(left & -left)
                work.parked[task] = 1
                continue
            slowest = hands_on(tables, work, task)
            if slowest < 0:
                again = np.int64(-1)
                continue
            until = minute + took[task] * slowest
            begin(tables, work, task, until)
            begun += 1
            if tables.leaves[task] >= 0:
                leaves[tables.leaves[task]] = max(leaves[tables.leaves[task]], until)
    work.look[0] = again
    return begun


@inlined
def lay_ready(tables: Tables, work: Work, arrive: F32, leaves: F64) -> int:
    """Set everything to the first minute; return how many tasks are to be begun."""
    tasks, offs, opening = len(tables.hand), len(tables.off_from), tables.opening
    work.filled[:], work.ready[:], work.hand_ok[:], work.spot_ok[:] = 0, 0, 0, -1
    work.hand_is[:], work.spot_is[:], work.taken[:], work.used[:] = 0, 1, 0, 0
    work.shut[:], work.free[:], work.parked[:], work.stretched[0] = 0, 0, 0, 0
    work.look[0] = -1
    work.who[:] = 0
    leaves[:] = opening
    shuts = len(tables.shut_place)
    for k in range(shuts):
        first = 4 * tasks + offs + len(tables.pace) + k
        push(work, first, max(opening, tables.shut_from[k]), opening)
        push(work, first + shuts, max(opening, tables.shut_to[k]), opening)
    for k in range(offs):
        if opening < tables.off_from[k] < FAR:
            push(work, 4 * tasks + k, tables.off_from[k], opening)
    for person in range(len(tables.pace)):
        work.off_at[person] = tables.off_ptr[person]
        push(work, 4 * tasks + offs + person, max(opening, tables.from_min[person]), opening)
    todo = 0
    for task in range(tasks):
        work.when[task] = FAR
        work.waiting[task] = tables.waiting[task]
        work.ready_min[task] = tables.release[task]
        if tables.touches[task] >= 0:
            work.ready_min[task] = max(work.ready_min[task], arrive[tables.touches[task]])
        if tables.end[task] < 0:
            todo += 1
            if work.waiting[task] == 0:
                opens(tables, work, task, opening)
        else:
            lay_settled(tables, work, task, leaves)
    return todo


@inlined
def lay_settled(tables: Tables, work: Work, task: int, leaves: F64) -> None:
    """Enter a task whose end is settled: it holds zones and slots until then; its people come free by themselves."""
    end, opening = tables.end[task], tables.opening
    if tables.leaves[task] >= 0:
        leaves[tables.leaves[task]] = max(leaves[tables.leaves[task]], end)
    if tables.of[task] >= 0 and tables.zones[task] and end + tables.zone_tail[task] > opening:
        work.taken[tables.of[task]] |= tables.zones[task]
        push(work, ZONES_FREE * len(tables.hand) + task, end + tables.zone_tail[task], opening)
    kind = tables.spot[task]
    if kind >= 0 and end + tables.place_tail[task] > opening:
        work.used[tables.spot_place[kind]] += tables.spot_use[kind]
        settle_spots(tables, work, tables.spot_place[kind])
        push(work, SPOT_FREE * len(tables.hand) + task, end + tables.place_tail[task], opening)


@inlined
def stretch_rules(tables: Tables, work: Work) -> None:
    """Let those who have gone stay on, and next time let anybody take the second look: else nothing can happen."""
    work.stretched[0] += 1
    work.look[0] = -1
    for person in range(len(tables.pace)):
        work.off_at[person] = tables.off_ptr[person + 1]
        work.free[person >> 6] |= np.int64(1) << (person & 63)
    settle_hands(tables, work)


@compiled
def carry_out(tables: Tables, work: Work, took: F32, arrive: F32, leaves: F64, ends: F64) -> None:
    """Run days.

    ``took`` is days x tasks [min at book pace], ``arrive`` days x vehicles [min of the day]. Into ``leaves`` (days x
    departures) goes the minute at which each departure leaves, ``FAR`` when something it needs could not begin. Into
    ``ends``, when it has as many rows, the end of each task.
    """
    for day in range(len(took)):
        left = lay_ready(tables, work, arrive[day], leaves[day])
        minute = tables.opening
        while left > 0:
            now = moment_passes(tables, work, minute)
            if now < 0:
                if work.stretched[0] == 2:  # noqa: PLR2004
                    break
                stretch_rules(tables, work)
            else:
                minute = now
            settle_hands(tables, work)
            left -= begin_all(tables, work, minute, took[day], leaves[day])
        for task in range(len(tables.hand) if left > 0 else 0):
            begun = tables.end[task] >= 0 or work.when[task] < FAR
            if tables.leaves[task] >= 0 and not begun:
                leaves[day, tables.leaves[task]] = FAR
        if len(ends) == len(took):
            for task in range(len(tables.hand)):
                ends[day, task] = work.when[task] if tables.end[task] < 0 else tables.end[task]
