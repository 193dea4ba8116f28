"""Reading hires: lists and pages, each in a fixed number of queries."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from keyhook.hire.hire import Hire
from keyhook_desk.hires.models import HOLDING, HireRow
from keyhook_desk.web.models import HistoryLine

#: Documents that a list does not read; they are fetched when an answer has to be worked out anew.
_AHEAD = dt.timedelta(days=365)
_HEAVY = ("vehicle__sheet__document", "vehicle__document", "news")


def hire_of(row: HireRow) -> Hire:
    """Return the hire of a row."""
    return Hire.model_validate(row.document)


def hires(*, words: str, show: str, now: dt.datetime) -> QuerySet[HireRow]:
    """Return hires that carry all the words (number, name, vehicle, place).

    ``show`` is ``ahead`` (not over yet, the next one first), ``past``, ``all`` or a status (these newest first).
    """
    found = HireRow.objects.select_related("vehicle__sheet").defer(*_HEAVY)
    for word in words.lower().split():
        found = found.filter(search__contains=word)
    if show == "ahead":
        return found.filter(return_at__gte=now).exclude(status="cancelled").order_by("collect_at", "name")
    if show == "past":
        found = found.filter(return_at__lt=now)
    elif show != "all":
        found = found.filter(status=show)
    return found.order_by("-collect_at", "name")


def bounds(day: dt.date, zone: str) -> tuple[dt.datetime, dt.datetime]:
    """Return the first moment of a local day and of the next."""
    first = dt.datetime.combine(day, dt.time(), tzinfo=ZoneInfo(zone))
    return first, dt.datetime.combine(day + dt.timedelta(days=1), dt.time(), tzinfo=ZoneInfo(zone))


def departures_on(day: dt.date, zone: str) -> list[HireRow]:
    """Return the hires that are collected on a local day, in order of time."""
    first, after = bounds(day, zone)
    found = HireRow.objects.select_related("vehicle__sheet").defer(*_HEAVY).prefetch_related("gates")
    return list(
        found.filter(collect_at__gte=first, collect_at__lt=after).exclude(status="cancelled").order_by("collect_at")
    )


def returns_on(day: dt.date, zone: str) -> list[HireRow]:
    """Return the hires that end on a local day, in order of time."""
    first, after = bounds(day, zone)
    found = HireRow.objects.select_related("vehicle__sheet")
    return list(
        found.filter(return_at__gte=first, return_at__lt=after).exclude(status="cancelled").order_by("return_at")
    )


def taken_then(row: HireRow) -> dict[str, str]:
    """Return the vehicles that another hire holds at the time of this one, each with the number of that hire."""
    others = HireRow.objects.filter(
        collect_at__lt=row.return_at, return_at__gt=row.collect_at, status__in=[status.value for status in HOLDING]
    )
    named = others.exclude(pk=row.pk).select_related("vehicle")
    return {other.vehicle.name: other.name for other in named if other.vehicle}


def history_of(row: HireRow) -> list[HistoryLine]:
    """Return what last happened to a hire, newest first."""
    return list(HistoryLine.objects.filter(kind="hire", name=row.name).select_related("by")[:8])


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """Where a vehicle is: with the hire it is out on, or at home until its next one."""

    out: HireRow | None
    next: HireRow | None


def whereabouts(now: dt.datetime) -> dict[int, Whereabouts]:
    """Return where each vehicle with a hire out or to come is, by its primary key."""
    rows = HireRow.objects.filter(vehicle__isnull=False).defer("document", "news").order_by("collect_at")
    out = {row.vehicle_id: row for row in rows.filter(status="out")}
    to_come: dict[int | None, HireRow] = {}
    for row in rows.filter(status="booked", collect_at__gte=now, collect_at__lt=now + _AHEAD):
        to_come.setdefault(row.vehicle_id, row)
    return {pk: Whereabouts(out.get(pk), to_come.get(pk)) for pk in {*out, *to_come} if pk is not None}
