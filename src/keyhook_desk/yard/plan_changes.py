"""What a move by hand would do, before it is kept: the rules it would break, in words, and who would leave later."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

from keyhook.errors import UnknownName
from keyhook.phrases import say
from keyhook.turnaround import telling
from keyhook.turnaround.checker import Violation, violations
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.plan import Plan, PlannedTask, vehicle_under
from keyhook.turnaround.problem import crew_minutes
from keyhook.turnaround.recount import leaves_at, objective
from keyhook_desk.yard.plan_reading import Laid


@dataclass(frozen=True)
class Effect:
    """A plan with one task moved: rules it breaks, weighted minutes of lateness it adds, departures that shift."""

    plan: Plan
    planned: PlannedTask
    broken: tuple[str, ...]
    lateness_min: int
    shifts: tuple[tuple[str, int], ...]
    says: str


def effect_of(
    laid: Laid, clock: Clock, task: str, person: str, start_min: int, *, instead_of: str = "", now_min: int = 0
) -> Effect:
    """Return what moving a task to a minute and a person does.

    Parameters
    ----------
    person, instead_of
        Who should do it (nobody named: as planned), and instead of whom when several do it together.
    now_min
        Nothing can be moved to before this minute.

    Raises
    ------
    UnknownName
        The plan has no such task, or the day no such person.
    """
    before = laid.plan.by_task.get(task)
    if before is None:
        raise UnknownName("The plan has no such task", seen=task, todo="Choose one of the plan")
    if person and person not in laid.problem.person_by_id:
        raise UnknownName("Nobody of that name works on this day", seen=person, todo="Choose somebody of the day")
    people = _people(before, person, instead_of)
    mode = laid.problem.task_by_id[task].modes[before.mode]
    length = crew_minutes(mode, tuple(laid.problem.person_by_id[name].pace_factor for name in people))
    planned = PlannedTask(task, start_min, start_min + length, before.mode, people)
    plan = dataclasses.replace(laid.plan, tasks=tuple(planned if one.task == task else one for one in laid.plan.tasks))
    broken = [in_words(laid, clock, found) for found in violations(laid.problem, plan)]
    if start_min < now_min and planned != before:
        broken.insert(0, say("plan_rules.over", {"now": at(clock, now_min)}))
    costs = [objective(laid.problem, one).lateness for one in (laid.plan, plan)]
    return Effect(plan, planned, tuple(dict.fromkeys(broken)), costs[1] - costs[0], _shifts(laid, plan), says=say(
        "plan_rules.move",
        {
            "task": name_of(laid, task), "from": at(clock, before.start_min), "to": at(clock, start_min),
            "who": people_of(laid, before.people), "people": people_of(laid, people),
        },
    ))  # fmt: skip


def _people(before: PlannedTask, person: str, instead_of: str) -> tuple[str, ...]:
    if not person or person in before.people or not before.people:
        return before.people
    leaves = instead_of if instead_of in before.people else before.people[0]
    return tuple(sorted({*before.people, person} - {leaves}))


def _shifts(laid: Laid, plan: Plan) -> tuple[tuple[str, int], ...]:
    found = []
    for departure in laid.problem.departures:
        then, now = (leaves_at(laid.problem, one, departure.id) for one in (laid.plan, plan))
        if then is not None and now is not None and then != now:
            found.append((departure.id, now - then))
    return tuple(found)


# ---------------------------------------------------------------- words


def at(clock: Clock, minute: int) -> str:
    """Return a minute as the clock shows it."""
    return clock.says(minute)


def name_of(laid: Laid, task: str) -> str:
    """Return what a task is called, with its vehicle."""
    known = laid.problem.task_by_id.get(task)
    if known is None:
        return task
    vehicle = vehicle_under(known, laid.plan.vehicle_of)
    return f"{known.name or known.kind} ({vehicle})" if vehicle else known.name or known.kind


def people_of(laid: Laid, people: tuple[str, ...]) -> str:
    """Return who does something, by first names."""
    return " and ".join(first_name(laid, name) for name in people) or say("plan_rules.nobody")


def first_name(laid: Laid, person: str) -> str:
    """Return the first name of a person."""
    return telling.first_name(laid.problem, person)


def in_words(laid: Laid, clock: Clock, found: Violation) -> str:
    """Return a broken rule in words that a person at the desk reads."""
    return telling.broken_text(laid.problem, laid.plan, found, clock)
