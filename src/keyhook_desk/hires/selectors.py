"""Reading hires: lists and pages, each in a fixed number of queries."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from keyhook_desk.hires.models import HOLDING, HireRow
from keyhook_desk.web.models import HistoryLine

#: Documents that a list does not read; they are fetched when an answer has to be worked out anew.
_HEAVY = ("vehicle__sheet__document", "vehicle__document", "news")


def hires(*, words: str = "", status: str = "") -> QuerySet[HireRow]:
    """Return hires that carry all the words (number, name, vehicle, place), newest collection first."""
    found = HireRow.objects.select_related("vehicle__sheet").defer(*_HEAVY).order_by("-collect_at", "name")
    for word in words.lower().split():
        found = found.filter(search__contains=word)
    return found.filter(status=status) if status else found


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
