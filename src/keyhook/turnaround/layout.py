"""What stands where in the arrays that the compiled decoder reads and writes.

``T`` holds all that does not change while a day is planned, ``S`` who and what is taken when, ``G`` the
genes a plan is decoded from, ``D`` where each task came to lie. Each is one flat array of 32-bit integers:
compiled code that hands dozens of arrays around spends its time counting references to them. What is read
together lies together, in records: ``T[T[TASK] + task * TASK_ROW + RELEASE]`` is the release of a task.

The first entries of ``T`` are the header: counts as they are, and for every list the index at which it
begins. -1 stands for none.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

I32 = npt.NDArray[np.int32]
I64 = npt.NDArray[np.int64]
U64 = npt.NDArray[np.uint64]

#: Later than any minute of a day.
NEVER: Final = 1 << 28
#: A vehicle that is moved needs every zone.
EVERY_BIT: Final = -1
#: Zone names a day may use: one bit each, the sign bit left alone.
MOST_ZONES: Final = 31

# The header: counts ...
TASKS, PEOPLE, PLACES, VEHICLES, DEPARTURES, CREW_MAX, BREAKS, TOLERANCE, CLOSING = range(9)
# ... the lists of T ...
TASK, MODE, SKILLED, PERSON, PLACE_SLOTS, VEHICLE, DEPARTURE, SUITS, HELD = range(9, 18)
BEFORE, OTHER, V_BEFORE_PTR, V_BEFORE, V_OTHER_PTR, V_OTHER, OWN = range(18, 25)
# ... the lengths of records that differ from day to day ...
MODE_ROW, PERSON_ROW, HELD_ROW = range(25, 28)
# ... the lists of S, with the lengths of their records ...
S_PERSON, S_PLACE, S_VEHICLE, S_LEAVE, S_LENGTH = range(28, 33)
S_PERSON_ROW, S_PLACE_ROW, S_VEHICLE_ROW = range(33, 36)
# ... and those of G and D.
G_VEHICLE, G_DEPARTURE, G_TASK, G_ROW, G_LENGTH = range(36, 41)
D_ROW, D_LENGTH = range(41, 43)
# Links between tasks that neither one vehicle nor one departure owns both of, and how many there are.
CROSS, CROSSES = range(43, 45)
HEADER = 45

# A task. TOUCHES: 1 when it waits for the arrival of the vehicle that serves its departure. LEAVING: 1 when
# it is only done if its vehicle leaves today. LINK: its row in the V_ lists. REST: shortest way from its end
# to where its departure can leave. The last six are stretches of other lists.
RELEASE, BOUND, SERVES, TOUCHES, ZONES, PLACE, USE, PLACE_TAIL, ZONE_TAIL, COUNTS = range(10)
LEAVING, FIXED, LINK, REST, MODE_FIRST, MODE_LAST, BEFORE_FIRST, BEFORE_LAST, OTHER_FIRST, OTHER_LAST = range(10, 20)
TASK_ROW = 20
# A mode: its crew, the stretch of SKILLED with those who can, and its minutes by pace from MINUTES on
CREW, SKILL_FIRST, SKILL_LAST, MINUTES = range(4)
# Somebody with a skill: who, and the number of their pace
WHO, PACE, SKILLED_ROW = range(3)
# A person: end of the shift, or of what they hold beyond it, end with all overtime, number of their pace, and
# breaks (first, last, length; length 0: none)
SHIFT_END, SHIFT_LAST, OWN_PACE, BREAK = range(4)
BREAK_FIRST, BREAK_LAST, BREAK_LENGTH, BREAK_ROW = range(4)
# A vehicle or a departure: stretch of OWN with its tasks; arrival; weight, due, cost of putting off (-1: not allowed)
OWN_FIRST, OWN_LAST, ARRIVES, VEHICLE_ROW = range(4)
WEIGHT, DUE, POSTPONE, DEPARTURE_ROW = range(2, 6)
# A link to what a task waits for: which, and the lag
LINKED, LAG, LINK_ROW = range(3)
# A link across: the task, what it waits for, and the lag (-1: it does not wait, but needs other eyes)
ACROSS, ACROSS_FROM, ACROSS_LAG, CROSS_ROW = range(4)
OTHER_EYES: Final = -1
# What people hold of a task: its start (-1: nothing), and the crew, sorted
HELD_START, HELD_CREW = range(2)

# S. A person: number of stretches, last minute worked, where each break still fits first (-1: not owed), then
# from and to of the stretches behind the breaks, joined where they meet. A place: number of steps, then minute
# and slots used. A vehicle: number of stays, then from, to and zones. S_LEAVE: when each departure leaves at best.
COUNT, LAST, REST_AT = range(3)

# G. The order, then vehicle by departure and departure by vehicle, then by task: its mode, 1 when it is not
# begun before the start people hold, 1 when nobody else may do it than those asked for, and who is asked for
# (-1: whoever is first)
G_MODE, G_KEEP, G_FIRM, G_WISH = range(4)

# D. By task: start (-1: not done), end, the minute it was ready, the task that made it wait till then, crew
D_START, D_END, D_READY, D_CAUSE, D_CREW = range(5)
