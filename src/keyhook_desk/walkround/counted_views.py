"""The pages on which a depot counts how often a teach point went wrong although it was told."""

from __future__ import annotations

from itertools import groupby

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from keyhook.errors import UnknownName
from keyhook_desk.people.rights import may, needs
from keyhook_desk.walkround.counted import (
    CountForm,
    counted_point,
    counted_points,
    form_of,
    parties_shown,
    read_counts,
    seen_of,
)
from keyhook_desk.web.models import HistoryLine
from keyhook_desk.yard.count_services import count_point
from keyhook_desk.yard.services import the_depot

_LINES_SHOWN = 12


@require_GET
@needs("tour.see")
def counted(request: HttpRequest) -> HttpResponse:
    """List teach points with what was counted of them and what every tour takes."""
    words, only = request.GET.get("words", "").strip()[:80], request.GET.get("only") == "counted"
    found = counted_points(words, only_counted=only)
    groups = [(fitting, list(points)) for fitting, points in groupby(found, key=lambda one: one.fitting)]
    context = {"groups": groups, "count": len(found), "words": words, "only": only}
    return render(request, "walkround/counted.html", context)


@require_http_methods(["GET", "POST"])
@needs("tour.see")
def counted_one(request: HttpRequest, point: str) -> HttpResponse:
    """Show one point with its why; take what was counted."""
    try:
        shown = counted_point(point)
    except UnknownName as error:
        raise Http404(str(error)) from error
    if request.method == "GET":
        return _page(request, point, form_of(shown.own))
    take_back = "take_back" in request.POST
    form = form_of(None) if take_back else read_counts(request.POST)
    if form.errors:
        return _page(request, point, form)
    count_point(actor=request.user, point=point, counted=form.counted, seen=seen_of(request.POST.get("seen", "")))  # type: ignore[arg-type]
    messages.success(request, "Taken back." if take_back else "Written down. Every tour from now on weighs it.")
    return redirect("walkround:counted_one", point=point)


def _page(request: HttpRequest, point: str, form: CountForm) -> HttpResponse:
    context = {
        "one": counted_point(point),
        "form": form,
        "shown": parties_shown(point),
        "can_count": may(request.user, "tour.count"),  # type: ignore[arg-type]
        "lines": HistoryLine.objects.filter(kind="teach point", name=point).select_related("by")[:_LINES_SHOWN],
        "zone": the_depot().zone,
    }
    return render(request, "walkround/counted_one.html", context)
