# ruff: noqa: C901
# Loops of compiled code are long where a call would cost more than the work.
"""What can happen while a day is carried out, and the queue of it, compiled: steps 1 and 2 of the execution."""

from __future__ import annotations

import numpy as np

from keyhook.turnaround.bits import bits_set, lowest_bit
from keyhook.turnaround.compiled import inlined
from keyhook.turnaround.execution_tables import BUCKETS, FAR, IS_READY, KINDS, SPOT_FREE, ZONES_FREE, Tables, Work


@inlined
def push(work: Work, event: int, minute: float, opening: float) -> None:
    """Put an event into the queue."""
    bucket = min(BUCKETS - 1, max(0, int(minute - opening)))
    word, bit = bucket >> 6, np.int64(1) << (bucket & 63)
    work.when[event] = minute
    work.following[event] = work.head[bucket] if work.filled[word] & bit else -1
    work.head[bucket] = event
    work.filled[word] |= bit


@inlined
def next_bucket(work: Work, minute: float, opening: float) -> int:
    """Return the first bucket with an event, none of which lies before this minute, -1 when the queue is empty."""
    for word in range(min(BUCKETS - 1, int(minute - opening)) >> 6, BUCKETS >> 6):
        if work.filled[word]:
            return (word << 6) + lowest_bit(work.filled[word])
    return -1


@inlined
def stretch_begins(tables: Tables, work: Work, person: int, minute: float) -> None:
    """Set somebody free who has nothing in hand, or off for what is due and back later."""
    last = tables.off_ptr[person + 1]
    while work.off_at[person] < last and tables.off_from[work.off_at[person]] <= minute:
        at = work.off_at[person]
        work.off_at[person] += 1
        back = minute + tables.off_length[at] if tables.off_length[at] > 0 else tables.off_to[at]
        if back > minute and (back < FAR or work.stretched[0] == 0):
            if back < FAR:
                event = KINDS * len(tables.hand) + len(tables.off_from) + person
                push(work, event, back, tables.opening)
            return
    work.free[person >> 6] |= np.int64(1) << (person & 63)


@inlined
def settle_hands(tables: Tables, work: Work) -> None:
    """See which kinds of work have hands enough, and open or close all tasks of a kind that has changed."""
    for kind in range(len(tables.hand_crew)):
        count = 0
        for word in range(len(work.free)):
            count += bits_set(work.free[word] & tables.hand_people[kind, word])
        enough = 1 if count >= tables.hand_crew[kind] else 0
        if enough != work.hand_is[kind]:
            work.hand_is[kind] = enough
            work.look[0] = -1
            for word in range(len(work.hand_ok)):
                work.hand_ok[word] ^= tables.hand_tasks[kind, word]


@inlined
def settle_spots(tables: Tables, work: Work, place: int) -> None:
    """See the same for the room at one place."""
    for kind in range(len(tables.spot_place)):
        if tables.spot_place[kind] == place:
            fits = work.used[place] + tables.spot_use[kind] <= tables.slots[place] and work.shut[place] == 0
            room = 1 if fits else 0
            if room != work.spot_is[kind]:
                work.spot_is[kind] = room
                work.look[0] = -1
                for word in range(len(work.spot_ok)):
                    work.spot_ok[word] ^= tables.spot_tasks[kind, word]


@inlined
def is_ready(work: Work, task: int) -> None:
    """Mark a task that waits for hands, zones and room alone."""
    word = task >> 6
    work.ready[word] |= np.int64(1) << (task & 63)
    work.look[0] |= np.int64(1) << (word & 63)


@inlined
def zones_free(tables: Tables, work: Work, task: int) -> None:
    """Free the zones of a task; what was set aside on its vehicle is looked at again."""
    vehicle = tables.of[task]
    work.taken[vehicle] &= ~tables.zones[task]
    for k in range(tables.vehicle_ptr[vehicle], tables.vehicle_ptr[vehicle + 1]):
        other = tables.vehicle_tasks[k]
        if work.parked[other]:
            work.parked[other] = 0
            is_ready(work, other)


