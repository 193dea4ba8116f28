"""A gate task that somebody marks as done on their list is a gate proved for the hire, in the vehicle of the plan.

A problem told of it afterwards opens the gate again, in whatever order the two reach the desk.
"""

from __future__ import annotations

import datetime as dt

from keyhook.catalogue import load_catalogue
from keyhook.turnaround.plan import vehicle_under
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.hires.models import HireRow
from keyhook_desk.people.models import User
from keyhook_desk.yard.models import WorkMark
from keyhook_desk.yard.plan_reading import Laid, held, read_held
from keyhook_desk.yard.services import prove_gate

DONE, PROBLEM = WorkMark.Kind.DONE, WorkMark.Kind.PROBLEM


def prove_marked(day: dt.date, task: str, by: User) -> None:
    """Tick the gate of the hire that a task is for when it was done last, open it when a problem was told last.

    It counts for the vehicle it was done in: the hire may have another one still, or be given another one later.
    """
    last = WorkMark.objects.filter(day=day, task=task, kind__in=(DONE, PROBLEM)).order_by("at", "pk").last()
    row = held(day) if last is not None else None
    proved = _gate_proved(read_held(row), task) if row is not None else None
    if proved is None or last is None:
        return
    departure, vehicle, kind = proved
    hire, found = HireRow.objects.filter(name=departure).first(), VehicleRow.objects.filter(name=vehicle).first()
    if hire is not None and found is not None:
        prove_gate(actor=by, hire=hire, vehicle=found, task=kind, done=last.kind == DONE)


def _gate_proved(laid: Laid, task: str) -> tuple[str, str, str] | None:
    """Return departure, vehicle and gate that a task of a plan proves; None when it proves none."""
    one = laid.problem.task_by_id.get(task)
    known = load_catalogue().tasks.get(one.kind) if one is not None else None
    if one is None or known is None or not known.gate or known.phase == "handover":
        return None
    vehicle = vehicle_under(one, laid.plan.vehicle_of)
    departure = one.departure or next((name for name, its in laid.plan.allotment if its and its == vehicle), None)
    return None if vehicle is None or departure is None else (departure, vehicle, one.kind)
