"""One day carried out, compiled: whoever is free takes the next task that is ready, in the order of the plan.

An event loop over minutes. At every event the open tasks (nothing they wait for is undone) are looked at in plan order;
one that is ready, whose zones and place are free and for which enough people with the skill are free, begins. Nobody
waits for a task that is not ready while another is.
"""

from __future__ import annotations

from collections.abc import Callable

import numba
import numpy as np
import numpy.typing as npt

F64 = npt.NDArray[np.float64]
I64 = npt.NDArray[np.int64]

#: Later than any minute of any day.
FAR = 1e12


def _carry_out(
    took: F64,
    arrive: F64,
    release: F64,
    vehicle: I64,
    zones: I64,
    zone_tail: F64,
    place: I64,
    slot_use: I64,
    place_tail: F64,
    crew: I64,
    skill: I64,
    after_ptr: I64,
    after: I64,
    after_lag: F64,
    next_ptr: I64,
    following: I64,
    bar_ptr: I64,
    bars: I64,
    fixed_end: F64,
    has_skill: I64,
    pace: F64,
    from_min: F64,
    rest_from: F64,
    rest_length: F64,
    slots: I64,
    zone_count: int,
    opening: float,
) -> F64:
    """Return the minute at which each task ends in each draw: draws x tasks; ``FAR`` for one nobody could begin.

    ``took`` is draws x tasks [min at book pace], ``arrive`` draws x vehicles. Tasks stand in plan order. ``zones`` are
    ``zone_count`` bits (all of them: the whole vehicle), ``crew`` 0 takes the clock alone, ``fixed_end`` at or above 0
    is an end that is settled already. ``bars`` lists, for each task, tasks whose people may not do it.
    """
    draws, tasks = took.shape
    ends = np.full((draws, tasks), FAR)
    for draw in numba.prange(draws):
        end = ends[draw]
        people, skills = len(pace), has_skill.shape[1]
        waiting, ready = np.zeros(tasks, np.int64), np.zeros(tasks)
        opened, count = np.zeros(tasks + 1, np.int64), 0
        free, rested = from_min.copy(), rest_length <= 0
        who, whose = np.full((tasks, 4), -1), np.zeros(tasks, np.int64)
        zone_until = np.zeros((arrive.shape[1] + 1, max(1, zone_count)))
        used = np.zeros(len(slots) + 1, np.int64)
        held_until, held_place, held_slots, held = (
            np.zeros(tasks),
            np.zeros(tasks, np.int64),
            np.zeros(tasks, np.int64),
            0,
        )
        idle = np.zeros(skills, np.int64)
        for task in range(tasks):
            ready[task] = max(opening, release[task])
            if vehicle[task] >= 0:
                ready[task] = max(ready[task], arrive[draw, vehicle[task]])
            if fixed_end[task] >= 0:
                end[task] = fixed_end[task]
        for task in range(tasks):
            if fixed_end[task] < 0:
                for k in range(after_ptr[task], after_ptr[task + 1]):
                    if fixed_end[after[k]] >= 0:
                        ready[task] = max(ready[task], fixed_end[after[k]] + after_lag[k])
                    else:
                        waiting[task] += 1
                if waiting[task] == 0:
                    opened[count] = task
                    count += 1
        minute = opening
        while count > 0 and minute < FAR:
            k = 0
            while k < held:
                if held_until[k] <= minute:
                    used[held_place[k]] -= held_slots[k]
                    held -= 1
                    held_until[k], held_place[k], held_slots[k] = held_until[held], held_place[held], held_slots[held]
                else:
                    k += 1
            idle[:] = 0
            for person in range(people):
                if not rested[person] and free[person] <= minute and minute >= rest_from[person]:
                    free[person] = minute + rest_length[person]
                    rested[person] = True
                if free[person] <= minute:
                    for one in range(skills):
                        idle[one] += has_skill[person, one]
            n = 0
            while n < count:
                task = opened[n]
                n += 1
                if ready[task] > minute or idle[skill[task]] < crew[task]:
                    continue
                spot, of = place[task], vehicle[task]
                if spot >= 0 and used[spot] + slot_use[task] > slots[spot]:
                    continue
                blocked = False
                if of >= 0 and zones[task] != 0:
                    for bit in range(zone_count):
                        if zones[task] >> bit & 1 and zone_until[of, bit] > minute:
                            blocked = True
                            break
                if blocked:
                    continue
                slowest, got = 1.0 if crew[task] == 0 else 0.0, 0
                if crew[task] > 0:
                    for person in range(people):
                        if free[person] > minute or has_skill[person, skill[task]] == 0:
                            continue
                        barred = False
                        for k in range(bar_ptr[task], bar_ptr[task + 1]):
                            for one in range(whose[bars[k]]):
                                barred = barred or who[bars[k], one] == person
                        if not barred:
                            who[task, got] = person
                            got += 1
                            slowest = max(slowest, pace[person])
                            if got == crew[task]:
                                break
                    if got < crew[task]:
                        continue
                whose[task] = got
                until = minute + took[draw, task] * slowest
                end[task] = until
                for one in range(got):
                    free[who[task, one]] = until
                    for other in range(skills):
                        idle[other] -= has_skill[who[task, one], other]
                if of >= 0:
                    for bit in range(zone_count):
                        if zones[task] >> bit & 1:
                            zone_until[of, bit] = max(zone_until[of, bit], until + zone_tail[task])
                if spot >= 0:
                    used[spot] += slot_use[task]
                    held_until[held], held_place[held], held_slots[held] = (
                        until + place_tail[task],
                        spot,
                        slot_use[task],
                    )
                    held += 1
                n -= 1
                for k in range(n, count - 1):
                    opened[k] = opened[k + 1]
                count -= 1
                for k in range(next_ptr[task], next_ptr[task + 1]):
                    other = following[k]
                    waiting[other] -= 1
                    for link in range(after_ptr[other], after_ptr[other + 1]):
                        if after[link] == task:
                            ready[other] = max(ready[other], until + after_lag[link])
                    if waiting[other] == 0:
                        at = count
                        while at > 0 and opened[at - 1] > other:
                            opened[at] = opened[at - 1]
                            at -= 1
                        opened[at] = other
                        count += 1
                        if at < n:
                            n += 1
            later = FAR
            for k in range(count):
                task = opened[k]
                if minute < ready[task] < later:
                    later = ready[task]
                if ready[task] <= minute and vehicle[task] >= 0:
                    for bit in range(zone_count):
                        if zones[task] >> bit & 1 and minute < zone_until[vehicle[task], bit] < later:
                            later = zone_until[vehicle[task], bit]
            for person in range(people):
                if minute < free[person] < later:
                    later = free[person]
                if not rested[person] and minute < rest_from[person] < later:
                    later = rest_from[person]
            for k in range(held):
                if minute < held_until[k] < later:
                    later = held_until[k]
            minute = later
    return ends


carry_out: Callable[..., F64] = numba.njit(cache=True, parallel=True)(_carry_out)
