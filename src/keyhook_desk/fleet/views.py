"""Pages of vehicles."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from keyhook.catalogue import load_catalogue
from keyhook.drawing import elevation_drawing, plan_drawing
from keyhook.errors import KeyhookError
from keyhook.loading.calibration import calibrate
from keyhook.vehicle.build_sheet import BuildSheet, Station
from keyhook_desk import clock
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.fleet.services import add_ticket
from keyhook_desk.fleet.sheets import built_of, sheet_of, vehicle_of
from keyhook_desk.fleet.ticket_form import TicketForm, empty_ticket, read_ticket
from keyhook_desk.hires.selectors import Whereabouts, whereabouts
from keyhook_desk.people.rights import needs
from keyhook_desk.yard.services import the_depot


@require_GET
@needs("vehicle.see")
def listing(request: HttpRequest) -> HttpResponse:
    """Show every vehicle as a key tag on its hook, by build sheet; the hook of one that is out is empty."""
    where = whereabouts(clock.now())
    sheets: dict[str, tuple[BuildSheet, str, list[tuple[VehicleRow, Whereabouts | None]]]] = {}
    for row in VehicleRow.objects.select_related("sheet").order_by("sheet__name", "name"):
        if row.sheet.name not in sheets:
            sheet = sheet_of(row.sheet)
            sheets[row.sheet.name] = (sheet, _side(sheet), [])
        sheets[row.sheet.name][2].append((row, where.get(row.pk)))
    context = {"sheets": list(sheets.values()), "zone": the_depot().zone}
    return render(request, "fleet/listing.html", context)


def _side(sheet: BuildSheet) -> str:
    """Return the bare nearside of a sheet, without numbers."""
    bare = sheet.model_copy(update={"fittings": ()})
    return elevation_drawing(bare, "nearside", prefix=f"side-{sheet.id}")


@require_GET
@needs("vehicle.see")
def vehicle(request: HttpRequest, name: str) -> HttpResponse:
    """Show one vehicle: drawings, fittings by station, quirks, tickets."""
    row = get_object_or_404(VehicleRow.objects.select_related("sheet"), name=name)
    zone = the_depot().zone
    return _page(request, row, empty_ticket(clock.today(zone)), zone)


@require_POST
@needs("ticket.add")
def ticket(request: HttpRequest, name: str) -> HttpResponse:
    """Add a weighbridge ticket; one with slips comes back as it was typed."""
    row = get_object_or_404(VehicleRow.objects.select_related("sheet"), name=name)
    zone = the_depot().zone
    form = read_ticket(request.POST, built_of(row), clock.today(zone))
    if form.ticket is None:
        return _page(request, row, form, zone)
    try:
        add_ticket(actor=request.user, vehicle=name, ticket=form.ticket)  # type: ignore[arg-type]
    except KeyhookError as error:
        form.errors["id"] = str(error)
        return _page(request, row, form, zone)
    messages.success(request, f"Ticket {form.ticket.id} is noted. Every loading of {name} now counts from it.")
    return redirect(reverse("fleet:vehicle", kwargs={"name": name}, fragment="tickets"))


def _page(request: HttpRequest, row: VehicleRow, form: TicketForm, zone: str) -> HttpResponse:
    sheet = built_of(row)
    fittings = load_catalogue().fittings

    def named(fitting: str) -> str:
        return fittings[fitting].name if fitting in fittings else fitting

    shown = _number(request.GET.get("show", ""))
    marks = frozenset({shown}) if shown else frozenset()
    context = {
        "row": row,
        "sheet": sheet,
        "vehicle": vehicle_of(row),
        "drawings": [
            ("From above", plan_drawing(sheet, named, highlight=marks)),
            ("Nearside", elevation_drawing(sheet, "nearside", named, highlight=marks, prefix="near")),
            ("Offside", elevation_drawing(sheet, "offside", named, highlight=marks, prefix="off")),
        ],
        "stations": _stations(sheet, named),
        "calibration": calibrate(sheet),
        "shown": shown,
        "zone": zone,
        "form": form,
        "eighths": range(8, -1, -1),
        "hires": row.hires.filter(return_at__gte=clock.now()).exclude(status="cancelled").order_by("collect_at")[:6],
    }
    return render(request, "fleet/vehicle.html", context)


def _number(text: str) -> int:
    return int(text) if text.isdecimal() else 0


def _stations(sheet: BuildSheet, named: Callable[[str], str]) -> list[tuple[Station, list[tuple[int, str, str]]]]:
    """Return each station that has something at it, with number, name and words of each fitting."""
    found = []
    for station in sheet.stations:
        at_it = [fitted for fitted in sheet.fittings if fitted.station == station.id]
        here = [(fitted.find_it, named(fitted.fitting), fitted.where) for fitted in at_it]
        if here:
            found.append((station, sorted(here)))
    return found
