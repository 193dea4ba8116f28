"""Simulated annealing over order, modes and allotment: the anytime engine of the day plan.

Worked in rounds: each cools from warm to cold, starts from the best plan so far, and is a little cooler than the one
before. By steps the same seed gives the same plan on every machine; by seconds it gives the best it can in the time.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from keyhook.errors import NoPlan
from keyhook.turnaround import layout as at
from keyhook.turnaround.decoder import LEVELS, Bench, decode, genes_for, lay_out
from keyhook.turnaround.layout import I32, I64
from keyhook.turnaround.plan import Objective, Plan
from keyhook.turnaround.problem import Problem
from keyhook.turnaround.search import EVERY, settle, steps

#: Steps between two looks at the clock.
CHUNK = 400
#: Temperatures of a round, in minutes of weighted lateness.
WARM_SHARE, WARMEST, COLD = 0.01, 60.0, 0.05

Report = Callable[[Objective], None]


@dataclass(frozen=True, slots=True)
class Limits:
    """When to stop: after so many steps, or after so many seconds by ``clock``. Lateness nought does not stop it."""

    step_count: int | None = None
    seconds: float | None = None
    clock: Callable[[], float] | None = None


@dataclass
class _Walk:
    """Everything one walk of the annealer holds."""

    bench: Bench
    genes: I32
    state: I32
    outcome: I32
    cost: I64
    best: I32
    best_cost: I64
    chance: np.ndarray[tuple[int], np.dtype[np.uint64]]
    scratch: dict[str, np.ndarray] = field(default_factory=dict)  # type: ignore[type-arg]


def anneal(
    problem: Problem, start: Plan, limits: Limits, *, seed: int = 0, report: Report | None = None, keep_held: bool = False
) -> Plan:
    """Return the best plan found from ``start``; it is never worse by the decoder's own count.

    Parameters
    ----------
    problem
        A verified day.
    start
        Any plan of it, for example that of the rule.
    limits
        When to stop.
    report
        Called with the objective at every look at the clock at which the best has become better.
    keep_held
        Ask for the people and minutes of the plan people hold (planning again).
    """
    bench = lay_out(problem)
    walk = _begin(bench, start, seed, keep_held=keep_held)
    said = tuple(walk.best_cost)
    for warm, cold, count in _rounds(walk, limits):
        _take(walk, warm, cold, count)
        if report is not None and tuple(walk.best_cost) < said:
            said = tuple(walk.best_cost)
            report(Objective(*(int(level) for level in said)))
    found = decode(bench, walk.best)
    assert found is not None, "the best genes were decoded before"
    return found[0]


def order_of(problem: Problem, plan: Plan) -> list[str]:
    """Return every task of the day: those of the plan by start, then the rest."""
    planned = [one.task for one in sorted(plan.tasks, key=lambda one: (one.start_min, one.end_min, one.task))]
    there = set(planned)
    return [*planned, *(task.id for task in problem.tasks if task.id not in there)]


def _begin(bench: Bench, start: Plan, seed: int, *, keep_held: bool) -> _Walk:
    problem, tables = bench.problem, bench.tables
    modes = {planned.task: planned.mode for planned in start.tasks}
    genes = genes_for(bench, order_of(problem, start), start.vehicle_of, modes, keep_held=keep_held)
    count, shots = len(problem.tasks), len(problem.tasks) // EVERY + 2
    state, outcome, cost = bench.state.copy(), bench.outcome.copy(), np.zeros(LEVELS, np.int64)
    scratch = {
        "W": bench.room_to_work(),
        "order": np.zeros(count, np.int32),
        "where": np.zeros(count, np.int32),
        "shots": np.zeros((shots, len(state)), np.int32),
        "costs": np.zeros(shots, np.int64),
        "N": genes.copy(),
        "S2": state.copy(),
        "D2": outcome.copy(),
        "C2": cost.copy(),
    }
    chance = np.array([(2 * seed + 1) * 0x9E3779B97F4A7C15 & 0xFFFFFFFFFFFFFFFF], np.uint64)
    walk = _Walk(bench, genes, state, outcome, cost, genes.copy(), cost.copy(), chance, scratch)
    if not _settle(walk):
        raise NoPlan(
            "The day cannot be laid out from this start",
            seen=f"{count} tasks of {tables[at.DEPARTURES]} departures",
            todo="Put a departure off, or give more hours",
        )
    walk.best, walk.best_cost = walk.genes.copy(), walk.cost.copy()
    return walk


def _settle(walk: _Walk) -> bool:
    s, bench = walk.scratch, walk.bench
    arrays = (walk.state, walk.genes, walk.outcome, walk.cost, s["W"], s["order"], s["where"], s["shots"], s["costs"])
    return bool(settle(bench.tables, bench.state, bench.outcome, *arrays))


def _take(walk: _Walk, warm: float, cold: float, count: int) -> None:
    s, bench = walk.scratch, walk.bench
    steps(
        bench.tables, bench.state, bench.outcome, walk.state, walk.genes, walk.outcome, walk.cost,
        s["W"], s["order"], s["where"], s["shots"], s["costs"],
        s["N"], s["S2"], s["D2"], s["C2"], walk.best, walk.best_cost, walk.chance, count, warm, cold,
    )  # fmt: skip


def _rounds(walk: _Walk, limits: Limits):  # type: ignore[no-untyped-def]
    """Yield warm, cold and step count of every chunk until a limit is reached."""
    warmest = min(WARMEST, max(1.0, WARM_SHARE * float(walk.best_cost[0])))
    if limits.step_count is not None:
        chunks = max(1, limits.step_count // CHUNK)
        for n in range(chunks):
            yield _warm(warmest, n / chunks), _warm(warmest, (n + 1) / chunks), CHUNK
        return
    assert limits.seconds is not None
    assert limits.clock is not None
    began = limits.clock()
    share = 0.0
    while share < 1.0:
        later = min(1.0, share + 0.02)
        yield _warm(warmest, share), _warm(warmest, later), CHUNK
        share = (limits.clock() - began) / limits.seconds


def _warm(warmest: float, share: float) -> float:
    return float(warmest * (COLD / warmest) ** min(1.0, share))