@inlined
def spot_free(tables: Tables, work: Work, task: int) -> None:
    """Free the slots of a task."""
    kind = tables.spot[task]
    work.used[tables.spot_place[kind]] -= tables.spot_use[kind]
    settle_spots(tables, work, tables.spot_place[kind])


@inlined
def opens(tables: Tables, work: Work, task: int, minute: float) -> None:
    """Open a task that waits for nothing but its minute."""
    if work.ready_min[task] <= minute:
        is_ready(work, task)
    else:
        push(work, IS_READY * len(tables.hand) + task, work.ready_min[task], tables.opening)


@inlined
def task_ends(tables: Tables, work: Work, task: int, minute: float) -> None:
    """End a task: its hands, zones and slots come free, and what waited for it may open."""
    tasks = len(tables.hand)
    for word in range(len(work.free)):
        left = work.who[task, word]
        while left:
            person = (word << 6) + lowest_bit(left)
            left &= left - 1
            stretch_begins(tables, work, person, minute)
    if tables.of[task] >= 0 and tables.zones[task]:
        if tables.zone_tail[task] > 0:
            push(work, ZONES_FREE * tasks + task, minute + tables.zone_tail[task], tables.opening)
        else:
            zones_free(tables, work, task)
    if tables.spot[task] >= 0:
        if tables.place_tail[task] > 0:
            push(work, SPOT_FREE * tasks + task, minute + tables.place_tail[task], tables.opening)
        else:
            spot_free(tables, work, task)
    for k in range(tables.next_ptr[task], tables.next_ptr[task + 1]):
        other = tables.next[k]
        work.ready_min[other] = max(work.ready_min[other], minute + tables.next_lag[k])
        work.waiting[other] -= 1
        if work.waiting[other] == 0:
            opens(tables, work, other, minute)


@inlined
def happens(tables: Tables, work: Work, event: int, minute: float) -> None:
    """Settle one event."""
    tasks, offs = len(tables.hand), len(tables.off_from)
    if event < tasks:
        task_ends(tables, work, event, minute)
    elif event < 2 * tasks:
        zones_free(tables, work, event - tasks)
    elif event < 3 * tasks:
        spot_free(tables, work, event - 2 * tasks)
    elif event < 4 * tasks:
        is_ready(work, event - 3 * tasks)
    elif event < 4 * tasks + offs:
        person = tables.off_person[event - 4 * tasks]
        bit = np.int64(1) << (person & 63)
        if work.free[person >> 6] & bit:
            work.free[person >> 6] &= ~bit
            stretch_begins(tables, work, person, minute)
    elif event < 4 * tasks + offs + len(tables.pace):
        stretch_begins(tables, work, event - 4 * tasks - offs, minute)
    else:
        number = event - 4 * tasks - offs - len(tables.pace)
        shuts = len(tables.shut_place)
        place = tables.shut_place[number % shuts]
        work.shut[place] += 1 if number < shuts else -1
        settle_spots(tables, work, place)


@inlined
def moment_passes(tables: Tables, work: Work, since: float) -> float:
    """Settle everything of the next minute at which anything happens, and return it; -1 when nothing is left."""
    bucket = next_bucket(work, since, tables.opening)
    if bucket < 0:
        return -1.0
    event, minute = work.head[bucket], FAR
    while event >= 0:
        minute = min(minute, work.when[event])
        event = work.following[event]
    due, kept, event = -1, -1, work.head[bucket]
    while event >= 0:
        after = work.following[event]
        if work.when[event] <= minute:
            work.following[event], due = due, event
        else:
            work.following[event], kept = kept, event
        event = after
    work.head[bucket] = kept
    if kept < 0:
        work.filled[bucket >> 6] &= ~(np.int64(1) << (bucket & 63))
    while due >= 0:
        after = work.following[due]
        happens(tables, work, due, minute)
        due = after
    return minute
