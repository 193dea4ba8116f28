"""Pages of vehicles."""

from __future__ import annotations

import datetime as dt

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET, require_POST
from pydantic import ValidationError

from keyhook.catalogue import load_catalogue
from keyhook.drawing import elevation_drawing, plan_drawing
from keyhook.errors import KeyhookError
from keyhook.loading.calibration import calibrate
from keyhook.vehicle.build_sheet import BuildSheet, Station, Ticket
from keyhook_desk import clock
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.fleet.services import add_ticket
from keyhook_desk.fleet.sheets import built_of, vehicle_of
from keyhook_desk.people.rights import needs


@require_GET
@needs("vehicle.see")
def listing(request: HttpRequest) -> HttpResponse:
    """Every vehicle as a key tag, by build sheet."""
    rows = VehicleRow.objects.select_related("sheet").order_by("sheet__name", "name")
    sheets: dict[str, tuple[BuildSheet, list[VehicleRow]]] = {}
    for row in rows:
        sheets.setdefault(row.sheet.name, (built_of(row), []))[1].append(row)
    return render(request, "fleet/listing.html", {"sheets": list(sheets.values())})


@require_GET
@needs("vehicle.see")
def vehicle(request: HttpRequest, name: str) -> HttpResponse:
    """One vehicle: drawing, fittings by station, quirks, tickets."""
    row = get_object_or_404(VehicleRow.objects.select_related("sheet"), name=name)
    sheet, held = built_of(row), vehicle_of(row)
    fittings = load_catalogue().fittings

    def named(fitting: str) -> str:
        return fittings[fitting].name if fitting in fittings else fitting

    shown = _number(request.GET.get("show", ""))
    marks = frozenset({shown}) if shown else frozenset()
    drawings = [
        ("From above", plan_drawing(sheet, named, highlight=marks)),
        ("Nearside", elevation_drawing(sheet, "nearside", named, highlight=marks, prefix="near")),
        ("Offside", elevation_drawing(sheet, "offside", named, highlight=marks, prefix="off")),
    ]
    context = {
        "row": row,
        "sheet": sheet,
        "vehicle": held,
        "drawings": [(title, mark_safe(svg)) for title, svg in drawings],  # noqa: S308  # escaped by the drawing itself
        "stations": _stations(sheet, named),
        "calibration": calibrate(sheet),
        "shown": shown,
        "today": clock.now().date(),
        "hires": row.hires.filter(return_at__gte=clock.now()).order_by("collect_at")[:6],
    }
    return render(request, "fleet/vehicle.html", context)


def _number(text: str) -> int:
    return int(text) if text.isdigit() else 0


def _stations(sheet: BuildSheet, named: object) -> list[tuple[Station, list[tuple[int, str, str]]]]:
    found = []
    for station in sheet.stations:
        here = [
            (fitted.find_it, named(fitted.fitting), fitted.where)  # type: ignore[operator]
            for fitted in sheet.fittings
            if fitted.station == station.id
        ]
        if here:
            found.append((station, sorted(here)))
    return found


@require_POST
@needs("ticket.add")
def ticket(request: HttpRequest, name: str) -> HttpResponse:
    """Add a weighbridge ticket."""
    given = {
        key: request.POST.get(key, "").strip()
        for key in ("id", "taken_on", "front_kg", "rear_kg", "division_kg", "note")
    }
    record = {key: value for key, value in given.items() if value}
    record |= {key: request.POST[key] for key in ("fresh_l", "grey_l") if request.POST.get(key, "").strip()}
    try:
        fuel = request.POST.get("fuel_eighths", "8")
        made = Ticket.model_validate(record | {"fuel_share": int(fuel) / 8})
        if made.taken_on > clock.now().date() + dt.timedelta(days=1):
            messages.error(request, f"The ticket is from a day to come (saw {made.taken_on}). Mend the date.")
        else:
            add_ticket(actor=request.user, vehicle=name, ticket=made)  # type: ignore[arg-type]
            messages.success(request, f"Ticket {made.id} is noted. Every loading of {name} now counts from it.")
    except ValidationError as error:
        for entry in error.errors(include_url=False):
            field = str(entry["loc"][-1]).replace("_", " ")
            messages.error(
                request,
                f"{field}: {str(entry['msg']).lower()} (saw {entry['input']!s:.40}). Mend it and send it again.",
            )
    except (KeyhookError, ValueError) as error:
        messages.error(request, str(error))
    return redirect(f"/vehicles/{name}/#tickets")
