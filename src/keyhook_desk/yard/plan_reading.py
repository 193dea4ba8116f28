"""Reading plans: the one that people hold, the proposal that waits, what was marked, and the clock of the day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from keyhook.errors import UnknownName
from keyhook.turnaround import begun
from keyhook.turnaround.begun import not_begun, over_before
from keyhook.turnaround.clock import Clock
from keyhook.turnaround.documents import day_of, plan_of
from keyhook.turnaround.events import Event, TaskDone, TaskRuns
from keyhook.turnaround.plan import Plan
from keyhook.turnaround.problem import Problem
from keyhook.turnaround.replan import day_from_now
from keyhook_desk import clock
from keyhook_desk.people.models import User
from keyhook_desk.web.kept import Kept
from keyhook_desk.yard.models import HeldPlan, Proposal, StaffRow, WorkMark
from keyhook_desk.yard.services import the_depot

#: The plan of a proposal that is proposed; those beside it have names of their own.
PROPOSED = "least_late"
#: A search that has not been heard of for so long has stopped.
SILENCE = dt.timedelta(seconds=25)


@dataclass(frozen=True)
class Laid:
    """A plan with the day it was made for; ``pins`` are ``tasks`` (ids) and ``vehicles`` (departure to vehicle)."""

    problem: Problem
    plan: Plan
    figures: Mapping[str, Any] = field(default_factory=dict)
    pins: Mapping[str, Any] = field(default_factory=dict)
    news: tuple[Mapping[str, Any], ...] = ()

    @cached_property
    def pinned_tasks(self) -> frozenset[str]:
        """Tasks that somebody has pinned."""
        return frozenset(self.pins.get("tasks", ()))

    @cached_property
    def pinned_vehicles(self) -> Mapping[str, str]:
        """Vehicles that somebody has pinned, by departure."""
        return dict(self.pins.get("vehicles", {}))


_READ: Kept[Laid] = Kept(16)


def read(document: Mapping[str, Any]) -> Laid:
    """Return what a document of a plan holds."""
    return Laid(
        day_of(document["problem"]),
        plan_of(document["plan"]),
        document.get("figures", {}),
        document.get("pins", {}),
        tuple(document.get("news", ())),
    )


def chosen_of(document: Mapping[str, Any], choice: str) -> dict[str, Any]:
    """Return the document of a proposal with the plan that was chosen of it, alone.

    Raises
    ------
    UnknownName
        The proposal has no such plan.
    """
    alone = {key: value for key, value in document.items() if key != "others"}
    if choice in {"", PROPOSED}:
        return alone
    other = next((one for one in document.get("others", ()) if one["name"] == choice), None)
    if other is None:
        raise UnknownName("This proposal has no such plan", seen=choice[:30], todo="Choose one of those it shows")
    return {**alone, "plan": other["plan"], "figures": other["figures"]}


def to_hold(document: Mapping[str, Any], choice: str) -> dict[str, Any]:
    """Return the document to keep of a proposal; what only the plan proposed has is worked out once another is held."""
    chosen = chosen_of(document, choice)
    if choice in {"", PROPOSED}:
        return chosen
    return {**chosen, "figures": {key: value for key, value in chosen["figures"].items() if key != "departures"}}


def held(day: dt.date) -> HeldPlan | None:
    """Return the plan of a day that people hold, None while there is none."""
    return HeldPlan.objects.filter(day=day).select_related("made_by").first()


def read_held(row: HeldPlan) -> Laid:
    """Return what the held plan says; read once for each version."""
    minutes = tuple((one["task"], one["start_min"]) for one in row.document["plan"]["tasks"])
    key = (row.pk, row.version, row.made_at, len(row.document["figures"]), hash(minutes))
    return _READ.answer(key, lambda: read(row.document))


def open_proposal(day: dt.date) -> Proposal | None:
    """Return the proposal of a day that waits for an answer."""
    return Proposal.objects.filter(day=day, answer="").select_related("made_by").first()


def has_stopped(row: Proposal) -> bool:
    """Tell whether a search says it runs and yet has not been heard of for too long: its process was ended."""
    if row.state not in {Proposal.State.QUEUED, Proposal.State.RUNNING} or row.beat_at is None:
        return False
    return clock.running() - row.beat_at > SILENCE


def is_searched(row: Proposal, held_row: HeldPlan) -> bool:
    """Tell whether the search of a proposal goes on and is about the plan that people hold."""
    runs = row.state in {Proposal.State.QUEUED, Proposal.State.RUNNING}
    return runs and row.based_on == held_row.version and not has_stopped(row)


def taken_along(row: Proposal, own: int) -> Proposal | None:
    """Return the proposal whose news one with so many of its ``own`` has taken along, None when there was none."""
    if len(row.events) <= own:
        return None
    overtaken = Proposal.objects.filter(day=row.day, pk__lt=row.pk, answer=Proposal.Answer.OVERTAKEN)
    return overtaken.select_related("made_by").first()


def clock_of(day: dt.date) -> Clock:
    """Return the clock of a day at this depot."""
    return Clock(day, the_depot().zone)


def minute_now(day: dt.date) -> int:
    """Return the present minute of a day: below 0 before it, beyond its minutes after it."""
    return clock_of(day).minute(clock.now())


def staff_of(user: User) -> StaffRow | None:
    """Return the person of the plan that a login stands for: the one of the same name."""
    return StaffRow.objects.filter(name=user.get_username()).first()


def marks_of(day: dt.date, task: str = "") -> list[WorkMark]:
    """Return what was marked on a day (of one task), in the order in which it happened, and still stands.

    What a gate marked and its opening took back stands no longer, as if it had never been said.
    """
    told = WorkMark.objects.filter(day=day).select_related("by")
    stand: list[WorkMark] = []
    for mark in told.filter(task=task) if task else told:
        if mark.kind == WorkMark.Kind.REOPENED:
            stand = [one for one in stand if not (one.from_gate and one.task == mark.task)]
        else:
            stand.append(mark)
    return stand


# ---------------------------------------------------------------- the day as it stands


def problem_now(day: dt.date, events: tuple[Event, ...] = ()) -> Problem | None:
    """Return the rest of the day as it stands: what was marked is done or runs; None while no plan is held."""
    row = held(day)
    if row is None:
        return None
    laid = read_held(row)
    return as_it_stands(laid, marks_of(day), clock_of(day), minute_now(day), events)


def as_it_stands(
    laid: Laid, marks: list[WorkMark], day_clock: Clock, now_min: int, events: tuple[Event, ...] = ()
) -> Problem:
    """Return the rest of a day from its plan, the marks and what else has happened."""
    told = {event.task for event in events if isinstance(event, TaskDone | TaskRuns)}
    marked = tuple(event for event in events_of(laid, marks, day_clock, now_min) if event.task not in told)
    waiting = not_begun(laid.problem, laid.plan, now_min, events) - {event.task for event in marked}
    return day_from_now(laid.problem, laid.plan, now_min, (*marked, *events), waiting)


def events_of(laid: Laid, marks: list[WorkMark], day_clock: Clock, now_min: int) -> list[TaskDone | TaskRuns]:
    """Return what marks say; whatever a begun task waits for must be over, marked or not."""
    found: dict[str, TaskDone | TaskRuns] = {}
    for mark in marks:
        if mark.task not in laid.problem.task_by_id or mark.kind == WorkMark.Kind.PROBLEM:
            continue
        minute = max(1, min(now_min, day_clock.minute(mark.at)))
        if mark.kind == WorkMark.Kind.DONE:
            found[mark.task] = TaskDone(mark.task, minute, _people(laid, mark))
        elif not isinstance(found.get(mark.task), TaskDone):
            end = max(now_min + 1, minute + _length(laid, mark.task))
            found[mark.task] = TaskRuns(mark.task, minute, end, _people(laid, mark))
    over = over_before(laid.problem, laid.plan, now_min, found.values())
    return [*found.values(), *over]


def _people(laid: Laid, mark: WorkMark) -> tuple[str, ...]:
    """Return who did it: those of the plan, unless one alone was planned and another one says they did it."""
    planned = laid.plan.by_task.get(mark.task)
    several = planned is not None and len(planned.people) > 1
    if mark.from_gate or several or mark.person not in laid.problem.person_by_id:
        return ()
    return (mark.person,)


def _length(laid: Laid, task: str) -> int:
    planned = laid.plan.by_task.get(task)
    if planned is not None:
        return planned.end_min - planned.start_min
    return laid.problem.task_by_id[task].modes[0].duration_min


def all_before(laid: Laid, task: str) -> set[str]:
    """Return everything a task waits for, directly or not."""
    return begun.all_before(laid.problem, laid.plan, task)
