"""Papers of a hire as PDF."""

from __future__ import annotations

import datetime as dt

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from keyhook.catalogue import load_catalogue
from keyhook.day_plan import stops_of
from keyhook.loading.answer import cab_card as sizes_of
from keyhook.loading.answer import loading_answer
from keyhook.loading.packing import lightest_change
from keyhook.phrases import say
from keyhook_desk import clock
from keyhook_desk.fleet.sheets import built_of
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.services import hire_of
from keyhook_desk.papers.day_paper import DayToPrint, day_paper
from keyhook_desk.papers.documents import Imprint
from keyhook_desk.papers.printing import cab_card, day_sheet, loading_sheet
from keyhook_desk.people.rights import needs
from keyhook_desk.yard.days import day_or_none
from keyhook_desk.yard.plan_reading import clock_of, held, read_held
from keyhook_desk.yard.services import folder_of_desk, the_depot


def _pdf(body: bytes, name: str) -> HttpResponse:
    response = HttpResponse(body, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return response


def _today() -> dt.date:
    return clock.today(the_depot().zone)


def _row(request: HttpRequest, name: str) -> HireRow | HttpResponse:
    row = get_object_or_404(HireRow.objects.select_related("vehicle__sheet"), name=name)
    if row.vehicle is None:
        said = "This hire has no vehicle yet, so there is nothing to print. Choose one first."
        return render(request, "web/error.html", {"title": "No vehicle yet", "said": said}, status=409)
    return row


@require_GET
@needs("plan.see")
def day(request: HttpRequest, day: str) -> HttpResponse:
    """Give the day sheet of the plan people hold."""
    date = day_or_none(day)
    if date is None:
        raise Http404("There is no such day")
    row = held(date)
    if row is None:
        said = "Nobody holds a plan of this day yet, so there is nothing to print. Plan the day first."
        return render(request, "web/error.html", {"title": "No plan yet", "said": said}, status=409)
    laid, folder = read_held(row), folder_of_desk()
    chances = {name: told["on_time"] for name, told in laid.figures.get("departures", {}).items()}
    imprint = Imprint(
        title=say("papers.day.title", {"day": date.isoformat()}),
        depot=folder.depot.name,
        region=folder.depot.country,
        day=_today(),
    )
    notes = (say("papers.day.version", {"version": row.version}),)
    stopped = frozenset(stops_of(folder, date, laid.plan, load_catalogue()))
    printed = DayToPrint(clock_of(date), laid.problem, laid.plan, chances, stopped)
    paper = day_paper(printed, folder, imprint, notes=notes)
    return _pdf(day_sheet(paper), f"day-{date.isoformat()}")


@require_GET
@needs("hire.see")
def loading(request: HttpRequest, name: str) -> HttpResponse:
    """Give the loading sheet."""
    row = _row(request, name)
    if isinstance(row, HttpResponse):
        return row
    assert row.vehicle is not None
    sheet, hire = built_of(row.vehicle), hire_of(row)
    answer = loading_answer(sheet, hire, load_catalogue())
    change = lightest_change(sheet, answer) if answer.wants_repacking else None
    name, plate = row.vehicle.name, row.vehicle.plate
    body = loading_sheet(answer, change, hire, sheet, name, the_depot(), day=_today(), plate=plate)
    return _pdf(body, f"loading-{row.name}")


@require_GET
@needs("hire.see")
def card(request: HttpRequest, name: str) -> HttpResponse:
    """Give the cab card."""
    row = _row(request, name)
    if isinstance(row, HttpResponse):
        return row
    assert row.vehicle is not None
    sheet = built_of(row.vehicle)
    sizes, depot = sizes_of(sheet, hire_of(row)), the_depot()
    body = cab_card(sizes, sheet, row.vehicle.name, depot, day=_today(), plate=row.vehicle.plate)
    return _pdf(body, f"cab-card-{row.name}")
