"""Simulated annealing over order, modes, people and allotment: the anytime engine of the day plan.

The temperature falls once from warm to cold over the steps or the seconds given, then again from half as
warm, starting from the best plan so far, if time is left over by a ``rounds`` above one. By steps the same
seed gives the same plan on every machine; by seconds it gives the best it can in the time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from keyhook.turnaround.decoder import LEVELS, Bench, decode, genes_for, lay_out, objective_from
from keyhook.turnaround.kernel import OUTSIDE
from keyhook.turnaround.layout import I32, I64, U64
from keyhook.turnaround.plan import Objective, Plan
from keyhook.turnaround.problem import Problem
from keyhook.turnaround.search import settle, steps

#: States kept along an order, and steps between two looks at the clock.
SHOTS, CHUNK = 12, 200
#: Temperatures in weighted minutes of lateness: the warmest by the steps there are for each task, within limits and
#: a share of the start's lateness; the coldest a share of the warmest. Little time wants a cool walk.
WARM_PER_STEP, WARM_LEAST, WARM_MOST, WARM_SHARE = 3.0, 10.0, 100.0, 0.04
COLD_SHARE, COLD = 0.08, 0.3
#: How much cooler each further round begins.
NEXT_ROUND = 0.5

Report = Callable[[Objective], None]


@dataclass(frozen=True, slots=True)
class Limits:
    """When to stop: after so many steps, or after so many seconds by ``clock``."""

    step_count: int | None = None
    seconds: float | None = None
    clock: Callable[[], float] | None = None
    rounds: int = 1


class Annealer:
    """One walk from a start; :meth:`walk` may be called again and goes on from the best plan.

    Parameters
    ----------
    bench
        The day laid out.
    start
        Any plan of it. When nobody could do some task in its mode at all, ``settled`` is False.
    seed
        0 or more.
    keep_held
        Ask for the people and minutes of the plan people hold (planning again).
    """

    def __init__(self, bench: Bench, start: Plan, seed: int, *, keep_held: bool = False) -> None:
        tasks, modes = len(bench.problem.tasks), {planned.task: planned.mode for planned in start.tasks}
        self._bench = bench
        self._every = max(8, -(-tasks // SHOTS))
        order = order_of(bench.problem, start)
        self._genes = genes_for(bench, order, start.vehicle_of, modes, keep_held=keep_held)
        self._state, self._outcome = bench.state.copy(), bench.outcome.copy()
        self._cost: I64 = np.zeros(LEVELS, np.int64)
        self._work, self._order, self._where = (
            bench.room_to_work(),
            np.zeros(tasks, np.int32),
            np.zeros(tasks, np.int32),
        )
        shots = tasks // self._every + 2
        self._shots: I32 = np.zeros((2 * shots, len(self._state)), np.int32)
        self._costs: I64 = np.zeros(2 * shots, np.int64)
        self._kept, self._spare = np.arange(shots, dtype=np.int32), np.arange(shots, 2 * shots, dtype=np.int32)
        self._other = (self._genes.copy(), self._state.copy(), self._outcome.copy(), self._cost.copy())
        self._chance: U64 = np.array([(2 * seed + 1) * 0x9E3779B97F4A7C15 & 0xFFFFFFFFFFFFFFFF], np.uint64)
        self._begun = any(task.fixed is not None for task in bench.problem.tasks)
        self.settled = self._settle()
        self._best, self._best_cost = self._genes.copy(), self._cost.copy()
        self.taken = 0

    @property
    def is_plan(self) -> bool:
        """Whether the best so far keeps within everybody's hours."""
        return self.settled and bool(self._best_cost[0] < OUTSIDE)

    @property
    def objective(self) -> Objective:
        """The best so far as the decoder counts it."""
        return objective_from(self._best_cost)

    def plan(self) -> Plan:
        """Return the best plan so far."""
        found = decode(self._bench, self._best)
        assert found is not None, "the best genes were decoded before"
        return found[0]

    def walk(self, limits: Limits, report: Report | None = None) -> None:
        """Walk until a limit is reached."""
        began = limits.clock() if limits.clock is not None else 0.0
        said = self.objective
        warmest = self._warmest(limits)
        coldest = max(COLD, warmest * COLD_SHARE)
        for number, (share, later, count) in enumerate(_shares(limits, began)):
            if number > 0 and share == 0.0:
                self._back_to_best()
                warmest = max(coldest, warmest * NEXT_ROUND)
            self._take(_cooled(warmest, coldest, share), _cooled(warmest, coldest, later), warmest, count)
            if report is not None and self.objective < said:
                said = self.objective
                report(said)

    def _warmest(self, limits: Limits) -> float:
        """Return the temperature to begin with."""
        most = min(WARM_MOST, WARM_SHARE * float(min(self._best_cost[0], OUTSIDE)))
        return max(WARM_LEAST, min(most, WARM_PER_STEP * self._steps_a_task(limits)))

    def _steps_a_task(self, limits: Limits) -> float:
        """Return the steps there are for each task in a round; by seconds a few are taken to see how long they take."""
        tasks = max(1, len(self._bench.problem.tasks))
        if limits.step_count is not None:
            return limits.step_count / limits.rounds / tasks
        assert limits.clock is not None, "seconds need a clock"
        self._take(COLD, COLD, WARM_LEAST, 1)
        began = limits.clock()
        self._take(COLD, COLD, WARM_LEAST, CHUNK)
        took = max(1e-6, limits.clock() - began)
        return (limits.seconds or 0.0) / limits.rounds * CHUNK / took / tasks

    def _back_to_best(self) -> None:
        self._genes[:] = self._best
        self._settle()

    def _settle(self) -> bool:
        bench = self._bench
        return bool(
            settle(
                bench.tables, bench.state, bench.outcome, self._state, self._genes, self._outcome, self._cost,
                self._work, self._order, self._where, self._shots, self._costs,
                self._kept, self._spare, self._every,
            )
        )  # fmt: skip

    def _take(self, warm: float, cold: float, hottest: float, count: int) -> None:
        bench = self._bench
        steps(
            bench.tables, bench.state, bench.outcome, self._state, self._genes, self._outcome, self._cost,
            self._work, self._order, self._where, self._shots, self._costs,
            self._kept, self._spare, *self._other,
            self._best, self._best_cost, self._chance, self._every, count, warm, cold, hottest, self._begun,
        )  # fmt: skip
        self.taken += count


