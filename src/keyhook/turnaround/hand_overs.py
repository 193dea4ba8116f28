"""The hand-overs of a day by themselves: a part small enough to be proven, and no dearer than the whole day."""

from __future__ import annotations

from dataclasses import replace

from keyhook.turnaround.bound import earliest_ends_min, quickest_min
from keyhook.turnaround.plan import Plan
from keyhook.turnaround.problem import Departure, Person, Problem, Suits, Task, Vehicle


def hand_overs_alone(problem: Problem) -> Problem:
    """Return the day with nothing but the tasks of its departures.

    Every departure has a vehicle of its own, which is ready for each task as soon as the readiest of those that suit
    could be if nobody else wanted hands or places. Each plan of the day is, as far as it goes, a plan of this part
    with the same late hand-overs or fewer: what the part must cost, the day must cost.
    """
    tasks = [task for departure in problem.departures for task in _tasks_of(problem, departure)]
    skills = {mode.skill for task in tasks for mode in task.modes}
    served = [departure for departure in problem.departures if departure.vehicles]
    return replace(
        problem,
        people=tuple(_with_work_begun(problem, one) for one in problem.people if one.skills & skills),
        vehicles=tuple(Vehicle(departure.id) for departure in served),
        tasks=tuple(tasks),
        departures=tuple(
            replace(one, vehicles=(Suits(one.id),) if one.vehicles else (), allotted=None) for one in problem.departures
        ),
        held=(),
    )


def plan_of_hand_overs(part: Problem, plan: Plan) -> Plan:
    """Return what a plan of the day says of the hand-overs alone."""
    people = part.person_by_id
    return Plan(
        tasks=tuple(planned for planned in plan.tasks if planned.task in part.task_by_id),
        allotment=tuple((name, name if vehicle is not None else None) for name, vehicle in plan.allotment),
        breaks=tuple(rest for rest in plan.breaks if rest.person in people),
    )


def _tasks_of(problem: Problem, departure: Departure) -> list[Task]:
    ends = [earliest_ends_min(problem, departure.id, suits.vehicle) for suits in departure.vehicles]
    if not ends:
        return []
    return [
        replace(
            task,
            release_min=min(way[task.id] for way in ends) - quickest_min(problem, task),
            after=tuple(link for link in task.after if not link.on_vehicle and _is_of_departure(problem, link.what)),
            not_by=tuple(link for link in task.not_by if not link.on_vehicle and _is_of_departure(problem, link.what)),
        )
        for task in problem.tasks_of_departure[departure.id]
    ]


def _is_of_departure(problem: Problem, name: str) -> bool:
    departure = problem.task_by_id[name].departure
    return departure is not None and bool(problem.departure_by_id[departure].vehicles)


def _with_work_begun(problem: Problem, person: Person) -> Person:
    """Return the person, away while they are busy with work that has begun and is left out."""
    begun = [task.fixed for task in problem.tasks if task.fixed is not None and task.departure is None]
    busy = [(fixed.start_min, fixed.end_min) for fixed in begun if person.id in fixed.people]
    return replace(person, away=(*person.away, *busy))
