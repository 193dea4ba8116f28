"""What a plan costs, worked out from the plan and the day alone; it trusts no solver's own sum."""

from __future__ import annotations

from collections.abc import Mapping

from keyhook.turnaround.plan import Objective, Plan, PlannedTask
from keyhook.turnaround.problem import Problem, Task


def objective(problem: Problem, plan: Plan) -> Objective:
    """Return what the plan costs, level by level, from the plan alone."""
    return Objective(
        lateness=sum(_lateness_cost(problem, plan, departure.id) for departure in problem.departures),
        swaps=sum(_swap_cost(problem, plan, departure.id) for departure in problem.departures),
        overtime=sum(overtime_by_person(problem, plan).values()),
        moved=sum(1 for held in problem.held if _is_moved(problem, plan, held.task)),
    )


def late_by_departure(problem: Problem, plan: Plan) -> dict[str, int]:
    """Return minutes late for every departure that is served."""
    late = {}
    for departure in problem.departures:
        leaves = leaves_at(problem, plan, departure.id)
        if leaves is not None:
            late[departure.id] = max(0, leaves - departure.due)
    return late


def overtime_by_person(problem: Problem, plan: Plan) -> dict[str, int]:
    """Return minutes worked after the end of the shift, for everybody."""
    last = {person.id: person.shift[1] for person in problem.people}
    for planned in plan.tasks:
        for person in planned.people:
            last[person] = max(last[person], planned.end_min)
    return {person.id: last[person.id] - person.shift[1] for person in problem.people}


def planned_tasks(problem: Problem, plan: Plan) -> list[tuple[Task, PlannedTask]]:
    """Return the tasks of a plan beside what the plan says of them."""
    return [(problem.task_by_id[planned.task], planned) for planned in plan.tasks]


def leaves_at(problem: Problem, plan: Plan, departure: str) -> int | None:
    """Return the minute at which a departure can leave; None when it is put off."""
    vehicle = plan.vehicle_of.get(departure)
    if vehicle is None:
        return None
    ends = [
        planned.end_min
        for task, planned in planned_tasks(problem, plan)
        if task.counts and (task.departure == departure or (task.departure is None and task.vehicle == vehicle))
    ]
    return max(ends, default=problem.opening_min)


def _lateness_cost(problem: Problem, plan: Plan, name: str) -> int:
    departure = problem.departure_by_id[name]
    leaves = leaves_at(problem, plan, name)
    if leaves is None:
        return departure.postpone_cost or 0
    due = departure.promised_min if departure.due_min is None else departure.due_min
    return departure.weight * max(0, leaves - due)


def _swap_cost(problem: Problem, plan: Plan, name: str) -> int:
    departure = problem.departure_by_id[name]
    vehicle = plan.vehicle_of.get(name)
    if vehicle is None:
        return 0
    costs: Mapping[str, int] = {suits.vehicle: suits.cost for suits in departure.vehicles}
    swapped = departure.allotted is not None and departure.allotted != vehicle
    return costs.get(vehicle, 0) + (departure.swap_cost if swapped else 0)


def _is_moved(problem: Problem, plan: Plan, task: str) -> bool:
    held = next(held for held in problem.held if held.task == task)
    planned = plan.by_task.get(task)
    if planned is None:
        return False
    far = abs(planned.start_min - held.start_min) > problem.held_tolerance_min
    return far or tuple(sorted(held.people)) != tuple(sorted(planned.people))
