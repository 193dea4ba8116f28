"""Pages of hires: search, one hire with its loading, new, import."""

from __future__ import annotations

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyhook.catalogue import load_catalogue
from keyhook.errors import KeyhookError
from keyhook.hire.booking_file import BookingRules, as_hire, read_bookings
from keyhook.hire.hire import Hire
from keyhook.vehicle.build_sheet import BuildSheet
from keyhook_desk import clock
from keyhook_desk.fleet.models import SheetRow, VehicleRow
from keyhook_desk.fleet.sheets import built_of, sheet_of
from keyhook_desk.hires.hire_form import MOST_BIKES, MOST_DRIVERS, MOST_PEOPLE, HireForm, form_of, read_form
from keyhook_desk.hires.models import HireRow, Status
from keyhook_desk.hires.panel import loading_panel, swaps
from keyhook_desk.hires.selectors import hires
from keyhook_desk.hires.services import hire_of, next_number, save_hire
from keyhook_desk.people.rights import may, needs
from keyhook_desk.web.errors import EditedMeanwhile
from keyhook_desk.web.models import HistoryLine
from keyhook_desk.yard.gates import gates_of
from keyhook_desk.yard.services import the_depot, tick_gate

CATEGORIES = (("B", "B"), ("B_automatic", "B automatic"), ("C1", "C1"), ("C1_automatic", "C1 automatic"), ("BE", "BE"), ("C1E", "C1E"))
MOST_FILE_BYTES = 2 * 1024 * 1024


@require_GET
@needs("hire.see")
def listing(request: HttpRequest) -> HttpResponse:
    """Search and page through the hires."""
    words, status = request.GET.get("q", "").strip()[:80], request.GET.get("status", "")
    status = status if status in Status.values else ""
    page = Paginator(hires(words=words, status=status), 40).get_page(request.GET.get("page"))
    context = {"page": page, "words": words, "status": status, "statuses": Status.choices, "zone": the_depot().zone}
    return render(request, "hires/listing.html", context)


@require_http_methods(["GET", "POST"])
@needs("hire.see")
def hire(request: HttpRequest, name: str) -> HttpResponse:
    """One hire: a GET shows it; a POST works it out with what was typed, and saves it when asked to."""
    row = get_object_or_404(HireRow.objects.select_related("vehicle__sheet").prefetch_related("gates"), name=name)
    held = hire_of(row)
    form, sheet = form_of(held), _sheet_for(row.vehicle.name if row.vehicle else "", held.wanted_sheet or "")
    if request.method == "POST":
        vehicle, wanted = request.POST.get("vehicle", ""), request.POST.get("wanted_sheet", "")
        sheet = _sheet_for(vehicle, wanted)
        form = read_form(request.POST, held, name, sheet, held.zone)
        if "save" in request.POST:
            answered = _save(request, row, form)
            if answered is not None:
                return answered
    context = _context(request, form, sheet, row)
    template = "hires/_panel.html" if request.htmx and "save" not in request.POST else "hires/hire.html"  # type: ignore[attr-defined]
    return render(request, template, context)


def _save(request: HttpRequest, row: HireRow, form: HireForm) -> HttpResponse | None:
    if form.hire is None:
        return None
    try:
        seen = int(request.POST.get("version", "0") or 0)
        save_hire(actor=request.user, hire=form.hire, seen_version=seen)  # type: ignore[arg-type]
    except EditedMeanwhile as error:
        form.errors["version"] = str(error)
        form.values["theirs"] = "yes"
        return None
    except (KeyhookError, ValueError) as error:
        form.errors["vehicle"] = str(error)
        return None
    messages.success(request, f"Hire {row.name} is saved.")
    return redirect("hires:hire", name=row.name)


def _sheet_for(vehicle: str, wanted: str) -> BuildSheet | None:
    if row := VehicleRow.objects.select_related("sheet").filter(name=vehicle).first():
        return built_of(row)
    sheet = SheetRow.objects.filter(name=wanted).first()
    return sheet_of(sheet) if sheet else None


def _context(request: HttpRequest, form: HireForm, sheet: BuildSheet | None, row: HireRow | None) -> dict[str, Any]:
    panel, trouble = None, ""
    if form.hire is not None and sheet is not None:
        try:
            panel = loading_panel(sheet, form.hire, on_day=_day(form.hire))
        except KeyhookError as error:
            trouble = str(error)
    held = hire_of(row) if row else None
    return {
        "row": row,
        "held": held,
        "form": form,
        "sheet": sheet,
        "panel": panel,
        "trouble": trouble,
        "theirs": form_of(held) if held and "theirs" in form.values else None,
        "vehicles": VehicleRow.objects.select_related("sheet"),
        "sheets": SheetRow.objects.all(),
        "statuses": Status.choices,
        "people": range(_rows_shown(form, "p", "_age", MOST_PEOPLE, spare=2)),
        "bikes": range(min(MOST_BIKES, sheet.rack.bikes if sheet and sheet.rack else 0) or 0),
        "drivers": range(_rows_shown(form, "d", "_person", MOST_DRIVERS, spare=1)),
        "categories": CATEGORIES,
        "options": _options(),
        "gates": gates_of(held, sheet, frozenset(t.task for t in row.gates.all())) if row and held and sheet else (),
        "history": HistoryLine.objects.filter(kind="hire", name=row.name).select_related("by")[:8] if row else (),
        "can_edit": may(request.user, "hire.edit"),  # type: ignore[arg-type]
    }


