"""The day: who comes back, who leaves, will it carry them, which gates are open."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from keyhook_desk import clock
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.selectors import departures_on, returns_on
from keyhook_desk.people.rights import needs
from keyhook_desk.yard.days import day_or_none
from keyhook_desk.yard.departures import DepartureFacts, facts_of
from keyhook_desk.yard.gates import ticked_in_its_vehicle
from keyhook_desk.yard.services import the_depot

MINUTE = dt.timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class DepartureLine:
    """One departure of the day: its facts, gates still open, minutes since the vehicle is due back that day."""

    row: HireRow
    facts: DepartureFacts
    gates_open: int
    turn_min: int | None


@require_GET
@needs("day.see")
def today(request: HttpRequest) -> HttpResponse:
    """Show the present day."""
    _ = request
    day = clock.today(the_depot().zone)
    return redirect("yard:day", day=day.isoformat())


@require_GET
@needs("day.see")
def day(request: HttpRequest, day: str) -> HttpResponse:
    """Show one day."""
    date = day_or_none(day)
    if date is None:
        return redirect("yard:today")
    depot = the_depot()
    returns, departures = returns_on(date, depot.zone), departures_on(date, depot.zone)
    back = {row.vehicle_id: row.return_at for row in returns}
    lines = [
        _line(row, back.get(row.vehicle_id), facts)
        for row, facts in zip(departures, facts_of(departures, date), strict=True)
    ]
    context = {
        "date": date,
        "before": date - dt.timedelta(days=1),
        "after": date + dt.timedelta(days=1),
        "zone": depot.zone,
        "depot": depot,
        "returns": [(row, len(row.document["party"]), _next(row, departures)) for row in returns],
        "departures": lines,
        "first": next((line for line in lines if line.facts.stops), None),
    }
    return render(request, "yard/day.html", context)


def _next(row: HireRow, departures: list[HireRow]) -> HireRow | None:
    return next((other for other in departures if other.vehicle_id == row.vehicle_id and row.vehicle_id), None)


def _line(row: HireRow, back_at: dt.datetime | None, facts: DepartureFacts) -> DepartureLine:
    between = row.collect_at - back_at if back_at is not None and back_at <= row.collect_at else None
    ticked = ticked_in_its_vehicle(row)
    still = sum(1 for task in facts.gates if task not in ticked)
    return DepartureLine(row, facts, still, None if between is None else between // MINUTE)
