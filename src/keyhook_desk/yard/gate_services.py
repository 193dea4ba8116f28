"""Gates and the tasks that prove them: either one settles the other, for one hire in one vehicle.

A gate task that somebody marks as done on their list is a gate proved for the hire, in the vehicle of the plan; a
problem told of it afterwards opens the gate again, in whatever order the two reach the desk. A gate ticked on the page
of a hire marks the task of the day's plan that would have proved it, and opening it takes that mark back. Marks of
people are never taken back so.
"""

from __future__ import annotations

import datetime as dt
import uuid
from zoneinfo import ZoneInfo

from django.db import transaction

from keyhook.catalogue import load_catalogue
from keyhook.errors import BadInput
from keyhook.turnaround.plan import vehicle_under
from keyhook_desk import clock
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.hires.models import HireRow
from keyhook_desk.people.models import User
from keyhook_desk.people.rights import require
from keyhook_desk.web.errors import EditedMeanwhile
from keyhook_desk.web.history import record
from keyhook_desk.yard.models import GateTick, WorkMark
from keyhook_desk.yard.plan_reading import Laid, held, marks_of, read_held, staff_of
from keyhook_desk.yard.services import the_depot

DONE, PROBLEM, REOPENED = WorkMark.Kind.DONE, WorkMark.Kind.PROBLEM, WorkMark.Kind.REOPENED


def tick_gate(*, actor: User, hire: HireRow, task: str, done: bool, seen_vehicle: str | None = None) -> None:
    """Mark a gate task of a hire as done in the vehicle it has, or open again; other vehicles keep their ticks.

    ``seen_vehicle`` is the vehicle that stood on the page where it was ticked.

    Raises
    ------
    BadInput
        The catalogue has no such gate task, or the hire has no vehicle.
    EditedMeanwhile
        The hire has another vehicle by now; nothing is written.
    """
    require(actor, "gate.tick")
    known = load_catalogue().tasks.get(task)
    if known is None or not known.gate:
        raise BadInput("There is no such gate", seen=task, todo="Tick one from the list")
    with transaction.atomic():
        row = HireRow.objects.select_for_update(of=("self",)).select_related("vehicle").get(pk=hire.pk)
        if row.vehicle is None:
            raise BadInput("This hire has no vehicle yet", seen=row.name, todo="Give it one, then tick its gates")
        if seen_vehicle is not None and seen_vehicle != row.vehicle.name:
            wrong = f"{row.name} has the vehicle {row.vehicle.name} now; nothing was ticked"
            raise EditedMeanwhile(wrong, seen=seen_vehicle or "no vehicle", todo="Look at the hire again")
        said = _mark_proved(row, row.vehicle, task, done=done, by=actor)
        prove_gate(actor=actor, hire=row, vehicle=row.vehicle, task=task, done=done, also=said)


def prove_gate(*, actor: User, hire: HireRow, vehicle: VehicleRow, task: str, done: bool, also: str = "") -> None:
    """Write down that a gate of a hire is done in a vehicle, or open again there; what stands already is left.

    Part of ticking a gate and of marking a task, each of which asks for its own right. ``also`` is what else was done
    with it, for the line of the history.
    """
    there = GateTick.objects.filter(hire=hire, task=task, vehicle=vehicle)
    if done == there.exists():
        return
    if done:
        GateTick.objects.create(hire=hire, task=task, vehicle=vehicle, by=actor, at=clock.now())
    else:
        there.delete()
    said = f"{load_catalogue().tasks[task].name} in {vehicle.name}: {'done' if done else 'open again'}{also}"
    record(actor=actor, action="gate", kind="hire", name=hire.name, said=said)


# ---------------------------------------------------------------- from a task to its gate


def prove_marked(day: dt.date, task: str, by: User) -> None:
    """Tick the gate of the hire that a task is for when it was done last, open it when a problem was told last.

    It counts for the vehicle it was done in: the hire may have another one still, or be given another one later.
    """
    told = [mark for mark in marks_of(day, task) if mark.kind in {DONE, PROBLEM}]
    row = held(day) if told else None
    proved = gate_of(read_held(row), task) if row is not None else None
    if proved is None:
        return
    departure, vehicle, kind = proved
    hire, found = HireRow.objects.filter(name=departure).first(), VehicleRow.objects.filter(name=vehicle).first()
    if hire is not None and found is not None:
        prove_gate(actor=by, hire=hire, vehicle=found, task=kind, done=told[-1].kind == DONE)


def gate_of(laid: Laid, task: str) -> tuple[str, str, str] | None:
    """Return departure, vehicle and gate that a task of a plan proves; None when it proves none."""
    one = laid.problem.task_by_id.get(task)
    known = load_catalogue().tasks.get(one.kind) if one is not None else None
    if one is None or known is None or not known.gate or known.phase == "handover":
        return None
    vehicle = vehicle_under(one, laid.plan.vehicle_of)
    departure = one.departure or next((name for name, its in laid.plan.allotment if its and its == vehicle), None)
    return None if vehicle is None or departure is None else (departure, vehicle, one.kind)


# ---------------------------------------------------------------- from a gate to its task


def mark_ticked(day: dt.date, laid: Laid) -> None:
    """Mark as done what a plan asks for and was proved before it was kept, in the names of those who ticked it."""
    gates = {gate: task.id for task in laid.problem.tasks if (gate := gate_of(laid, task.id)) is not None}
    ticks = GateTick.objects.filter(hire__name__in={hire for hire, _, _ in gates}, vehicle__isnull=False)
    for tick in ticks.select_related("hire", "vehicle", "by"):
        assert tick.vehicle is not None, "those of no vehicle were left out"
        task = gates.get((tick.hire.name, tick.vehicle.name, tick.task))
        if task is not None and not _is_done(marks_of(day, task)):
            _write(day, task, DONE, tick.hire, tick.by, tick.at)


def _mark_proved(hire: HireRow, vehicle: VehicleRow, kind: str, *, done: bool, by: User) -> str:
    """Mark the task of the day's plan that proves a gate, or take that mark back; return a word about it."""
    day = _day_of(hire)
    row = held(day)
    task = _task_of(read_held(row), (hire.name, vehicle.name, kind)) if row is not None else None
    if task is None:
        return ""
    stand = marks_of(day, task)
    if done and not _is_done(stand):
        _write(day, task, DONE, hire, by, clock.now())
        return f"; its task on the plan of {day:%d.%m.} too"
    if not done and any(mark.from_gate for mark in stand):
        _write(day, task, REOPENED, hire, by, clock.now())
        return f"; its task on the plan of {day:%d.%m.} too"
    return ""


def _day_of(hire: HireRow) -> dt.date:
    """Return the day of the depot on which a hire is collected."""
    return hire.collect_at.astimezone(ZoneInfo(the_depot().zone)).date()


def _task_of(laid: Laid, gate: tuple[str, str, str]) -> str | None:
    kind = gate[-1]
    return next((one.id for one in laid.problem.tasks if one.kind == kind and gate_of(laid, one.id) == gate), None)


def _is_done(marks: list[WorkMark]) -> bool:
    told = [mark.kind for mark in marks if mark.kind in {DONE, PROBLEM}]
    return bool(told) and told[-1] == DONE


def _write(day: dt.date, task: str, kind: str, hire: HireRow, by: User, at: dt.datetime) -> None:
    mine = staff_of(by)
    WorkMark.objects.create(
        uid=uuid.uuid4(), day=day, task=task, kind=kind, person=mine.name if mine else by.get_username(), at=at,
        received_at=clock.now(), by=by, note=f"as a gate of {hire.name}", from_gate=True,
    )  # fmt: skip
