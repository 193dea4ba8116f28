"""What the pages of a plan show: figures in words, what a proposal changes, the task that was picked."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from keyhook.phrases import phrase_book, say
from keyhook.turnaround import retelling
from keyhook.turnaround.chances import MORE_FROM_MIN
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.plan import vehicle_under
from keyhook.turnaround.reasons import chain_to, why_then
from keyhook.turnaround.recount import objective, overtime_by_person
from keyhook.turnaround.telling import because_text
from keyhook_desk.web.kept import Kept
from keyhook_desk.yard.models import HeldPlan, Proposal, WorkMark
from keyhook_desk.yard.plan_changes import at, first_name, name_of, people_of
from keyhook_desk.yard.plan_overs import percent_of
from keyhook_desk.yard.plan_reading import PROPOSED, Laid, chosen_of, has_stopped, read

#: Help that spares less is not worth a line [weighted min].
#: A promise is safe when it holds so often, and somebody is rung when it holds less often than that.
SAFE_PERCENT, RING_PERCENT = 90, 80
LEAST_HELP_MIN, MOST_HELPS, MOST_WHY = 1.0, 3, 4
_CHAINS: Kept[dict[str, tuple[str, ...]]] = Kept(16)
_PROPOSED: Kept[Laid] = Kept(12)


@dataclass(frozen=True)
class Told:
    """The figures of a plan in words."""

    served: int
    put_off: int
    safe: int
    ring: tuple[str, ...]
    late_min: int
    rule_min: int | None
    bound: str
    searched: str
    helps: tuple[str, ...]
    bottleneck: str
    safer: str
    overtime: tuple[str, ...]
    findings: tuple[str, ...]
    has_chances: bool
    draws: int
    put_off_min: int


def told_of(laid: Laid, clock: Clock) -> Told:
    """Return the figures of a plan in words."""
    figures, plan = laid.figures, laid.plan
    chances = figures.get("departures", {})
    served = [name for name, vehicle in plan.allotment if vehicle is not None]
    ring = sorted(
        (n for n, one in chances.items() if percent_of(one) < RING_PERCENT), key=lambda n: chances[n]["on_time"]
    )
    late = objective(laid.problem, plan).lateness
    extra = {name: minutes for name, minutes in overtime_by_person(laid.problem, plan).items() if minutes > 0}
    helps = [line for line in figures.get("what_if", ()) if line[1] >= LEAST_HELP_MIN][:MOST_HELPS]
    return Told(
        served=len(served),
        put_off=len(plan.allotment) - len(served),
        safe=sum(1 for one in chances.values() if percent_of(one) >= SAFE_PERCENT),
        ring=tuple(ring),
        late_min=late,
        rule_min=figures["rule"][0] if figures.get("rule") else None,
        bound=bound_words(late, figures.get("bound")),
        searched=f"{figures['seconds']:.0f} s" if figures.get("seconds") is not None else "",
        helps=tuple(
            help_words(what, spared, clock.says(max(MORE_FROM_MIN, laid.problem.opening_min))) for what, spared in helps
        ),
        bottleneck=bottleneck_words(laid, clock),
        safer=say("day_board.safer", _costs(figures)) if figures.get("this_or_cheapest") else "",
        overtime=tuple(f"{first_name(laid, name)} {minutes} min" for name, minutes in extra.items()),
        findings=tuple(figures.get("findings", ())),
        has_chances=bool(chances),
        draws=figures.get("draws", 0),
        put_off_min=max((one.postpone_cost or 0 for one in laid.problem.departures), default=0),
    )


def bound_words(late: int, bound: int | None) -> str:
    """Return what is known about how much better any plan could be."""
    if bound is None:
        return say("day_board.no_bound")
    if late <= bound:
        return say("day_board.proven")
    if bound > 0:
        return say("day_board.within", {"bound": bound, "late": late})
    return say("day_board.no_bound")


def _costs(figures: Mapping[str, Any]) -> dict[str, int]:
    (late, expected), (cheap_late, cheap_expected) = figures["this_or_cheapest"]
    return {"late": late, "expected": expected, "cheap_late": cheap_late, "cheap_expected": cheap_expected}


def bottleneck_words(laid: Laid, clock: Clock) -> str:
    """Return the task whose minutes count most, and why it is then; empty while nothing is late."""
    tight = laid.figures.get("bottlenecks") or []
    if not tight or tight[0][1] < LEAST_HELP_MIN or tight[0][0] not in laid.plan.by_task:
        return ""
    task, spared = tight[0]
    values = {
        "task": name_of(laid, task),
        "at": at(clock, laid.plan.by_task[task].start_min),
        "minutes": round(spared),
        "because": because_text(laid.problem, laid.plan, why_then(laid.problem, laid.plan, task), clock),
    }
    return say("day_plan.bottleneck", values)


def help_words(what: str, spared: float, from_: str) -> str:
    """Return what one more of something would spare; a person would be there ``from_`` then on."""
    kind, name = what.split(".", 1)
    words = name.replace("_", " ")
    if kind == "person":
        words = phrase_book().get(f"day_plan.skill.{name}", words)
    return say(f"day_plan.help_{kind}", {"what": words, "minutes": round(spared), "from": from_})


def chains_of(key: object, laid: Laid, clock: Clock) -> dict[str, tuple[str, ...]]:
    """Return, for each hand-over, what decides when it leaves, from the last task back."""
    return _CHAINS.answer((key, len(laid.plan.tasks)), lambda: _chains(laid, clock))


def _chains(laid: Laid, clock: Clock) -> dict[str, tuple[str, ...]]:
    found = {}
    for departure in laid.problem.departures:
        chain = chain_to(laid.problem, laid.plan, departure.id)[:MOST_WHY]
        found[departure.id] = tuple(
            say(
                "day_board.link",
                {
                    "task": name_of(laid, task),
                    "at": at(clock, laid.plan.by_task[task].start_min),
                    "because": because_text(laid.problem, laid.plan, (reason,), clock),
                },
            )
            for task, reason in chain
        )
    return found


# ---------------------------------------------------------------- a proposal


@dataclass(frozen=True)
class Shown:
    """A proposal as the page shows it; ``news`` is what it takes along from proposals that nobody answered."""

    row: Proposal
    state: str
    laid: Laid | None
    told: Told | None
    lines: tuple[str, ...]
    stale: bool
    seconds: int
    news: tuple[str, ...] = ()


def proposed(row: Proposal, choice: str = PROPOSED) -> Laid | None:
    """Return the plan of a proposal, or the one of that name beside it; None while there is none."""
    if row.document is None:
        return None
    document = chosen_of(row.document, choice)
    return _PROPOSED.answer((row.pk, row.best, row.seconds, row.state, choice), lambda: read(document))


def shown_of(row: Proposal | None, held: HeldPlan | None, laid: Laid | None, clock: Clock) -> Shown | None:
    """Return a proposal beside the plan that is held."""
    if row is None:
        return None
    new = proposed(row)
    state = "stopped" if has_stopped(row) else row.state
    lines = change_lines(laid, new, clock) if new is not None and laid is not None else ()
    stale = row.based_on != (held.version if held else 0)
    told = told_of(new, clock) if new else None
    news = tuple(one["said"] for one in row.task.get("fresh", ()) if one["said"] != row.reason)
    return Shown(row, state, new, told, lines, stale, round(row.seconds), news)


def change_lines(old: Laid, new: Laid, clock: Clock) -> tuple[str, ...]:
    """Return what a new plan changes, the worst first, in a few lines."""
    return retelling.change_lines(new.problem, old.plan, new.plan, clock, new.figures.get("lacks", {}))


# ---------------------------------------------------------------- one task


@dataclass(frozen=True)
class Picked:
    """The task somebody looks at."""

    task: str
    name: str
    vehicle: str
    start: str
    end: str
    minutes: int
    who: str
    people: tuple[str, ...]
    doers: tuple[tuple[str, str], ...]
    place: str
    why: str
    pinned: bool
    begun: bool
    can_do: tuple[tuple[str, str], ...]
    marks: tuple[WorkMark, ...]
    departure: str


def picked_of(laid: Laid, clock: Clock, task: str, marks: Sequence[WorkMark]) -> Picked | None:
    """Return a task of the plan with everything the panel says of it."""
    planned = laid.plan.by_task.get(task)
    if planned is None:
        return None
    known = laid.problem.task_by_id[task]
    skill = known.modes[planned.mode].skill if planned.mode < len(known.modes) else ""
    return Picked(
        task=task,
        name=known.name or known.kind,
        vehicle=vehicle_under(known, laid.plan.vehicle_of) or "",
        start=at(clock, planned.start_min),
        end=at(clock, planned.end_min),
        minutes=planned.end_min - planned.start_min,
        who=people_of(laid, planned.people),
        people=planned.people,
        doers=tuple((name, first_name(laid, name)) for name in planned.people),
        place=(known.place or "").replace("_", " "),
        why=because_text(laid.problem, laid.plan, why_then(laid.problem, laid.plan, task), clock),
        pinned=task in laid.pinned_tasks,
        begun=known.fixed is not None,
        can_do=tuple((p.id, first_name(laid, p.id)) for p in laid.problem.people if skill in p.skills),
        marks=tuple(mark for mark in marks if mark.task == task),
        departure=known.departure or "",
    )


@dataclass(frozen=True)
class Trouble:
    """A problem somebody told, with the task it is about and whose it is; open until the task goes on or is done."""

    mark: WorkMark
    name: str
    vehicle: str
    person: str
    doer: str
    is_open: bool
    in_plan: bool


def troubles_of(laid: Laid, marks: Sequence[WorkMark]) -> tuple[Trouble, ...]:
    """Return the problems of a day, the open ones first; ``marks`` are in the order in which they happened."""
    last = {mark.task: n for n, mark in enumerate(marks) if mark.kind != WorkMark.Kind.PROBLEM}
    found = []
    for number, mark in enumerate(marks):
        if mark.kind == WorkMark.Kind.PROBLEM:
            known = laid.problem.task_by_id.get(mark.task)
            name = (known.name or known.kind) if known else mark.task
            vehicle = (vehicle_under(known, laid.plan.vehicle_of) or "") if known else ""
            planned = laid.plan.by_task.get(mark.task)
            people = planned.people if planned else ()
            doer = mark.person if mark.person in people else next(iter(people), "")
            is_open = number > last.get(mark.task, -1)
            found.append(
                Trouble(mark, name, vehicle, first_name(laid, mark.person), doer, is_open, planned is not None)
            )
    return tuple(sorted(found, key=lambda one: not one.is_open))


def choices_of(laid: Laid, clock: Clock) -> Mapping[str, Any]:
    """Return what the forms of the news let somebody choose from."""
    problem, plan = laid.problem, laid.plan
    tasks = sorted(plan.tasks, key=lambda one: (one.start_min, one.task))
    return {
        "vehicles": [vehicle.id for vehicle in problem.vehicles if vehicle.id in _used(laid)],
        "people": [(person.id, person.name or person.id) for person in problem.people],
        "tasks": [(one.task, f"{at(clock, one.start_min)} {name_of(laid, one.task)}") for one in tasks],
        "departures": [(d.id, f"{d.id}, {at(clock, d.promised_min)}") for d in problem.departures],
        "places": [(place.id, place.id.replace("_", " ")) for place in problem.places],
    }


def _used(laid: Laid) -> set[str]:
    allotment = laid.plan.vehicle_of
    return {vehicle_under(laid.problem.task_by_id[one.task], allotment) or "" for one in laid.plan.tasks}


def token_of(held: HeldPlan | None, marks: int, hires: int, minute: int) -> str:
    """Return what tells whether the board has changed since it was drawn."""
    chances = "c" if held and held.document["figures"].get("departures") else ""
    return f"{held.version if held else 0}{chances}.{marks}.{hires}.{minute // 5}"


def day_words(day: dt.date) -> str:
    """Return a day as people say it."""
    return f"{day:%A} {day.day} {day:%B}"
