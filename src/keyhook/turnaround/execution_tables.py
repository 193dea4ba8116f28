"""What a day carried out reads and where it works: plain arrays, made by :mod:`keyhook.turnaround.laid`."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

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
