"""A plan brought nearer to the one people hold, task by task, while nothing that ranks above it gets worse.

A search for less lateness shuffles on its way what nobody needed to shuffle. Here each task that people would see moved
is asked back to its held place: its people, its minute, its turn in the order. The day is decoded again, and the task
stays there when lateness, swaps and overtime are no worse and fewer tasks are moved than before.
"""

from __future__ import annotations

import numpy as np

from keyhook.turnaround import layout as at
from keyhook.turnaround.arrays import index_of
from keyhook.turnaround.checker import violations
from keyhook.turnaround.decoder import LEVELS, NO_LIMIT, Bench, decode, genes_for, held_mode, lay_out
from keyhook.turnaround.kernel import OUTSIDE, begin, count_levels, decode_from
from keyhook.turnaround.layout import I32, I64
from keyhook.turnaround.plan import Objective, Plan
from keyhook.turnaround.problem import Held, Problem
from keyhook.turnaround.recount import objective

#: Rounds over all tasks that are moved; the last ones find little.
ROUNDS = 12


def nearer_to_held(problem: Problem, plan: Plan) -> Plan:
    """Return a plan with no more lateness, swaps and overtime, and with as many tasks as can be found where they were.

    Parameters
    ----------
    problem
        The rest of a day with what people hold; verified.
    plan
        A plan of it that keeps every rule.
    """
    if not problem.held or objective(problem, plan).moved == 0:
        return plan
    walk = _Back(lay_out(problem), plan)
    for number in range(ROUNDS):
        if not walk.round(latest_first=number % 2 == 1) and number % 2 == 1:
            break
    found = decode(walk.bench, walk.genes)
    if found is None or objective(problem, found[0]) >= objective(problem, plan) or violations(problem, found[0]):
        return plan
    return found[0]


class _Back:
    """Genes of a plan, and what they cost."""

    def __init__(self, bench: Bench, plan: Plan) -> None:
        problem = bench.problem
        self.bench = bench
        self._index = index_of(problem)
        order = sorted(plan.tasks, key=lambda one: (one.start_min, one.end_min, one.task))
        there = {one.task for one in order}
        names = [*(one.task for one in order), *(task.id for task in problem.tasks if task.id not in there)]
        modes = {one.task: one.mode for one in order}
        self.genes = genes_for(bench, names, plan.vehicle_of, modes)
        held = {one.task: one for one in problem.held}
        for one in order:
            told = held.get(one.task)
            near = told is not None and 0 <= one.start_min - told.start_min <= problem.held_tolerance_min
            self._ask(self.genes, one.task, one.people, one.mode, keep=near)
        self._state, self._outcome = bench.state.copy(), bench.outcome.copy()
        self.cost = self._decoded(self.genes)

    def round(self, *, latest_first: bool) -> bool:
        """Ask every moved task back once, in the order of their minutes; tell whether any came."""
        came = False
        for held in sorted(self.bench.problem.held, key=lambda one: one.start_min, reverse=latest_first):
            if self._is_moved(held) and self._take_back(held):
                came = True
        return came

    def _take_back(self, held: Held) -> bool:
        task = self.bench.problem.task_by_id[held.task]
        mode = held_mode(self.bench.problem, task, held.people, -1)
        if task.fixed is not None or mode < 0:
            return False
        for follow in (True, False):
            trial = self.genes.copy()
            self._ask(trial, held.task, held.people, mode, keep=True)
            if follow:
                self._put_at(trial, held)
            before = self.cost
            cost = self._decoded(trial)
            if cost is not None and before is not None and cost <= before and cost[-1] < before[-1]:
                self.genes, self.cost = trial, cost
                return True
        self._decoded(self.genes)
        return False

    def _ask(self, genes: I32, name: str, people: tuple[str, ...], mode: int, *, keep: bool = False) -> None:
        problem, tables = self.bench.problem, self.bench.tables
        row = genes[tables[at.G_TASK] :].reshape(len(problem.tasks), -1)[self._index.task[name]]
        row[at.G_MODE], row[at.G_KEEP], row[at.G_FIRM] = mode, int(keep), int(bool(people))
        row[at.G_WISH :] = -1
        row[at.G_WISH : at.G_WISH + len(people)] = sorted(self._index.person[person] for person in people)

    def _put_at(self, genes: I32, held: Held) -> None:
        """Give a task its turn among the present starts by the minute people hold it for."""
        task, count = self._index.task[held.task], len(self.bench.problem.tasks)
        others = [int(one) for one in genes[:count] if one != task]
        starts = self._outcome.reshape(count, -1)[:, at.D_START]
        turn = next((k for k, one in enumerate(others) if starts[one] >= held.start_min), len(others))
        genes[:count] = [*others[:turn], task, *others[turn:]]

    def _is_moved(self, held: Held) -> bool:
        problem = self.bench.problem
        row = self._outcome.reshape(len(problem.tasks), -1)[self._index.task[held.task]]
        if row[at.D_START] < 0:
            return False
        crew = tuple(sorted(problem.people[person].id for person in row[at.D_CREW :] if person >= 0))
        far = abs(int(row[at.D_START]) - held.start_min) > problem.held_tolerance_min
        return far or crew != tuple(sorted(held.people))

    def _decoded(self, genes: I32) -> Objective | None:
        bench, tables = self.bench, self.bench.tables
        self._state[:], self._outcome[:] = bench.state, bench.outcome
        cost: I64 = np.zeros(LEVELS, np.int64)
        order = np.zeros(len(bench.problem.tasks), np.int32)
        begin(tables, self._state, genes, self._outcome, cost)
        placed = decode_from(
            tables, self._state, genes, self._outcome, cost, bench.room_to_work(), order, 0, NO_LIMIT,
            np.zeros((1, 1), np.int32), np.zeros(1, np.int64), np.zeros(1, np.int32), 0,
        )  # fmt: skip
        if placed < 0 or cost[0] >= OUTSIDE:
            return None
        count_levels(tables, self._state, genes, self._outcome, cost)
        return Objective(*(int(level) for level in cost))
