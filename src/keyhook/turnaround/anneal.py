"""Simulated annealing over order, modes, people and allotment: the anytime engine of the day plan.

While the day does not fit into everybody's hours the order of the tasks is changed (:mod:`keyhook.turnaround.search`);
from the first plan on, a few departures at a time are taken out and put back (:mod:`keyhook.turnaround.recreate`).
The temperature falls once from warm to cold over the steps or the seconds given, then again from half as
warm, starting from the best plan so far, if time is left over by a ``rounds`` above one. By steps the same
seed gives the same plan on every machine; by seconds it gives the best it can in the time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from keyhook.turnaround import layout as at
from keyhook.turnaround.arrays import index_of
from keyhook.turnaround.choosing import UNIT_ROW
from keyhook.turnaround.counting import OUTSIDE
from keyhook.turnaround.decoder import LEVELS, Bench, genes_for, lay_out, objective_from, plan_from
from keyhook.turnaround.layout import I32, I64, U64
from keyhook.turnaround.plan import Objective, Plan
from keyhook.turnaround.problem import Problem
from keyhook.turnaround.putting_back import lay_as_planned, lay_held, put_off_one
from keyhook.turnaround.recreate import recreate
from keyhook.turnaround.search import settle, steps

#: States kept along an order, and steps between two looks at the clock.
SHOTS, CHUNK = 12, 200
#: Temperatures in weighted minutes of lateness: the warmest a share of the start's lateness, within limits; the coldest
#: a share of the warmest. Until the day fits, the walk is as cool as can be.
WARM_LEAST, WARM_MOST, WARM_SHARE = 10.0, 100.0, 0.1
#: The same when people hold a plan: what it gained is not shaken loose again.
AGAIN_LEAST, AGAIN_MOST, AGAIN_SHARE = 5.0, 30.0, 0.02
#: How many of the steps then take moved tasks back to it, first, and from some share of the round on.
BACK_FIRST, BACK_LAST, BACK_FROM = 0.1, 0.7, 0.7
COLD_SHARE = 0.02
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

    def share(self, share: float) -> Limits:
        """Return a part of these limits."""
        if self.step_count is not None:
            return replace(self, step_count=round(self.step_count * share))
        return replace(self, seconds=self.seconds and self.seconds * share)


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
        Ask for the people and minutes of the plan people hold (planning again), and stay near it until let
        :meth:`loose`.
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
        units = (bench.tables[at.VEHICLES] + bench.tables[at.DEPARTURES]) * UNIT_ROW
        self._units, self._line = np.zeros(units, np.int32), np.zeros((2, tasks), np.int32)
        self._other = (self._genes.copy(), self._state.copy(), self._outcome.copy(), self._cost.copy())
        self._chance: U64 = np.array([(2 * seed + 1) * 0x9E3779B97F4A7C15 & 0xFFFFFFFFFFFFFFFF], np.uint64)
        self._begun = any(task.fixed is not None for task in bench.problem.tasks)
        self.settled = self._lay_down(start, held=keep_held) or self._settle()
        self._best = (self._genes.copy(), self._state.copy(), self._outcome.copy())
        self._best_cost, self._near, self._again = self._cost.copy(), keep_held, bool(bench.problem.held)
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
        return plan_from(self._bench, *self._best)

    def written_later(self) -> Callable[[], Plan]:
        """Return what writes out the plan that is the best now, whatever the walk finds later."""
        genes, state, outcome = (array.copy() for array in self._best)
        return lambda: plan_from(self._bench, genes, state, outcome)

    def walk(self, limits: Limits, report: Report | None = None) -> None:
        """Walk until a limit is reached."""
        self._back_to_best()
        began = limits.clock() if limits.clock is not None else 0.0
        warmest = self._warmest()
        coldest = warmest * COLD_SHARE
        for number, (share, later, count) in enumerate(_shares(limits, began)):
            if number > 0 and share == 0.0:
                self._back_to_best()
                warmest = max(coldest, warmest * NEXT_ROUND)
            if self._cost[0] < OUTSIDE:
                heat = (_cooled(warmest, coldest, share), _cooled(warmest, coldest, later), warmest)
                self._put_otherwise(*heat, count, self._share_back(share))
            else:
                self._reorder(coldest, warmest, count)
                warmest = self._warmest()
            if report is not None:
                report(self.objective)

    def loose(self) -> None:
        """Do not stay near the plan people hold as long as somebody is late."""
        self._near = False

    @property
    def _stays_near(self) -> bool:
        return self._near or (self._again and bool(self._best_cost[0] == 0))

    def _warmest(self) -> float:
        """Return the temperature to begin with."""
        cost = float(min(self._best_cost[0], OUTSIDE))
        if self._stays_near:
            return max(AGAIN_LEAST, min(AGAIN_MOST, AGAIN_SHARE * cost))
        return max(WARM_LEAST, min(WARM_MOST, WARM_SHARE * cost))

    def _back_to_best(self) -> None:
        for now, best in zip((self._genes, self._state, self._outcome), self._best, strict=True):
            now[:] = best
        self._cost[:] = self._best_cost

    def _lay_down(self, start: Plan, *, held: bool) -> bool:
        """Begin with the plan as it stands, if it is whole; else with what still stands of the one people hold."""
        bench, cost = self._bench, np.zeros(LEVELS, np.int64)
        state, lain = bench.state.copy(), self._as_planned(start)
        done = lay_as_planned(bench.tables, state, self._genes, lain, cost)
        if not done and held:
            state, lain, done = self._lay_held(start, cost)
        if done and cost[0] < OUTSIDE:
            self._state[:], self._outcome[:], self._cost[:] = state, lain, cost
            return True
        return False

    def _lay_held(self, start: Plan, cost: I64) -> tuple[I32, I32, bool]:
        """Lay what still stands and the rest around it; what ends outside everybody's hours so is put off first.

        The walk brings back what is put off where it can. Otherwise the order of the whole day would have to change.
        """
        bench, genes = self._bench, self._genes.copy()
        while True:
            state, lain = bench.state.copy(), self._as_planned(start)
            done = bool(lay_held(bench.tables, state, genes, lain, cost, self._work, self._line[0]))
            if done and cost[0] < OUTSIDE:
                self._genes[:] = genes
                return state, lain, True
            if not done or not put_off_one(bench.tables, genes, lain):
                return state, lain, False

    def _as_planned(self, start: Plan) -> I32:
        """Return the outcome with the minutes and people of a plan."""
        problem, index = self._bench.problem, index_of(self._bench.problem)
        outcome = self._bench.outcome.copy().reshape(len(problem.tasks), -1)
        for planned in start.tasks:
            row = index.task[planned.task]
            crew = sorted(index.person[name] for name in planned.people if name in index.person)
            if problem.tasks[row].fixed is None:
                outcome[row, [at.D_START, at.D_END]] = planned.start_min, planned.end_min
                outcome[row, at.D_CREW : at.D_CREW + len(crew)] = crew
        return outcome.ravel()

    def _settle(self) -> bool:
        bench = self._bench
        return bool(
            settle(
                bench.tables, bench.state, bench.outcome, self._state, self._genes, self._outcome, self._cost,
                self._work, self._order, self._where, self._shots, self._costs,
                self._kept, self._spare, self._every,
            )
        )  # fmt: skip

    def _reorder(self, temperature: float, hottest: float, count: int) -> None:
        """Change the order of the day, until it fits."""
        bench = self._bench
        steps(
            bench.tables, bench.state, bench.outcome, self._state, self._genes, self._outcome, self._cost,
            self._work, self._order, self._where, self._shots, self._costs,
            self._kept, self._spare, *self._other,
            *self._best, self._best_cost, self._chance, self._every, count,
            temperature, temperature, hottest, self._begun,
        )  # fmt: skip
        self.taken += count

    def _share_back(self, share: float) -> float:
        """Return how many of the steps take tasks back to where people hold them, after a share of the round."""
        if not self._stays_near:
            return 0.0
        return BACK_FIRST if share < BACK_FROM else BACK_LAST

    def _put_otherwise(self, warm: float, cold: float, hottest: float, count: int, back: float) -> None:
        """Take departures out and put them back another way."""
        bench = self._bench
        recreate(
            bench.tables, bench.state, bench.outcome, self._state, self._genes, self._outcome, self._cost,
            self._work, self._order, self._shots, self._costs, self._spare, *self._other,
            *self._best, self._best_cost, self._units, self._line[0], self._line[1], self._chance,
            count, warm, cold, hottest, back,
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
        Called with the best objective so far at every look at the clock.
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
