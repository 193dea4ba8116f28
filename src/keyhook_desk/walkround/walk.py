"""A walk as it stands: what every tablet told, put together by the id of each tick."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from keyhook_desk.hires.models import HireRow
from keyhook_desk.walkround.models import HandOverRecord, Kind, WalkTick


@dataclass(frozen=True, slots=True)
class PointState:
    """What last happened to a point, who ticked it and when (the tablet's own time)."""

    kind: str
    by: str
    at: dt.datetime


@dataclass(frozen=True, slots=True)
class Walk:
    """When the tour began (None: not yet), the state of each point, and the notes by point (empty: the whole tour)."""

    started_at: dt.datetime | None
    points: Mapping[str, PointState]
    notes: Mapping[str, tuple[str, ...]]


def walk_of(ticks: Iterable[WalkTick]) -> Walk:
    """Return a walk from its ticks; of two for the same point the later one counts, whichever tablet it came from."""
    started: dt.datetime | None = None
    points: dict[str, PointState] = {}
    notes: dict[str, tuple[str, ...]] = {}
    for one in sorted(ticks, key=lambda tick: (tick.at, tick.uid)):
        if one.kind == Kind.STARTED:
            started = started or one.at
        elif one.kind == Kind.NOTE:
            notes[one.point] = (*notes.get(one.point, ()), one.note)
        elif one.kind == Kind.OPEN:
            points.pop(one.point, None)
        else:
            points[one.point] = PointState(one.kind, str(one.by), one.at)
    return Walk(started, points, notes)


def ticks_of(row: HireRow) -> list[WalkTick]:
    """Return the ticks of a hire in order of their time, with who ticked."""
    return list(WalkTick.objects.filter(hire=row).select_related("by"))


def records_of(row: HireRow) -> list[HandOverRecord]:
    """Return what was acknowledged for a hire, the last one first."""
    return list(HandOverRecord.objects.filter(hire=row).select_related("hire").order_by("-number"))


def as_sent(ticks: Iterable[WalkTick]) -> list[dict[str, str]]:
    """Return ticks as a tablet takes them."""
    return [
        {
            "uid": str(one.uid),
            "point": one.point,
            "kind": one.kind,
            "note": one.note,
            "at": one.at.isoformat(),
            "by": str(one.by),
        }
        for one in ticks
    ]
