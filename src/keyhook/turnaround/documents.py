"""A day, a plan and what happened as JSON documents and back, so that a desk can keep them; nothing is lost between."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

from pydantic import TypeAdapter, ValidationError

from keyhook.errors import BadInput
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

_DAY, _PLAN = TypeAdapter(Problem), TypeAdapter(Plan)
EVENTS: Mapping[str, type[Any]] = {
    kind.__name__: kind
    for kind in (ReturnsAt, PersonAway, TaskDone, TaskRuns, Damage, VehicleOut, PartyAt, WalkIn, PlaceClosed)
}


def day_document(problem: Problem) -> dict[str, Any]:
    """Return a day as a document; sets are sorted, so the same day is the same text."""
    written: dict[str, Any] = _sorted(_DAY.dump_python(problem, mode="python"))
    return written


def day_of(document: Mapping[str, Any]) -> Problem:
    """Return the day of a document.

    Raises
    ------
    BadInput
        It is not the document of a day.
    """
    read: Problem = _read(_DAY, document, "day")
    return read


def plan_document(plan: Plan) -> dict[str, Any]:
    """Return a plan as a document."""
    written: dict[str, Any] = _PLAN.dump_python(plan, mode="json")
    return written


def plan_of(document: Mapping[str, Any]) -> Plan:
    """Return the plan of a document.

    Raises
    ------
    BadInput
        It is not the document of a plan.
    """
    read: Plan = _read(_PLAN, document, "plan")
    return read


def event_document(event: Event) -> dict[str, Any]:
    """Return something that happened as a document that names its kind."""
    fields: dict[str, Any] = _sorted(dataclasses.asdict(event))
    return {"kind": type(event).__name__, **fields}


def event_of(document: Mapping[str, Any]) -> Event:
    """Return what happened, from its document.

    Raises
    ------
    BadInput
        No event is called that, or its fields are others.
    """
    kind = EVENTS.get(str(document.get("kind", "")))
    if kind is None:
        raise BadInput(
            "Nothing is known of this kind of event", seen=document.get("kind"), todo="Use one of the events"
        )
    fields = {key: value for key, value in document.items() if key != "kind"}
    event: Event = _read(TypeAdapter(kind), fields, kind.__name__)
    return event


def _read(adapter: TypeAdapter[Any], document: Mapping[str, Any], what: str) -> Any:
    try:
        return adapter.validate_python(document)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        raise BadInput(f"This is not the document of a {what}", seen=where, todo="Plan the day again") from error


def _sorted(value: Any) -> Any:
    """Return plain lists and dictionaries, sets in the order of their words."""
    if isinstance(value, Mapping):
        return {key: _sorted(item) for key, item in value.items()}
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, tuple | list):
        return [_sorted(item) for item in value]
    return value