def _rows_shown(form: HireForm, prefix: str, suffix: str, most: int, *, spare: int) -> int:
    """Return how many rows to show: those in use and a few to write into."""
    used = max((n + 1 for n in range(most) if form.values.get(f"{prefix}{n}{suffix}")), default=0)
    return min(most, used + spare)


def _options() -> list[tuple[str, str]]:
    names = sorted(
        {word.removeprefix("option:") for item in load_catalogue().kit.values() for word in item.when if word.startswith("option:")}
        | {"bike_rack", "snow_pack", "abroad_pack", "pet", "festival_supplement", "extra_driver"}
    )
    return [(name, name.replace("_", " ").capitalize()) for name in names]


def _day(found: Hire) -> dt.date:
    return found.collect_at.astimezone(ZoneInfo(found.zone)).date()


@require_http_methods(["GET", "POST"])
@needs("hire.edit")
def new(request: HttpRequest) -> HttpResponse:
    """Write down a new hire."""
    zone = the_depot().zone
    start = clock.now().astimezone(ZoneInfo(zone)).replace(minute=0)
    empty = {
        "status": "booked",
        "collect_at": (start.replace(hour=14)).strftime("%Y-%m-%dT%H:%M"),
        "return_at": (start.replace(hour=10) + dt.timedelta(days=7)).strftime("%Y-%m-%dT%H:%M"),
        "countries": "GB",
    }
    form, sheet = HireForm(empty, {}), None
    if request.method == "POST":
        number = next_number()
        sheet = _sheet_for(request.POST.get("vehicle", ""), request.POST.get("wanted_sheet", ""))
        form = read_form(request.POST, None, number, sheet, zone)
        if form.hire is not None and "save" in request.POST:
            try:
                save_hire(actor=request.user, hire=form.hire, seen_version=None)  # type: ignore[arg-type]
            except KeyhookError as error:
                form.errors["vehicle"] = str(error)
            else:
                messages.success(request, f"Hire {number} is written down.")
                return redirect("hires:hire", name=number)
    template = "hires/_panel.html" if request.htmx and "save" not in request.POST else "hires/hire.html"  # type: ignore[attr-defined]
    return render(request, template, _context(request, form, sheet, None))


@require_GET
@needs("hire.see")
def swap(request: HttpRequest, name: str) -> HttpResponse:
    """What if another vehicle of the yard?"""
    row = get_object_or_404(HireRow, name=name)
    held = hire_of(row)
    context = {"row": row, "lines": swaps(held, on_day=_day(held)), "taken": _taken(row)}
    template = "hires/_swap.html" if request.htmx else "hires/swap.html"  # type: ignore[attr-defined]
    return render(request, template, context)


def _taken(row: HireRow) -> dict[str, str]:
    """Return vehicles that are with another hire at that time, by name, with that hire's number."""
    others = HireRow.objects.filter(
        collect_at__lt=row.return_at, return_at__gt=row.collect_at, vehicle__isnull=False
    ).exclude(pk=row.pk).exclude(status__in=["enquiry", "cancelled"])
    return {other.vehicle.name: other.name for other in others.select_related("vehicle") if other.vehicle}


@require_POST
@needs("gate.tick")
def gate(request: HttpRequest, name: str) -> HttpResponse:
    """Tick a gate, or open it again."""
    row = get_object_or_404(HireRow, name=name)
    try:
        tick_gate(
            actor=request.user,  # type: ignore[arg-type]
            hire=row,
            task=request.POST.get("task", ""),
            done=request.POST.get("done") == "yes",
        )
    except KeyhookError as error:
        messages.error(request, str(error))
    return redirect(f"/hires/{row.name}/#gates")


@require_http_methods(["GET", "POST"])
@needs("hire.import")
def take_in(request: HttpRequest) -> HttpResponse:
    """Import bookings: a file gives a preview; only the button under the preview writes."""
    if request.method == "GET":
        return render(request, "hires/take_in.html", {})
    given = request.FILES.get("file")
    if given is None:
        return render(request, "hires/take_in.html", {"trouble": "No file was chosen. Choose a CSV or XLSX file."})
    if given.size is None or given.size > MOST_FILE_BYTES:
        trouble = f"The file is too large (saw {given.size} bytes). Send at most 2 MB; split it by month."
        return render(request, "hires/take_in.html", {"trouble": trouble})
    try:
        preview = read_bookings(given.read(), _rules())
    except KeyhookError as error:
        return render(request, "hires/take_in.html", {"trouble": str(error)})
    good = [row.booking for row in preview.rows if row.booking is not None and not row.errors]
    if "write" not in request.POST:
        return render(request, "hires/take_in.html", {"preview": preview, "good": len(good), "file_name": given.name})
    written, refused = 0, []
    for booking in good:
        try:
            found = as_hire(booking, next_number(), the_depot().zone)
            save_hire(actor=request.user, hire=found, seen_version=None)  # type: ignore[arg-type]
            written += 1
        except KeyhookError as error:
            refused.append(str(error))
    for sentence in refused:
        messages.error(request, sentence)
    messages.success(request, f"{written} hires are written down.")
    return redirect("hires:listing")


def _rules() -> BookingRules:
    depot = the_depot()
    vehicles = {row.name: row.sheet.name for row in VehicleRow.objects.select_related("sheet")}
    sheets = {row.name: sheet_of(row).name for row in SheetRow.objects.all()}
    live = HireRow.objects.exclude(status__in=["enquiry", "cancelled"]).filter(return_at__gte=clock.now())
    return BookingRules(
        zone=depot.zone,
        vehicles=vehicles,
        sheets=sheets,
        options=[name for name, _ in _options()],
        hires=[hire_of(row) for row in live],
    )


