"""What a plan says of itself in words: why a task begins then, what a new plan changes and why."""

from __future__ import annotations

from collections.abc import Iterable

from keyhook.phrases import say
from keyhook.turnaround.compose import Clock
from keyhook.turnaround.plan import Plan, vehicle_under
from keyhook.turnaround.problem import Problem
from keyhook.turnaround.reasons import Reason


def because_text(problem: Problem, plan: Plan, reasons: Iterable[Reason], clock: Clock, language: str = "en") -> str:
    """Return reasons as one sentence: 'wash bay busy until 11:40; Pansy Dribblecombe on break until 11:45'."""
    told = [say(f"day_plan.because.{one.code}", _values(problem, plan, one, clock), language) for one in reasons]
    return say("day_plan.because.join", language=language).join(dict.fromkeys(told))


def task_text(problem: Problem, plan: Plan, task: str) -> str:
    """Return how people call a task: its name, with the vehicle it is done on."""
    known = problem.task_by_id.get(task)
    if known is None:
        return task
    vehicle = vehicle_under(known, plan.vehicle_of) or known.departure
    return f"{known.name or known.kind} ({vehicle})" if vehicle else known.name or known.kind


def person_text(problem: Problem, person: str) -> str:
    """Return the name of somebody."""
    known = problem.person_by_id.get(person)
    return known.name or known.id if known is not None else person


def _values(problem: Problem, plan: Plan, reason: Reason, clock: Clock) -> dict[str, object]:
    return {
        "at": clock.says(reason.minute),
        "task": task_text(problem, plan, reason.task),
        "person": person_text(problem, reason.person),
        "place": reason.place.replace("_", " "),
        "vehicle": reason.vehicle,
        "lag_min": reason.lag_min,
    }
