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

Nothing here allocates: :mod:`keyhook.turnaround.laid` makes the tables and the workspace.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple, cast

import numpy as np
import numpy.typing as npt
from llvmlite import ir
from numba import types
from numba.extending import intrinsic

from keyhook.turnaround.compiled import compiled, inlined

F32 = npt.NDArray[np.float32]
F64 = npt.NDArray[np.float64]
I64 = npt.NDArray[np.int64]

#: Later than any minute of any day.
FAR = 1e9
#: Buckets of the queue, a minute each; what lies later shares the last.
BUCKETS = 2048
#: What can happen to a task; its event is ``kind * tasks + task``, behind them those of people and places.
ENDS, ZONES_FREE, SPOT_FREE, IS_READY, KINDS = range(5)


class Tables(NamedTuple):
    """A day under one plan. Lists of lists lie end to end behind their pointers; ``-1`` is none; bits are by 64.

    ``hand_*``: kinds of work (a skill and a crew) with the people who can and the tasks of that kind. ``spot_*``: a
    place and how many of its slots. ``off_*``: when people are not there, by person: from, to, or how long (a break,
    which waits until somebody is free). ``shut_*``: when a place is closed. ``end``: settled ends, -1 for the others.
    """

    release: F64
    touches: I64
    of: I64
    zones: I64
    zone_tail: F64
    place_tail: F64
    hand: I64
    spot: I64
    end: F64
    leaves: I64
    waiting: I64
    next_ptr: I64
    next: I64
    next_lag: F64
    bar_ptr: I64
    bars: I64
    asked: I64
    vehicle_ptr: I64
    vehicle_tasks: I64
    hand_crew: I64
    hand_people: I64
    hand_tasks: I64
    spot_place: I64
    spot_use: I64
    spot_tasks: I64
    slots: I64
    pace: F64
    from_min: F64
    off_ptr: I64
    off_person: I64
    off_from: F64
    off_to: F64
    off_length: F64
    shut_place: I64
    shut_from: F64
    shut_to: F64
    opening: float


class Work(NamedTuple):
    """Room for one day at a time."""

    ready_min: F64
    waiting: I64
    who: I64
    parked: I64
    ready: I64
    hand_ok: I64
    spot_ok: I64
    hand_is: I64
    spot_is: I64
    taken: I64
    used: I64
    shut: I64
    free: I64
    off_at: I64
    when: F64
    following: I64
    head: I64
    filled: I64
    #: 0: by the rules, 1: those who have gone stay on, 2: and anybody may take the second look
    stretched: I64
    #: words (by 64) in which a task may have become able to begin since the last look
    look: I64


def _lowest_bit(_typing: Any, word: Any) -> Any:
    def generate(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return builder.cttz(values[0], ir.Constant(ir.IntType(1), 0))

    return types.int64(word), generate


def _bits_set(_typing: Any, word: Any) -> Any:
    def generate(_context: Any, builder: Any, _signature: Any, values: Any) -> Any:
        return builder.ctpop(values[0])

    return types.int64(word), generate


#: The number of the lowest bit that is set, and how many bits are: one instruction each.
lowest_bit = cast("Callable[[np.int64], int]", intrinsic(_lowest_bit))
bits_set = cast("Callable[[np.int64], int]", intrinsic(_bits_set))


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
