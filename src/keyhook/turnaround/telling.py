"""What a plan says of itself in words: why a task begins then, what a day lacks, which rule is broken."""

from __future__ import annotations

from collections.abc import Iterable

from keyhook.errors import UnknownName
from keyhook.phrases import phrase_book, say
from keyhook.turnaround.checker import Violation
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.plan import Plan, vehicle_under
from keyhook.turnaround.problem import Problem
from keyhook.turnaround.reasons import Reason, chain_to
from keyhook.turnaround.remedy import Lack, Remedy


def because_text(problem: Problem, plan: Plan, reasons: Iterable[Reason], clock: Clock, language: str = "en") -> str:
    """Return reasons as one sentence: 'wash bay is busy until 11:40; Pansy Dribblecombe is on break until 11:45'."""
    told = [say(f"day_plan.because.{one.code}", _values(problem, plan, one, clock), language) for one in reasons]
    return say("day_plan.because.join", language=language).join(dict.fromkeys(told))


def why_leaves(problem: Problem, plan: Plan, departure: str, clock: Clock, language: str = "en") -> str:
    """Return on what it hangs when a departure leaves: where the chain of its tasks begins; empty when put off."""
    chain = chain_to(problem, plan, departure)
    if not chain:
        return ""
    task, reason = chain[-1]
    values = {
        "task": task_text(problem, plan, task),
        "at": clock.says(plan.by_task[task].start_min),
        "because": because_text(problem, plan, (reason,), clock, language),
        "from": clock.says(reason.minute),
    }
    return say(f"day_plan.because.{'hangs_free' if reason.code == 'free' else 'hangs'}", values, language)


def task_text(problem: Problem, plan: Plan, task: str) -> str:
    """Return how people call a task: its name, with the vehicle it is done on."""
    known = problem.task_by_id.get(task)
    if known is None:
        return task
    vehicle = vehicle_under(known, plan.vehicle_of) or known.departure
    return f"{known.name or known.kind} ({vehicle})" if vehicle else known.name or known.kind


def lack_text(problem: Problem, lack: Lack, language: str = "en") -> str:
    """Return what a departure or a day lacks and the smallest thing that would be enough."""
    what = lack_what(problem, lack, language)
    return f"{what} {remedies_text(lack.remedies, language)}" if lack.tasks else what


def lack_what(problem: Problem, lack: Lack, language: str = "en") -> str:
    """Return what a departure or a day lacks, in one sentence."""
    if lack.remedies == (Remedy("vehicle"),):
        return say("day_plan.lack.no_vehicle", {"departure": lack.departure}, language)
    if not lack.tasks:
        return say("day_plan.lack.dear", {"departure": lack.departure}, language)
    values = {"departure": lack.departure, "task": task_text(problem, Plan((), ()), lack.tasks[0])}
    return say(f"day_plan.lack.{'departure' if lack.departure else 'day'}", values, language)


def remedies_text(remedies: Iterable[Remedy], language: str = "en") -> str:
    """Return what would be enough, the alternatives in one sentence."""
    told = [
        say(f"day_plan.lack.{one.kind}", {"what": skill_text(one.what), "minutes": one.minutes}, language)
        for one in remedies
    ]
    if not told:
        return say("day_plan.lack.nothing", language=language)
    return say("day_plan.lack.enough", {"remedies": say("day_plan.lack.or", language=language).join(told)}, language)


def skill_text(what: str) -> str:
    """Return how people call somebody with a skill, or a place."""
    return phrase_book().get(f"day_plan.skill.{what}", what.replace("_", " "))


def person_text(problem: Problem, person: str) -> str:
    """Return the name of somebody."""
    known = problem.person_by_id.get(person)
    return known.name or known.id if known is not None else person


def first_name(problem: Problem, person: str) -> str:
    """Return the first name of somebody."""
    known = problem.person_by_id.get(person)
    return (known.name.split(" ")[0] if known is not None and known.name else person).strip()


def broken_text(problem: Problem, plan: Plan, found: Violation, clock: Clock) -> str:
    """Return a broken rule in words that a person at the desk reads."""
    named = [task_text(problem, plan, name) for name in found.about if name in problem.task_by_id]
    who = next((first_name(problem, name) for name in found.about if name in problem.person_by_id), "")
    values = {
        "who": who,
        "one": named[0] if named else "",
        "two": named[-1] if named else "",
        "place": _place_of(problem, found),
        "closing": clock.says(problem.closing_min),
    }
    key = f"plan_rules.{found.family}" + ("_person" if found.family == "crew" and who else "")
    try:
        return say(key, values)
    except UnknownName:
        return found.says


def _place_of(problem: Problem, found: Violation) -> str:
    for name in found.about:
        task = problem.task_by_id.get(name)
        if task is not None and task.place:
            return task.place.replace("_", " ")
    return next((name for name in found.about if name in problem.vehicle_by_id), "")


def _values(problem: Problem, plan: Plan, reason: Reason, clock: Clock) -> dict[str, object]:
    return {
        "at": clock.says(reason.minute),
        "task": task_text(problem, plan, reason.task),
        "person": person_text(problem, reason.person),
        "place": reason.place.replace("_", " "),
        "vehicle": reason.vehicle,
        "lag_min": reason.lag_min,
    }
