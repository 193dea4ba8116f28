"""What stands where in the arrays that the compiled decoder reads and writes.

``T`` holds all that does not change while a day is planned, ``S`` who and what is taken when, ``G`` the
genes a plan is decoded from, ``D`` where each task came to lie. Each is one flat array of 32-bit integers,
not one array per column: compiled code that hands dozens of arrays around spends its time counting
references to them. The first entries of ``T`` are the numbers below: counts as they are, and for every
list the index at which it begins, so that ``T[T[RELEASE] + task]`` is the release of a task.

Lists of different lengths lie end to end with a pointer list beside them: row ``k`` of ``BEFORE`` is
``BEFORE_PTR[k]`` up to ``BEFORE_PTR[k + 1]``. -1 stands for none.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

I32 = npt.NDArray[np.int32]
I64 = npt.NDArray[np.int64]

#: Later than any minute of a day.
NEVER: Final = 1 << 28
#: A vehicle that is moved needs every zone.
EVERY_BIT: Final = -1
#: Zone names a day may use: one bit each, the sign bit left alone.
MOST_ZONES: Final = 31

# Counts
TASKS, PEOPLE, PLACES, VEHICLES, DEPARTURES, CREW_MAX, TOLERANCE, CLOSING = range(8)
# Tasks. TOUCHES: 1 when it waits for the arrival of the vehicle that serves its departure. LEAVING: 1 when
# it is only done if its vehicle leaves today. ROW: row of a departure task in the V_ lists. REST: shortest
# way from its end to where its departure can leave.
RELEASE, BOUND, SERVES, TOUCHES, ZONES, PLACE, USE, PLACE_TAIL, ZONE_TAIL = range(8, 17)
COUNTS, LEAVING, FIXED, ROW, REST = range(17, 22)
# Modes, flat; MINUTES is modes x people
MODE_PTR, CREW, SKILL, MINUTES = range(22, 26)
# People by skill, breaks, ends of shifts
SKILL_PTR, SKILLED, BREAK_PTR, BREAK_FIRST, BREAK_LAST, BREAK_LENGTH, SHIFT_END = range(26, 33)
# What a task waits for and with which lag; whose people may not do it. V_: by ROW x vehicle
BEFORE_PTR, BEFORE, BEFORE_LAG, OTHER_PTR, OTHER = range(33, 38)
V_BEFORE_PTR, V_BEFORE, V_BEFORE_LAG, V_OTHER_PTR, V_OTHER = range(38, 43)
# Places, vehicles, departures. SUITS is departures x vehicles: the cost of level two
SLOTS, ARRIVES, VTASK_PTR, VTASK, DTASK_PTR, DTASK, WEIGHT, DUE, POSTPONE, SUITS = range(43, 53)
# The plan people hold; HELD_CREW is tasks x CREW_MAX, sorted
HELD_START, HELD_CREW = range(53, 55)

# S: stretches taken by person, breaks (the earliest minute at which each still fits; -1: not owed), steps of
# places, zones of vehicles, and a lower bound on when each departure leaves, exact at the end
S_PERSON_N, S_PERSON_FROM, S_PERSON_TO, S_PERSON_LAST, S_REST_AT, S_PLACE_N, S_PLACE_AT, S_PLACE_USED = range(55, 63)
S_VEHICLE_N, S_VEHICLE_FROM, S_VEHICLE_TO, S_VEHICLE_ZONES, S_LEAVE = range(63, 68)
PERSON_ROW, PLACE_ROW, VEHICLE_ROW, S_LENGTH = range(68, 72)

# G: order, vehicle by departure, departure by vehicle, mode by task, people asked for by name (-1: whoever
# is first), and 1 for a task that is not begun before the start people hold
G_ORDER, G_VEHICLE, G_DEPARTURE, G_MODE, G_WISH, G_KEEP, G_LENGTH = range(72, 79)

# D: start (-1: not done), end, the minute it was ready, the task that made it wait till then (-1: none), crew
D_START, D_END, D_READY, D_CAUSE, D_CREW, D_LENGTH = range(79, 85)

HEADER = 85
