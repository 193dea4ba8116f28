"""From an order of tasks, an allotment and modes to a plan, by the compiled serial schedule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from keyhook.turnaround import layout as at
from keyhook.turnaround.arrays import Index, build_tables, index_of
from keyhook.turnaround.blank import blank_outcome, blank_state
from keyhook.turnaround.bound import shortest_rest
from keyhook.turnaround.counting import OUTSIDE, begin, count_levels
from keyhook.turnaround.kernel import decode_from
from keyhook.turnaround.layout import I32, I64
from keyhook.turnaround.plan import Objective, Plan, PlannedBreak, PlannedTask
from keyhook.turnaround.problem import Problem, Task

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
    tables = build_tables(problem, shortest_rest(problem))
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
    by_task = genes[tables[at.G_TASK] :].reshape(len(problem.tasks), -1)
    by_task[:, [at.G_KEEP, at.G_MODE, at.G_FIRM]] = 0
    for k, task in enumerate(problem.tasks):
        by_task[k, at.G_MODE] = task.fixed.mode if task.fixed is not None else (modes or {}).get(task.id, 0)
    if keep_held:
        _ask_for_held(problem, by_task)
    return genes


def _ask_for(problem: Problem, index: Index, row: I32, task: Task, people: Sequence[str]) -> None:
    """Ask for people by name if they can do the task in its mode."""
    mode = task.modes[row[at.G_MODE]]
    able = [name for name in people if name in index.person and mode.skill in problem.person_by_id[name].skills]
    if len(able) == len(people) == mode.crew > 0:
        row[at.G_WISH : at.G_WISH + mode.crew] = sorted(index.person[name] for name in people)


def _ask_for_held(problem: Problem, by_task: I32) -> None:
    index = index_of(problem)
    for held in problem.held:
        task = problem.task_by_id.get(held.task)
        if task is not None and task.fixed is None:
            row = by_task[index.task[held.task]]
            row[at.G_KEEP] = 1
            _ask_for(problem, index, row, task, held.people)


def held_mode(problem: Problem, task: Task, people: Sequence[str], otherwise: int) -> int:
    """Return the mode in which these people do a task: as many as it asks for, all with its skill."""
    for number, mode in enumerate(task.modes):
        known = [problem.person_by_id[name] for name in people if name in problem.person_by_id]
        if mode.crew == len(people) == len(known) and all(mode.skill in person.skills for person in known):
            return number
    return otherwise


def decode(bench: Bench, genes: I32) -> tuple[Plan, Objective] | None:
    """Return the plan of the genes and its objective as the decoder counts it; None when a task fits nowhere."""
    state, outcome, cost = bench.state.copy(), bench.outcome.copy(), np.zeros(LEVELS, np.int64)
    order = np.zeros(len(bench.problem.tasks), np.int32)
    no_shots, no_costs, nowhere = np.zeros((1, 1), np.int32), np.zeros(1, np.int64), np.zeros(1, np.int32)
    begin(bench.tables, state, genes, outcome, cost)
    placed = decode_from(
        bench.tables,
        state,
        genes,
        outcome,
        cost,
        bench.room_to_work(),
        order,
        0,
        NO_LIMIT,
        no_shots,
        no_costs,
        nowhere,
        0,
    )
    if placed < 0 or cost[0] >= OUTSIDE:
        return None
    count_levels(bench.tables, state, genes, outcome, cost)
    return plan_from(bench, genes, state, outcome), objective_from(cost)


def objective_from(cost: I64) -> Objective:
    """Return the levels as the decoder counts them."""
    return Objective(*(int(level) for level in cost))


def plan_from(bench: Bench, genes: I32, state: I32, outcome: I32) -> Plan:
    """Return arrays as a plan."""
    problem, tables = bench.problem, bench.tables
    lain = outcome.reshape(len(problem.tasks), -1)
    modes = genes[tables[at.G_TASK] :].reshape(len(problem.tasks), -1)[:, at.G_MODE]
    tasks = [
        PlannedTask(
            task=problem.tasks[k].id,
            start_min=int(row[at.D_START]),
            end_min=int(row[at.D_END]),
            mode=int(modes[k]),
            people=tuple(sorted(problem.people[person].id for person in row[at.D_CREW :] if person >= 0)),
        )
        for k, row in enumerate(lain)
        if row[at.D_START] >= 0
    ]
    vehicles = genes[tables[at.G_VEHICLE] : tables[at.G_VEHICLE] + len(problem.departures)]
    return Plan(
        tasks=tuple(sorted(tasks, key=lambda planned: (planned.start_min, planned.task))),
        allotment=tuple(
            (departure.id, problem.vehicles[vehicle].id if vehicle >= 0 else None)
            for departure, vehicle in zip(problem.departures, vehicles, strict=True)
        ),
        breaks=tuple(_rests(bench, state)),
    )


def _rests(bench: Bench, state: I32) -> list[PlannedBreak]:
    tables, people = bench.tables, bench.problem.people
    rows = state[: len(people) * tables[at.S_PERSON_ROW]].reshape(len(people), -1)
    starts = [
        (person, b, int(rows[k, at.REST_AT + b])) for k, person in enumerate(people) for b in range(len(person.breaks))
    ]
    return [PlannedBreak(person.id, b, start) for person, b, start in starts if start >= 0]
