"""How long a hand-over takes by the book, and how long it may take before it counts as late."""

from __future__ import annotations

import math
from graphlib import TopologicalSorter

from keyhook.turnaround.problem import Task as DayTask

#: Standard deviations by which a normal exceeds its mean once in twenty (statistical tables: 1.645).
ENOUGH_SD = 1.645


def hand_over_min(tasks: list[DayTask]) -> int:
    """Return the length of the hand-over itself when nobody waits, in minutes by the book.

    One person of each skill does it, one task after the other; what the hirer does alone runs beside.
    """
    free: dict[str, int] = {}
    end: dict[str, int] = {}
    for name in TopologicalSorter({task.id: _before(task, tasks) for task in tasks}).static_order():
        task = next(task for task in tasks if task.id == name)
        mode = task.modes[0]
        start = max([free.get(mode.skill, 0) if mode.crew else 0, *(end[before] for before in _before(task, tasks))])
        end[name] = start + mode.duration_min
        if mode.crew:
            free[mode.skill] = end[name]
    return max(end.values(), default=0)


def allowed_min(tasks: list[DayTask]) -> int:
    """Return how long a hand-over may take before it counts as late: what is enough nineteen times in twenty.

    Its usual length alone would be overrun every other time even when the vehicle stands ready at the promised minute.
    """
    hands_on = [task.sd_min for task in tasks if task.modes[0].crew]
    return hand_over_min(tasks) + math.ceil(ENOUGH_SD * math.hypot(*hands_on))


def _before(task: DayTask, tasks: list[DayTask]) -> list[str]:
    here = {other.id for other in tasks}
    return [link.what for link in task.after if link.what in here]
