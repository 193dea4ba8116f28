"""Which task holds the day up, and by how much: found by trying, on the same days.

Candidates lie on the chains that decide when late departures leave. Each is tried: the same days once more with this
one task so many minutes shorter. What is spared is the difference, so it counts what the tasks behind it make of it.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

from keyhook.turnaround.chances import lateness_min, left_at
from keyhook.turnaround.plan import Plan
from keyhook.turnaround.problem import Problem, Task
from keyhook.turnaround.reasons import chain_to

#: So many tasks are tried, those first that lie on most weighted minutes of lateness.
TRIED = 16


@dataclass(frozen=True, slots=True)
class Bottleneck:
    """What it would spare on average [weighted minutes of lateness] if a task took ``shorter_min`` minutes less."""

    task: str
    shorter_min: int
    spared_min: float


def bottlenecks(
    problem: Problem, plan: Plan, *, shorter_min: int = 10, draws: int = 1000, seed: int = 0, count: int = 3
) -> tuple[Bottleneck, ...]:
    """Return the tasks whose minutes count most, the worst first; empty when nothing is late.

    Parameters
    ----------
    shorter_min
        How many minutes each is tried shorter; one that takes less is tried at one minute.
    draws, seed
        Days to run, the same for all.
    count
        How many to return at most.
    """
    leaves = left_at(problem, plan, draws, seed)
    base = lateness_min(problem, leaves)
    weight: dict[str, float] = {}
    for name, minutes in leaves.items():
        late = lateness_min(problem, {name: minutes})
        for task, _ in chain_to(problem, plan, name) if late > 0 else ():
            weight[task] = weight.get(task, 0.0) + late
    tried = sorted(weight, key=lambda task: (-weight[task], task))
    hands = [task for task in tried if problem.task_by_id[task].fixed is None][:TRIED]
    found = [
        Bottleneck(
            task,
            shorter_min,
            base - lateness_min(problem, left_at(_less(problem, task, shorter_min), plan, draws, seed)),
        )
        for task in hands
    ]
    found.sort(key=lambda one: (-one.spared_min, one.task))
    return tuple(one for one in found if one.spared_min > 0)[:count]


def _less(problem: Problem, task: str, by_min: int) -> Problem:
    def shorter(one: Task) -> Task:
        if one.id != task:
            return one
        modes = tuple(dataclasses.replace(mode, duration_min=max(1, mode.duration_min - by_min)) for mode in one.modes)
        return dataclasses.replace(one, modes=modes)

    return dataclasses.replace(problem, tasks=tuple(shorter(one) for one in problem.tasks))
