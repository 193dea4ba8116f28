"""Papers of a hire as PDF."""

from __future__ import annotations

import datetime as dt

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from keyhook.catalogue import load_catalogue
from keyhook.loading.answer import cab_card as sizes_of
from keyhook.loading.answer import loading_answer
from keyhook.loading.packing import lightest_change
from keyhook_desk import clock
from keyhook_desk.fleet.sheets import built_of
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.services import hire_of
from keyhook_desk.papers.printing import cab_card, loading_sheet
from keyhook_desk.people.rights import needs
from keyhook_desk.yard.services import the_depot


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