def anneal(
    problem: Problem,
    start: Plan,
    limits: Limits,
    *,
    seed: int = 0,
    report: Report | None = None,
    keep_held: bool = False,
) -> Plan:
    """Return the best plan found from ``start``; ``start`` itself when the decoder finds nothing better.

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
    if not problem.departures:
        return start  # nothing can be late, and the moves need a departure to take hold of
    walker = Annealer(lay_out(problem), start, seed, keep_held=keep_held)
    if walker.settled:
        walker.walk(limits, report)
    return walker.plan() if walker.is_plan else start


def order_of(problem: Problem, plan: Plan) -> list[str]:
    """Return every task of the day: those of the plan by start, then the rest."""
    planned = [one.task for one in sorted(plan.tasks, key=lambda one: (one.start_min, one.end_min, one.task))]
    there = set(planned)
    return [*planned, *(task.id for task in problem.tasks if task.id not in there)]


def _shares(limits: Limits, began: float) -> Iterator[tuple[float, float, int]]:
    """Yield, for every look at the clock, the share of the round that is over, the share after it, and the steps."""
    if limits.step_count is not None:
        chunks = max(limits.rounds, limits.step_count // CHUNK)
        per_round = max(1, chunks // limits.rounds)
        for n in range(per_round * limits.rounds):
            yield (n % per_round) / per_round, (n % per_round + 1) / per_round, CHUNK
        return
    assert limits.seconds is not None, "a walk needs an end"
    assert limits.clock is not None, "seconds need a clock"
    length = limits.seconds / limits.rounds
    for number in range(limits.rounds):
        share, later = 0.0, 0.0
        while share < 1.0:
            later = min(1.0, share + 0.01)
            yield share, later, CHUNK
            share = (limits.clock() - began) / length - number
            share = max(share, 1e-9)


def _cooled(warmest: float, coldest: float, share: float) -> float:
    """Return the temperature after a share of a round."""
    return float(warmest * (coldest / warmest) ** min(1.0, share))
