"""Pages of hires: search, one hire with its loading, a new one, another vehicle, gates."""

from __future__ import annotations

import datetime as dt
import secrets
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyhook.errors import KeyhookError
from keyhook.hire.hire import Hire
from keyhook.loading.swap import fitted_to
from keyhook.vehicle.build_sheet import BuildSheet, Seat
from keyhook_desk import clock
from keyhook_desk.fleet.models import SheetRow, VehicleRow
from keyhook_desk.fleet.sheets import built_of, sheet_of
from keyhook_desk.hires.hire_form import (
    CATEGORIES,
    MOST_BIKES,
    MOST_DRIVERS,
    MOST_PEOPLE,
    TAGS,
    HireForm,
    form_of,
    read_form,
)
from keyhook_desk.hires.models import HireRow, Status
from keyhook_desk.hires.panel import loading_panel, swaps
from keyhook_desk.hires.selectors import hires, history_of, taken_then
from keyhook_desk.hires.services import add_hire, hire_of, save_hire
from keyhook_desk.hires.two_at_once import Merged, chosen, merge, snapshot
from keyhook_desk.people.rights import may, needs
from keyhook_desk.web.errors import EditedMeanwhile
from keyhook_desk.yard.gate_services import tick_gate
from keyhook_desk.yard.gates import gates_of, ticked_elsewhere, ticked_in_its_vehicle
from keyhook_desk.yard.services import options_sold, the_depot

PAGE_ROWS = 40
SHOWS = (("ahead", "out now and to come"), ("past", "back already"), ("all", "all"), *Status.choices)


@require_GET
@needs("hire.see")
def listing(request: HttpRequest) -> HttpResponse:
    """Search and page through the hires."""
    words, show = request.GET.get("q", "").strip()[:80], request.GET.get("show", "")
    show = show if show in dict(SHOWS) else ("all" if words else "ahead")
    found = hires(words=words, show=show, now=clock.now())
    page = Paginator(found, PAGE_ROWS).get_page(request.GET.get("page"))
    context = {"page": page, "words": words, "show": show, "shows": SHOWS, "zone": the_depot().zone}
    return render(request, "hires/listing.html", context)


@require_http_methods(["GET", "POST"])
@needs("hire.see")
def hire(request: HttpRequest, name: str) -> HttpResponse:
    """One hire: a GET shows it; a POST works it out with what was typed, and saves it when asked to."""
    row = get_object_or_404(HireRow.objects.select_related("vehicle__sheet").prefetch_related("gates"), name=name)
    held = hire_of(row)
    if request.method == "GET":
        form, sheet = _as_it_stands(row, held, request.GET.get("vehicle", ""))
        return _page(request, form, sheet, row)
    data = chosen(request.POST, form_of(held))
    form, sheet = _read(data, held, name, held.zone)
    if not _wants_saving(request) or form.hire is None:
        return _page(request, form, sheet, row)
    try:
        save_hire(actor=request.user, hire=form.hire, seen_version=_whole(data.get("version", "")))  # type: ignore[arg-type]
    except EditedMeanwhile:
        row.refresh_from_db()
        merged = merge(mine=data, theirs=form_of(hire_of(row)), opened=data.get("opened", ""))
        form, sheet = _read(merged.data, hire_of(row), name, held.zone)
        return _page(request, form, sheet, row, merged)
    except KeyhookError as error:
        form.errors["vehicle"] = str(error)
        return _page(request, form, sheet, row)
    messages.success(request, f"Hire {row.name} is saved.")
    return redirect("hires:hire", name=row.name)


@require_http_methods(["GET", "POST"])
@needs("hire.edit")
def new(request: HttpRequest) -> HttpResponse:
    """Write down a new hire."""
    zone = the_depot().zone
    if request.method == "GET":
        return _page(request, _empty(zone), None, None)
    form, sheet = _read(request.POST, None, "new", zone)
    if not _wants_saving(request) or form.hire is None:
        return _page(request, form, sheet, None)
    try:
        row = add_hire(actor=request.user, hire=form.hire, once=request.POST.get("once", "")[:60])  # type: ignore[arg-type]
    except KeyhookError as error:
        form.errors["vehicle"] = str(error)
        return _page(request, form, sheet, None)
    messages.success(request, f"Hire {row.name} is written down.")
    return redirect("hires:hire", name=row.name)


def _wants_saving(request: HttpRequest) -> bool:
    """Tell whether the button was pressed; what the page asks by itself while somebody types never saves."""
    return "save" in request.POST and not request.htmx  # type: ignore[attr-defined]


def _as_it_stands(row: HireRow, held: Hire, other: str) -> tuple[HireForm, BuildSheet | None]:
    """Return the fields of a hire; in another vehicle when one was asked for, which is not saved by looking."""
    vehicle = VehicleRow.objects.select_related("sheet").filter(name=other).first() if other else row.vehicle
    sheet = built_of(vehicle) if vehicle else _sheet_for("", held.wanted_sheet or "")
    if other and vehicle and sheet:
        held = fitted_to(sheet, held).model_copy(update={"vehicle": vehicle.name})
    return form_of(held), sheet


def _empty(zone: str) -> HireForm:
    """Return an empty form; it proposes the usual afternoon to morning, a week from today."""
    today = clock.today(zone)
    later = today + dt.timedelta(days=7)
    return HireForm(
        {
            "status": "booked",
            "collect_at": f"{today.isoformat()}T14:00",
            "return_at": f"{later.isoformat()}T10:00",
            "countries": "GB",
        }
    )


