"""The tour of a hire on the desk, and the same tour to read out or to film."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from keyhook.catalogue import load_catalogue
from keyhook.errors import KeyhookError
from keyhook.phrases import say
from keyhook.tour.script import autocue, chapters_vtt, subtitles_vtt
from keyhook_desk import clock
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.services import hire_of
from keyhook_desk.pack.selectors import confirmed_points
from keyhook_desk.papers.documents import Imprint
from keyhook_desk.papers.hand_over_paper import hand_over_paper
from keyhook_desk.papers.printing import hand_over_sheet
from keyhook_desk.people.rights import may, needs
from keyhook_desk.walkround.panel import tour_panel
from keyhook_desk.walkround.planned import Tour, tour_of
from keyhook_desk.walkround.services import keep_wishes
from keyhook_desk.walkround.walk import records_of
from keyhook_desk.walkround.wishes import Settings, WishForm, form_of, read_form, settings_of
from keyhook_desk.yard.services import the_depot


def row_of(name: str) -> HireRow:
    """Return the row of a hire with what a tour needs."""
    return get_object_or_404(HireRow.objects.select_related("vehicle__sheet", "tour_wish"), name=name)


def held_settings(row: HireRow) -> Settings:
    """Return what the desk has said about the tour of a hire."""
    return settings_of(getattr(row, "tour_wish", None), hire_of(row), confirmed_points(row))


def held_tour(row: HireRow) -> Tour:
    """Return the tour as the desk has it."""
    return tour_of(row, held_settings(row), the_depot())


@require_http_methods(["GET", "POST"])
@needs("tour.see")
def tour(request: HttpRequest, hire: str) -> HttpResponse:
    """Show the tour; try other minutes and keep them."""
    row = row_of(hire)
    if request.method == "GET":
        return _page(request, row, form_of(held_settings(row)))
    form = read_form(request.POST, request.POST.getlist("confirmed"), _teach_ids(), confirmed_points(row))
    asked_by_page = request.htmx  # type: ignore[attr-defined]
    if "save" not in request.POST or asked_by_page or form.errors:
        return _page(request, row, form)
    keep_wishes(actor=request.user, hire=row, settings=form.settings)  # type: ignore[arg-type]
    messages.success(request, f"The tour of {row.name} is kept like this.")
    return redirect("walkround:tour", hire=row.name)


def _teach_ids() -> frozenset[str]:
    return frozenset(point.id for fitting in load_catalogue().fittings.values() for point in fitting.teach)


def _page(request: HttpRequest, row: HireRow, form: WishForm) -> HttpResponse:
    only_panel = bool(request.htmx)  # type: ignore[attr-defined]
    context: dict[str, Any] = {"row": row, "form": form, "panel": None, "trouble": ""}
    try:
        shown = tour_of(row, form.settings, the_depot())
    except KeyhookError as error:
        context["trouble"] = str(error)
    else:
        panel = tour_panel(shown.answer, shown.sheet, shown.currency)
        context |= {"panel": panel, "usual_min": shown.answer.figures["available_min"].value}
        context |= _confirmable(shown)
    if not only_panel:
        context |= {
            "records": records_of(row),
            "can_plan": may(request.user, "tour.plan"),  # type: ignore[arg-type]
            "zone": row.document["zone"],
        }
    return render(request, "walkround/_tour.html" if only_panel else "walkround/tour.html", context)


def _confirmable(shown: Tour) -> dict[str, Any]:
    """Return what a hirer may have confirmed: what is settled before they come, and the points of the tour."""
    composed = shown.composed
    on_tour = [known for known in composed.known.values() if known.moment in {"walk", "drive_off"} and known.entry]
    return {
        "before": [known for known in composed.elsewhere if known.moment == "pre"],
        "others": sorted(on_tour, key=lambda known: (known.title, known.id)),
        "confirmed": shown.settings.known,
        "read": frozenset(shown.settings.read),
    }


@require_GET
@needs("tour.see")
def hand_over_pdf(request: HttpRequest, hire: str) -> HttpResponse:
    """Give the hand-over sheet: the tour on paper, with boxes to tick."""
    row = row_of(hire)
    planned, depot = held_tour(row), the_depot()
    assert row.vehicle is not None  # a tour has one
    imprint = Imprint(
        title=say("papers.hand_over.title", {"hire": row.name}),
        depot=depot.name,
        region=depot.country,
        day=clock.today(depot.zone),
        tag=row.vehicle.name,
        name=planned.sheet.name,
        plate=row.vehicle.plate,
    )
    body = hand_over_sheet(
        hand_over_paper(planned.answer, planned.hire, planned.sheet, imprint, whole="whole" in request.GET)
    )
    response = HttpResponse(body, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="hand-over-{row.name}.pdf"'
    return response


def file_of(body: str, kind: str, name: str) -> HttpResponse:
    """Give a text as a file to be kept."""
    response = HttpResponse(body, content_type=f"{kind}; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


@require_GET
@needs("tour.see")
def autocue_text(request: HttpRequest, hire: str) -> HttpResponse:
    """Give the tour as text to read while walking or filming."""
    _ = request
    return file_of(autocue(held_tour(row_of(hire)).answer), "text/plain", f"tour-{hire}.txt")


@require_GET
@needs("tour.see")
def chapters(request: HttpRequest, hire: str) -> HttpResponse:
    """Give the stops as chapters of a film."""
    _ = request
    return file_of(chapters_vtt(held_tour(row_of(hire)).answer), "text/vtt", f"tour-{hire}-chapters.vtt")


@require_GET
@needs("tour.see")
def subtitles(request: HttpRequest, hire: str) -> HttpResponse:
    """Give what is to be said as subtitles of a film."""
    _ = request
    return file_of(subtitles_vtt(held_tour(row_of(hire)).answer), "text/vtt", f"tour-{hire}-subtitles.vtt")
