"""Changing plans: lay a day out, plan it again when it breaks, accept, refuse, move, pin, undo, and mark work.

Every plan that is kept has passed the checker of :mod:`keyhook.turnaround.checker` a moment before.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from functools import partial
from typing import Any

from django.db import IntegrityError, transaction

from keyhook.errors import BadInput, NoPlan, UnknownName
from keyhook.phrases import say
from keyhook.turnaround.checker import violations
from keyhook.turnaround.documents import day_document, event_document, plan_document
from keyhook.turnaround.events import Event
from keyhook.turnaround.recount import objective
from keyhook_desk import clock
from keyhook_desk.people.models import User
from keyhook_desk.people.rights import require
from keyhook_desk.web.errors import EditedMeanwhile
from keyhook_desk.web.history import record
from keyhook_desk.yard import plan_runs
from keyhook_desk.yard.gate_services import mark_ticked, prove_marked
from keyhook_desk.yard.models import HeldPlan, Proposal, WorkMark
from keyhook_desk.yard.plan_changes import Effect, effect_of
from keyhook_desk.yard.plan_reading import (
    PROPOSED,
    Laid,
    as_it_stands,
    clock_of,
    held,
    is_searched,
    marks_of,
    minute_now,
    problem_now,
    read,
    read_held,
    staff_of,
    to_hold,
)

__all__ = ["held", "problem_now", "staff_of"]
#: Documents of proposals are kept for so long; the history line stays.
KEEP_DOCUMENTS = dt.timedelta(days=8)
#: What people say of a task; that a gate is open again is written by the desk alone.
SAID = (WorkMark.Kind.STARTED, WorkMark.Kind.DONE, WorkMark.Kind.PROBLEM)
MOST_NOTE = 500
#: Figures that stay when somebody moves a task by hand; chances are worked out again.
OF_THE_DAY = frozenset({"rule", "bound", "seconds", "findings", "lacks"})


def lay_out(*, day: dt.date, by: User) -> Proposal:
    """Ask for a plan of the day from hires, staff and build sheets as they are; a search that runs is not doubled."""
    require(by, "plan.make")
    with transaction.atomic():
        row = _locked(day)
        running = Proposal.objects.filter(day=day, answer="", reason=AFRESH, based_on=row.version if row else 0)
        there = running.exclude(state=Proposal.State.FAILED).first()
        if there is not None and not plan_runs.has_stopped(there):
            return there
        Proposal.objects.filter(day__lt=day - KEEP_DOCUMENTS).update(document=None, task={})
        laid = read_held(row) if row else None
        before = Proposal.objects.filter(day=day, answer="").first()
        events = list(before.events) if before else []
        fresh = list(before.task.get("fresh", [])) if before else []
        news = [*(laid.news if laid else ()), *fresh]
        task = {"pins": dict(laid.pins) if laid else {}, "news": news, "fresh": fresh}
        return _open(day, row, by, AFRESH, events, task)


AFRESH = "Laid out from hires, staff and vehicles as they are"


def propose(
    *, day: dt.date, events: Sequence[Event], by: User, reason: str = "", pins: dict[str, Any] | None = None
) -> Proposal:
    """Plan the rest of the day again with what has happened; news of a proposal nobody answered is taken along.

    Without any news a search that runs already is not begun again.

    Raises
    ------
    UnknownName
        No plan is held that could be planned again, or the news names what the day has not.
    BadInput
        The news contradicts the day, or the day is over.
    """
    require(by, "plan.make")
    with transaction.atomic():
        row = _locked(day)
        if row is None:
            raise UnknownName("Nobody has planned this day yet", seen=day.isoformat(), todo="Plan the day first")
        laid, now_min = read_held(row), minute_now(day)
        if now_min >= laid.problem.closing_min:
            raise BadInput("This day is over", seen=day.isoformat(), todo="Plan a day that is still to come")
        before = Proposal.objects.filter(day=day, answer="").first()
        if before is not None and not events and pins is None and is_searched(before, row):
            return before
        told = list(before.events) if before else []
        told += [event_document(event) for event in events]
        known = [*(before.task.get("fresh", []) if before else []), _news(reason, by)] if reason else []
        problem = as_it_stands(laid, marks_of(day), clock_of(day), now_min, tuple(plan_runs.events_from(told)))
        task = {
            "problem": day_document(problem),
            "pins": laid.pins if pins is None else pins,
            "news": [*laid.news, *known],
            "fresh": known,
        }
        return _open(day, row, by, reason or "Planned again from now", told, task)


def _news(said: str, by: User) -> dict[str, str]:
    return {"said": said, "at": clock.now().isoformat(), "by": str(by)}


def _open(
    day: dt.date, row: HeldPlan | None, by: User, reason: str, events: list[dict[str, Any]], task: dict[str, Any]
) -> Proposal:
    """Open a proposal; one that nobody has answered yet is overtaken, and its search ends."""
    Proposal.objects.filter(day=day, answer="").update(answer=Proposal.Answer.OVERTAKEN)
    proposal = Proposal(
        day=day, based_on=row.version if row else 0, reason=reason[:300], events=events, task=task,
        made_at=clock.now(), made_by=by, beat_at=clock.running(),
    )  # fmt: skip
    try:
        with transaction.atomic():
            proposal.save()
    except IntegrityError as error:
        wrong = "Somebody else has begun to plan this day at the same moment"
        raise EditedMeanwhile(wrong, todo="Look at their plan, then tell yours") from error
    record(actor=by, action="plan", kind="day", name=day.isoformat(), said=reason)
    transaction.on_commit(partial(plan_runs.start, proposal.pk))
    return proposal


def _locked(day: dt.date) -> HeldPlan | None:
    return HeldPlan.objects.select_for_update().filter(day=day).first()


# ---------------------------------------------------------------- answers


def accept(*, proposal_id: int, seen_version: int, by: User, choice: str = "") -> HeldPlan:
    """Make a proposal the plan that people hold: the plan it proposes, or one beside it by its name.

    Raises
    ------
    EditedMeanwhile
        The plan has changed since, or the proposal was overtaken or answered; nothing is lost, both are there to see.
    NoPlan
        The search has not found a plan yet.
    UnknownName
        There is no such proposal, or it has no plan of that name.
    """
    require(by, "plan.make")
    with transaction.atomic():
        proposal = _proposal(proposal_id)
        row = _locked(proposal.day)
        if proposal.answer == Proposal.Answer.ACCEPTED and row is not None and proposal.became == row.version:
            return row
        _still_open(proposal)
        if proposal.document is None:
            raise NoPlan("There is no plan to keep yet", todo="Wait for the first one, it takes a few seconds")
        _unchanged(row, proposal.based_on, seen_version)
        document = to_hold(proposal.document, choice)
        if choice not in {"", PROPOSED}:
            proposal.reason = f"{proposal.reason[:250]} ({say(f'day_news.choice.{choice}').lower()})"
        return _hold(row, proposal, document, by)


def refuse(*, proposal_id: int, by: User) -> Proposal:
    """Leave the plan as it is; a search that still runs ends."""
    require(by, "plan.make")
    with transaction.atomic():
        proposal = _proposal(proposal_id)
        if proposal.answer == Proposal.Answer.REFUSED:
            return proposal
        _still_open(proposal)
        proposal.answer = Proposal.Answer.REFUSED
        proposal.save(update_fields=["answer"])
        said = f"refused: {proposal.reason}"
        record(actor=by, action="refuse", kind="day", name=proposal.day.isoformat(), said=said)
        return proposal


def _proposal(proposal_id: int) -> Proposal:
    found = Proposal.objects.select_for_update().filter(pk=proposal_id).first()
    if found is None:
        raise UnknownName("There is no such proposal", seen=proposal_id, todo="Look at the day again")
    return found


def _still_open(proposal: Proposal) -> None:
    if not proposal.answer:
        return
    newer = Proposal.objects.filter(day=proposal.day, pk__gt=proposal.pk).select_related("made_by").first()
    who = f" by {newer.made_by}: {newer.reason}" if newer else ""
    wrong = f"This proposal has been {proposal.answer} already{who}"
    raise EditedMeanwhile(wrong, todo="Look at the day as it is now and decide again")


def _unchanged(row: HeldPlan | None, based_on: int, seen: int) -> None:
    version = row.version if row else 0
    if version == based_on == seen:
        return
    who = f"{row.made_by} at {row.made_at:%H:%M} UTC" if row else "nobody"
    raise EditedMeanwhile(
        f"The plan was changed meanwhile by {who}", seen=f"version {version}", todo="Look at it and decide again"
    )


def _hold(row: HeldPlan | None, proposal: Proposal, document: dict[str, Any], by: User, undo_to: int = -1) -> HeldPlan:
    """Write a verified plan as the next version."""
    laid = read(document)
    if broken := violations(laid.problem, laid.plan):
        raise NoPlan("This plan breaks a rule of the day", seen=broken[0].says, todo="Plan again")
    before = row.document if row else None
    row = row or HeldPlan(day=proposal.day, version=0)
    row.undo_to = row.version if undo_to < 0 else undo_to
    row.version += 1
    row.document, row.made_at, row.made_by = document, clock.now(), by
    row.save()
    proposal.answer, proposal.state = Proposal.Answer.ACCEPTED, Proposal.State.READY
    proposal.document, proposal.became, proposal.undo_to = document, row.version, row.undo_to
    proposal.save()
    mark_ticked(row.day, laid)
    said = f"version {row.version}: {proposal.reason}"
    record(actor=by, action="accept", kind="day", name=row.day.isoformat(), said=said, before=before, after=document)
    if not document["figures"].get("departures"):
        transaction.on_commit(partial(plan_runs.start_chances, row.pk, row.version))
    return row


# ---------------------------------------------------------------- by hand


def try_move(*, day: dt.date, task: str, person: str, start_min: int, instead_of: str = "") -> Effect:
    """Return what moving a task would do, without doing it."""
    row = _held_or_unknown(held(day), day)
    return effect_of(
        read_held(row), clock_of(day), task, person, start_min, instead_of=instead_of, now_min=minute_now(day)
    )


def move(
    *, day: dt.date, seen_version: int, task: str, person: str, start_min: int, by: User, instead_of: str = ""
) -> HeldPlan:
    """Move a task to another minute or another person and pin it there.

    Raises
    ------
    BadInput
        The plan would break a rule; the error says which.
    EditedMeanwhile
        The plan has changed since it was seen.
    """
    require(by, "plan.make")
    with transaction.atomic():
        row = _held_or_unknown(_locked(day), day)
        _unchanged(row, row.version, seen_version)
        laid = read_held(row)
        effect = effect_of(laid, clock_of(day), task, person, start_min, instead_of=instead_of, now_min=minute_now(day))
        if effect.broken:
            raise BadInput(effect.broken[0], todo="Choose another time or person, or plan the rest around it")
        said = f"Moved by hand: {effect.says}"
        return _by_hand(row, laid, effect.plan, _with_task(laid.pins, task, pinned=True), said, by)


def around(
    *, day: dt.date, seen_version: int, task: str, person: str, start_min: int, by: User, instead_of: str = ""
) -> Proposal:
    """Ask for a plan in which a task is where somebody wants it and the rest makes room."""
    require(by, "plan.make")
    row = _held_or_unknown(held(day), day)
    _unchanged(row, row.version, seen_version)
    laid = read_held(row)
    effect = effect_of(laid, clock_of(day), task, person, start_min, instead_of=instead_of, now_min=minute_now(day))
    wish = {"task": task, "start_min": effect.planned.start_min, "end_min": effect.planned.end_min}
    wish["people"] = list(effect.planned.people)
    pins = {**_with_task(laid.pins, task, pinned=True), "wish": wish}
    return propose(day=day, events=(), by=by, reason=f"Room for: {effect.says}", pins=pins)


def pin(*, day: dt.date, seen_version: int, what: str, pinned: bool, by: User) -> HeldPlan:
    """Pin a task (its minute and people) or a departure (its vehicle) as it is planned, or let it go."""
    require(by, "plan.make")
    with transaction.atomic():
        row = _held_or_unknown(_locked(day), day)
        _unchanged(row, row.version, seen_version)
        laid = read_held(row)
        if what in laid.plan.by_task:
            pins, name = _with_task(laid.pins, what, pinned=pinned), what
        elif laid.plan.vehicle_of.get(what):
            vehicles = {**laid.pinned_vehicles, what: laid.plan.vehicle_of[what]}
            if not pinned:
                vehicles.pop(what)
            pins, name = {**laid.pins, "vehicles": vehicles}, f"{what} in {laid.plan.vehicle_of[what]}"
        else:
            raise UnknownName("The plan has no such task or departure", seen=what, todo="Choose one of the day")
        return _by_hand(row, laid, laid.plan, pins, f"{'Pinned' if pinned else 'No longer pinned'}: {name}", by)


def undo(*, day: dt.date, seen_version: int, by: User) -> HeldPlan:
    """Go back to the version before the one that is held; it becomes the next version."""
    require(by, "plan.make")
    with transaction.atomic():
        row = _held_or_unknown(_locked(day), day)
        _unchanged(row, row.version, seen_version)
        before = Proposal.objects.filter(day=day, became=row.undo_to).first() if row.undo_to else None
        if before is None or before.document is None:
            raise BadInput("There is nothing to undo", todo="This is the first plan of the day that is kept")
        proposal = _made_by_hand(row, f"Undone: back to version {row.undo_to}", by)
        return _hold(row, proposal, before.document, by, undo_to=before.undo_to)


def _held_or_unknown(row: HeldPlan | None, day: dt.date) -> HeldPlan:
    if row is None:
        raise UnknownName("Nobody has planned this day yet", seen=day.isoformat(), todo="Plan the day first")
    return row


def _with_task(pins: Any, task: str, *, pinned: bool) -> dict[str, Any]:
    tasks = [name for name in pins.get("tasks", ()) if name != task]
    return {**pins, "tasks": [*tasks, task] if pinned else tasks}


def _by_hand(row: HeldPlan, laid: Laid, plan: Any, pins: dict[str, Any], said: str, by: User) -> HeldPlan:
    same = plan == laid.plan
    figures = dict(laid.figures) if same else {
        **{key: value for key, value in laid.figures.items() if key in OF_THE_DAY},
        "objective": list(objective(laid.problem, plan)),
    }  # fmt: skip
    document = {**row.document, "plan": plan_document(plan), "figures": figures, "pins": pins}
    return _hold(row, _made_by_hand(row, said, by), document, by)


def _made_by_hand(row: HeldPlan, said: str, by: User) -> Proposal:
    return Proposal(day=row.day, based_on=row.version, reason=said[:300], made_at=clock.now(), made_by=by)


# ---------------------------------------------------------------- marks


def mark(  # noqa: PLR0913  # what a phone sends
    *,
    uid: uuid.UUID,
    day: dt.date,
    task: str,
    kind: str,
    person: str,
    at: dt.datetime,
    by: User,
    note: str = "",
    photo: str = "",
) -> WorkMark:
    """Write down that a task has begun, is done or has a problem; sent twice, it is written once.

    Raises
    ------
    UnknownName
        The plan of the day has no such task.
    BadInput
        The kind is none, the moment has no offset, or the note is too long.
    """
    require(by, "task.mark")
    with transaction.atomic():
        there = WorkMark.objects.filter(uid=uid).first()
        if there is not None:
            return there
        _sound_mark(day, task, kind, at, note)
        try:
            with transaction.atomic():
                made = WorkMark.objects.create(
                    uid=uid, day=day, task=task, kind=kind, person=person, at=at, received_at=clock.now(), by=by,
                    note=note, photo=photo,
                )  # fmt: skip
        except IntegrityError:  # the same mark has just come in by another way
            return WorkMark.objects.get(uid=uid)
        if kind != WorkMark.Kind.STARTED:
            prove_marked(day, task, by)
        return made


def _sound_mark(day: dt.date, task: str, kind: str, at: dt.datetime, note: str) -> None:
    if kind not in SAID:
        raise BadInput("A task is started, done or has a problem", seen=kind, todo="Choose one of the three")
    if at.tzinfo is None:
        raise BadInput("The moment has no offset from UTC", seen=at.isoformat(), todo="Send it with its offset")
    if len(note) > MOST_NOTE:
        raise BadInput(f"A note has at most {MOST_NOTE} letters", seen=len(note), todo="Say it shorter")
    row = held(day)
    if not (row is not None and task in read_held(row).problem.task_by_id) and not _was_known(day, task):
        raise UnknownName("The plan of this day has no such task", seen=task, todo="Look at your list again")


def _was_known(day: dt.date, task: str) -> bool:
    """Tell whether an earlier plan of the day had the task; what a phone says late must not get lost."""
    if WorkMark.objects.filter(day=day, task=task).exists():
        return True
    earlier = Proposal.objects.filter(day=day, became__isnull=False, document__isnull=False)
    return any(task in read(row.document).problem.task_by_id for row in earlier.iterator(chunk_size=1))