def _read(data: QueryDict, held: Hire | None, name: str, zone: str) -> tuple[HireForm, BuildSheet | None]:
    """Return the form as typed (as the hire now stands where it is sound) and the sheet it is answered with."""
    sheet = _sheet_for(data.get("vehicle", ""), data.get("wanted_sheet", ""))
    form = read_form(data, held, name, sheet, zone)
    if form.hire is not None:
        again = form_of(form.hire)
        form.values = {**again.values, **{key: data.get(key, "") for key in ("version", "opened", "once")}}
        form.multi = again.multi
    return form, sheet


def _page(
    request: HttpRequest, form: HireForm, sheet: BuildSheet | None, row: HireRow | None, merged: Merged | None = None
) -> HttpResponse:
    # Typing asks for the answer alone; another vehicle asks for the fields that follow from it as well.
    only_panel = request.htmx and request.htmx.trigger == "hire"  # type: ignore[attr-defined]
    context = _panel_context(form, sheet) | {"only_panel": only_panel}
    if not only_panel:
        context |= _typing_context(request, form, sheet) | _standing_context(form, row, sheet)
        context |= {"merged": merged, "opened": _opened(form, row, merged)}
    return render(request, "hires/_panel.html" if only_panel else "hires/hire.html", context)


def _opened(form: HireForm, row: HireRow | None, merged: Merged | None) -> str:
    """Return what the editor is to be compared with: the hire as first shown, or as it stands once merged."""
    if merged is None and form.values.get("opened"):
        return form.values["opened"]
    return snapshot(form_of(hire_of(row))) if row else ""


def _panel_context(form: HireForm, sheet: BuildSheet | None) -> dict[str, Any]:
    panel, trouble = None, ""
    if form.hire is not None and sheet is not None:
        try:
            panel = loading_panel(sheet, form.hire, on_day=_day(form.hire))
        except KeyhookError as error:
            trouble = str(error)
    return {"form": form, "sheet": sheet, "panel": panel, "trouble": trouble}


def _typing_context(request: HttpRequest, form: HireForm, sheet: BuildSheet | None) -> dict[str, Any]:
    """Return what the fields need."""
    hung = _rows_shown(form, "b", "_mass", MOST_BIKES, spare=0)
    people = range(_rows_shown(form, "p", "_age", MOST_PEOPLE, spare=2))
    return {
        "vehicles": VehicleRow.objects.all(),
        "sheets": SheetRow.objects.all(),
        "statuses": Status.choices,
        "people": people,
        "follows": ",".join(["#stores", "#bikes", *(f"#f-p{n}_{what}" for n in people for what in ("seat", "berth"))]),
        "seats": [(seat.id, _seat_words(seat)) for seat in sheet.seats] if sheet else [],
        "berths": [(berth.id, berth.name) for berth in sheet.berths] if sheet else [],
        "bikes": range(max(hung, sheet.rack.bikes if sheet and sheet.rack else 0)),
        "drivers": range(_rows_shown(form, "d", "_person", MOST_DRIVERS, spare=1)),
        "categories": CATEGORIES,
        "options": options_sold(),
        "tags": TAGS,
        "can_edit": may(request.user, "hire.edit"),  # type: ignore[arg-type]
    }


def _seat_words(seat: Seat) -> str:
    return "driver" if seat.driver else seat.id.replace("_", " ")


def _standing_context(form: HireForm, row: HireRow | None, sheet: BuildSheet | None) -> dict[str, Any]:
    """Return what stands beside the fields of a hire that is written down."""
    if row is None:
        return {"row": None, "once": form.values.get("once") or secrets.token_urlsafe(24)}
    held = hire_of(row)
    return {
        "row": row,
        "held": held,
        "gates": gates_of(held, sheet, ticked_in_its_vehicle(row)) if sheet else (),
        "gates_elsewhere": ticked_elsewhere(row),
        "history": history_of(row),
    }


def _rows_shown(form: HireForm, prefix: str, suffix: str, most: int, *, spare: int) -> int:
    """Return how many rows to show: those in use and a few to write into."""
    used = max((n + 1 for n in range(most) if form.values.get(f"{prefix}{n}{suffix}")), default=0)
    return min(most, used + spare)


def _sheet_for(vehicle: str, wanted: str) -> BuildSheet | None:
    if row := VehicleRow.objects.select_related("sheet").filter(name=vehicle).first():
        return built_of(row)
    sheet = SheetRow.objects.filter(name=wanted).first()
    return sheet_of(sheet) if sheet else None


def _whole(text: str) -> int:
    return int(text) if text.isdecimal() else 0


def _day(found: Hire) -> dt.date:
    return found.collect_at.astimezone(ZoneInfo(found.zone)).date()


@require_GET
@needs("hire.see")
def swap(request: HttpRequest, name: str) -> HttpResponse:
    """Work the hire through every vehicle of the yard."""
    row = get_object_or_404(HireRow.objects.select_related("vehicle"), name=name)
    held = hire_of(row)
    context = {"row": row, "swaps": swaps(held, taken_then(row), on_day=_day(held))}
    template = "hires/_swap.html" if request.htmx else "hires/swap.html"  # type: ignore[attr-defined]
    return render(request, template, context)


@require_POST
@needs("gate.tick")
def gate(request: HttpRequest, name: str) -> HttpResponse:
    """Tick a gate, or open it again."""
    row = get_object_or_404(HireRow, name=name)
    tick_gate(
        actor=request.user,  # type: ignore[arg-type]
        hire=row,
        task=request.POST.get("task", ""),
        done=request.POST.get("done") == "yes",
        seen_vehicle=request.POST.get("vehicle", ""),
    )
    return redirect(reverse("hires:hire", kwargs={"name": row.name}, fragment="gates"))
