"""A day planned again, in words: what has happened, and what the new plan changes for whom."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping

from keyhook.errors import BadInput
from keyhook.phrases import say
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.events import (
    Damage,
    Event,
    PartyAt,
    PersonAway,
    PlaceClosed,
    ReturnsAt,
    TaskDone,
    TaskRuns,
    VehicleOut,
    WalkIn,
)
from keyhook.turnaround.plan import Plan
from keyhook.turnaround.problem import Problem
from keyhook.turnaround.recount import leaves_at
from keyhook.turnaround.replan import changes
from keyhook.turnaround.telling import first_name, task_text, why_leaves

#: So many lines tell what a plan changes, and so many people are named in them.
MOST_CHANGES, MOST_PEOPLE = 7, 4


# ---------------------------------------------------------------- what has happened


def event_text(problem: Problem, plan: Plan, event: Event, clock: Clock) -> str:
    """Return what has happened as one sentence; ``plan`` is the one that people held then."""
    key, values = _told(problem, plan, event, clock)
    return say(f"day_news.{key}", values)


def _told(problem: Problem, plan: Plan, event: Event, clock: Clock) -> tuple[str, dict[str, object]]:
    match event:
        case ReturnsAt():
            return "return", {"vehicle": event.vehicle, "at": clock.says(event.minute)}
        case PersonAway():
            known = problem.person_by_id.get(event.person)
            whole = known is None or event.away[1] >= known.shift[1] + known.overtime_max_min
            return f"person{'' if whole else '_until'}", {
                "person": first_name(problem, event.person),
                "from": clock.says(event.away[0]),
                "until": clock.says(event.away[1]),
            }
        case TaskDone():
            return "task_done", {"task": task_text(problem, plan, event.task), "at": clock.says(event.minute)}
        case TaskRuns():
            return "task", {"task": task_text(problem, plan, event.task), "at": clock.says(event.end_min)}
        case _:
            return _told_of_things(event, clock)


def _told_of_things(event: Event, clock: Clock) -> tuple[str, dict[str, object]]:
    match event:
        case Damage():
            return "damage", {"vehicle": event.vehicle, "minutes": event.minutes}
        case VehicleOut():
            return "out", {"vehicle": event.vehicle}
        case PartyAt():
            return "party", {"departure": event.departure, "at": clock.says(event.minute)}
        case PlaceClosed():
            first, last = event.closed
            place = event.place.replace("_", " ")
            return "closed", {"place": place, "from": clock.says(first), "until": clock.says(last)}
        case WalkIn():
            free = ", ".join(sorted(vehicle.id for vehicle in event.vehicles))
            return "walk_in_free" if free else "walk_in", {
                "departure": event.departure.id,
                "at": clock.says(event.departure.promised_min),
                "tried": ", ".join(suits.vehicle for suits in event.departure.vehicles),
                "free": free,
            }
        case _:
            wrong = "Nothing is known of this kind of event"
            raise BadInput(wrong, seen=type(event).__name__, todo="Use one of the events")


# ---------------------------------------------------------------- what changes


def change_lines(
    problem: Problem, held: Plan, plan: Plan, clock: Clock, lacks: Mapping[str, str] | None = None
) -> tuple[str, ...]:
    """Return what a new plan changes, the worst first, in a few lines.

    Parameters
    ----------
    problem
        The day from now on.
    held, plan
        The plan people hold, and the new one.
    lacks
        What departures that are put off lack, by departure, in words.
    """
    found = changes(problem, held, plan)
    lines = []
    for name, then, now in found.swapped:
        key = "put_off" if now is None else "served" if then is None else "swapped"
        lines.append(_change(key, departure=name, old=then, new=now))
    lines += _walked_in(problem, held, plan, clock, lacks or {})
    lines += [_later(problem, plan, name, minutes, clock) for name, minutes in found.later]
    for name, minutes in found.sooner:
        leaves = leaves_at(problem, plan, name) or 0
        lines.append(_change("sooner", departure=name, minutes=minutes, at=clock.says(leaves)))
    if found.added:
        lines.append(_change("added", tasks=", ".join(task_text(problem, plan, task) for task in found.added[:3])))
    if found.dropped:
        lines.append(_change("dropped", count=len(found.dropped)))
    if found.moved or found.handed:
        touched = {*found.moved, *found.handed}
        kept = len([one for one in plan.tasks if one.task not in touched])
        moved = _change("moved", count=len(found.moved), handed=len(found.handed), kept=kept)
        people = most_changed(problem, held, plan, touched)
        lines.append(f"{moved} {_change('whose', people=people)}" if people else moved)
    head, tail = lines[: MOST_CHANGES - 1], lines[MOST_CHANGES - 1 :]
    return (*head, *tail[-1:]) if lines else (_change("nothing"),)


def most_changed(problem: Problem, held: Plan, plan: Plan, touched: Collection[str]) -> str:
    """Return whose list changes most, with how many of the tasks that are ``touched`` come, go or begin otherwise."""
    counted = Counter[str]()
    for task in touched:
        before, after = held.by_task.get(task), plan.by_task.get(task)
        counted.update({*(before.people if before else ()), *(after.people if after else ())})
    most = sorted(counted.items(), key=lambda one: (-one[1], one[0]))[:MOST_PEOPLE]
    return ", ".join(f"{first_name(problem, name)} {count}" for name, count in most)


def _later(problem: Problem, plan: Plan, name: str, minutes: int, clock: Clock) -> str:
    """Return that a departure leaves later than it did, whether that is still in time, and on what it hangs."""
    leaves = leaves_at(problem, plan, name) or 0
    late = leaves - problem.departure_by_id[name].due
    key = "later" if late > 0 else "later_in_time"
    said = _change(key, departure=name, minutes=minutes, at=clock.says(leaves), late=late)
    return f"{said} {why_leaves(problem, plan, name, clock)}".strip()


def _walked_in(problem: Problem, held: Plan, plan: Plan, clock: Clock, lacks: Mapping[str, str]) -> list[str]:
    """Return what became of departures that the plan people hold does not know."""
    lines = []
    for name, vehicle in plan.allotment:
        if name in held.vehicle_of:
            continue
        if vehicle is not None:
            leaves = leaves_at(problem, plan, name) or 0
            late = leaves - problem.departure_by_id[name].due
            key = "walk_in_late" if late > 0 else "walk_in"
            lines.append(_change(key, departure=name, new=vehicle, at=clock.says(leaves), late=late))
        else:
            tried = ", ".join(suits.vehicle for suits in problem.departure_by_id[name].vehicles)
            lines.append(_change("walk_in_none", departure=name, tried=tried, lack=lacks.get(name, "")).strip())
    return lines


def _change(key: str, **values: object) -> str:
    return say(f"day_news.change.{key}", values)
