"""The page that checks a recorded tour of a vehicle."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_http_methods

from keyhook.errors import KeyhookError
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.fleet.sheets import built_of
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.services import hire_of
from keyhook_desk.people.rights import needs
from keyhook_desk.walkround.recorded import recorded_page, transcript_of
from keyhook_desk.yard.services import the_depot

_HIRES_SHOWN = 12


@require_http_methods(["GET", "POST"])
@needs("tour.see")
def recorded(request: HttpRequest, vehicle: str) -> HttpResponse:
    """Check what a recorded tour covers; nothing is kept."""
    row = get_object_or_404(VehicleRow.objects.select_related("sheet"), name=vehicle)
    hires = list(HireRow.objects.filter(vehicle=row).order_by("-collect_at")[:_HIRES_SHOWN])
    context: dict[str, Any] = {"row": row, "sheet": built_of(row), "hires": hires, "page": None, "slip": ""}
    if request.method == "POST":
        context |= _checked(request, row, hires)
    return render(request, "walkround/recorded.html", context)


def _checked(request: HttpRequest, row: VehicleRow, hires: list[HireRow]) -> dict[str, Any]:
    chosen = next((hire for hire in hires if hire.name == request.POST.get("hire")), None)
    pasted = request.POST.get("transcript", "")
    upload = request.FILES.get("file")
    said: dict[str, Any] = {"pasted": pasted, "chosen": chosen.name if chosen else ""}
    try:
        transcript = transcript_of(pasted, upload.read() if upload else None)
        party = hire_of(chosen) if chosen else None
        page = recorded_page(transcript, built_of(row), party, the_depot())
    except KeyhookError as error:
        return said | {"slip": str(error)}
    return said | {"page": page, "pasted": transcript, "file_name": upload.name if upload else ""}
