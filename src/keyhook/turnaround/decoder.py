"""From an order of tasks, an allotment and modes to a plan, by the compiled serial schedule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from keyhook.turnaround import layout as at
from keyhook.turnaround.arrays import build_tables, index_of
from keyhook.turnaround.blank import blank_outcome, blank_state
from keyhook.turnaround.bound import shortest_rest
from keyhook.turnaround.kernel import begin, count_levels, decode_from
from keyhook.turnaround.layout import I32, I64
from keyhook.turnaround.plan import Objective, Plan, PlannedBreak, PlannedTask
from keyhook.turnaround.problem import Problem

#: A lateness that is never reached.
NO_LIMIT = 1 << 60
LEVELS = 4


@dataclass(frozen=True)
class Bench:
    """A day laid out for decoding: ``T``, and ``S`` and ``D`` as they are before the first task."""

    problem: Problem
    tables: I32
    state: I32
    outcome: I32

    def room_to_work(self) -> I32:
        """Return the scratch array the kernel needs."""
        return np.zeros(len(self.problem.tasks) + len(self.problem.people) + 2, np.int32)


def lay_out(problem: Problem) -> Bench:
    """Return a day ready for decoding; the problem has to be verified."""
    tables = build_tables(problem)
    begins = tables[at.REST]
    tables[begins : begins + len(problem.tasks)] = shortest_rest(problem)
    return Bench(problem, tables, blank_state(problem, tables), blank_outcome(problem, tables))


def genes_for(
    bench: Bench,
    order: Sequence[str],
    allotment: Mapping[str, str | None],
    modes: Mapping[str, int] | None = None,
    *,
    keep_held: bool = False,
) -> I32:
    """Return ``G`` from names: tasks in order, vehicle by departure, mode by task (the first by default).

    With ``keep_held`` the tasks that people hold are asked for at their time and by their people.
    """
    problem, tables, index = bench.problem, bench.tables, index_of(bench.problem)
    genes = np.full(tables[at.G_LENGTH], -1, np.int32)
    genes[: len(problem.tasks)] = [index.task[name] for name in order]
    for k, departure in enumerate(problem.departures):
        vehicle = index.vehicle.get(allotment.get(departure.id) or "", -1)
        genes[tables[at.G_VEHICLE] + k] = vehicle
        if vehicle >= 0:
            genes[tables[at.G_DEPARTURE] + vehicle] = k
    for k, task in enumerate(problem.tasks):
        genes[tables[at.G_MODE] + k] = task.fixed.mode if task.fixed is not None else (modes or {}).get(task.id, 0)
    genes[tables[at.G_KEEP] :] = 0
    if keep_held:
        _ask_for_held(bench, genes)
    return genes


def _ask_for_held(bench: Bench, genes: I32) -> None:
    problem, tables, index = bench.problem, bench.tables, index_of(bench.problem)
    for held in problem.held:
        if held.task in index.task and all(name in index.person for name in held.people):
            k = index.task[held.task]
            first = tables[at.G_WISH] + k * tables[at.CREW_MAX]
            genes[tables[at.G_KEEP] + k] = 1
            genes[first : first + len(held.people)] = sorted(index.person[name] for name in held.people)


def decode(bench: Bench, genes: I32) -> tuple[Plan, Objective] | None:
    """Return the plan of the genes and its objective as the decoder counts it; None when a task fits nowhere."""
    state, outcome, cost = bench.state.copy(), bench.outcome.copy(), np.zeros(LEVELS, np.int64)
    order = np.zeros(len(bench.problem.tasks), np.int32)
    no_shots, no_costs = np.zeros((1, len(state)), np.int32), np.zeros(1, np.int64)
    begin(bench.tables, state, genes, outcome, cost)
    placed = decode_from(
        bench.tables, state, genes, outcome, cost, bench.room_to_work(), order, 0, NO_LIMIT, no_shots, no_costs, 0
    )
    if placed < 0:
        return None
    count_levels(bench.tables, state, genes, outcome, cost)
    return plan_from(bench, genes, state, outcome), objective_from(cost)


def objective_from(cost: I64) -> Objective:
    """Return the levels as the decoder counts them."""
    return Objective(*(int(level) for level in cost))


def plan_from(bench: Bench, genes: I32, state: I32, outcome: I32) -> Plan:
    """Return arrays as a plan."""
    problem, tables = bench.problem, bench.tables
    tasks = [_planned(bench, genes, outcome, k) for k in range(len(problem.tasks)) if outcome[k] >= 0]
    vehicles = genes[tables[at.G_VEHICLE] : tables[at.G_VEHICLE] + len(problem.departures)]
    return Plan(
        tasks=tuple(sorted(tasks, key=lambda planned: (planned.start_min, planned.task))),
        allotment=tuple(
            (departure.id, problem.vehicles[vehicle].id if vehicle >= 0 else None)
            for departure, vehicle in zip(problem.departures, vehicles, strict=True)
        ),
        breaks=tuple(_rests(problem, state[tables[at.S_REST_AT] :])),
    )


def _planned(bench: Bench, genes: I32, outcome: I32, k: int) -> PlannedTask:
    tables, problem = bench.tables, bench.problem
    first = tables[at.D_CREW] + k * tables[at.CREW_MAX]
    crew = outcome[first : first + tables[at.CREW_MAX]]
    return PlannedTask(
        task=problem.tasks[k].id,
        start_min=int(outcome[tables[at.D_START] + k]),
        end_min=int(outcome[tables[at.D_END] + k]),
        mode=int(genes[tables[at.G_MODE] + k]),
        people=tuple(sorted(problem.people[person].id for person in crew if person >= 0)),
    )


def _rests(problem: Problem, rest_at: I32) -> list[PlannedBreak]:
    owed = [(person.id, index) for person in problem.people for index in range(len(person.breaks))]
    return [
        PlannedBreak(person, index, int(start))
        for (person, index), start in zip(owed, rest_at[: len(owed)], strict=True)
        if start >= 0
    ]
