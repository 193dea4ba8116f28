"""What a hirer opens on their own phone. No account: the signed link opens one pack and nothing else."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils.cache import patch_vary_headers
from django.utils.translation.trans_real import parse_accept_lang_header
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import require_GET, require_POST, require_safe

from keyhook.pack import pack_calendar, timed_messages
from keyhook.phrases import LANGUAGES, say
from keyhook_desk import clock
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.hires.models import HireRow
from keyhook_desk.pack.fallen import fallen_of
from keyhook_desk.pack.links import DeadLink, ends_at, opened
from keyhook_desk.pack.models import FittingPhoto
from keyhook_desk.pack.phone import on_one_line, page_of
from keyhook_desk.pack.selectors import confirmed_points, held_pack, photos_of
from keyhook_desk.pack.services import confirm_points, note_look
from keyhook_desk.yard.models import DepotRow

#: Under this name a phone keeps which pack it last opened, so that a sticker finds its way there.
COOKIE = "pack"
ASSETS = ("desk/tokens.css", "drawing/drawing.css", "pack/pack.css", "pack/theme.js", "pack/pack.js", "desk/mark.svg")
_MOST_POINTS = 200
View = Callable[..., HttpResponse]


def quiet(view: View) -> View:
    """Keep search engines and strangers' pages away from what a view answers."""

    @wraps(view)
    def quieter(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        response = view(request, *args, **kwargs)
        response.headers["X-Robots-Tag"] = "noindex, nofollow, noarchive"
        response.headers.setdefault("Cache-Control", "private, no-cache")
        return response

    return quieter


def by_link(view: View) -> View:
    """Open the link for a view, or say in one kind sentence why it opens nothing."""

    @quiet
    @wraps(view)
    def guarded(request: HttpRequest, token: str, *args: Any, **kwargs: Any) -> HttpResponse:
        try:
            row = opened(token)
        except DeadLink as dead:
            return _sorry(request, say("pack.dead.title"), dead.why, status=dead.status)
        return view(request, row, token, *args, **kwargs)

    return guarded


def asked_language(request: HttpRequest) -> str:
    """Return the first language of the browser in which there are packs, English when there is none."""
    for wanted, _ in parse_accept_lang_header(request.headers.get("Accept-Language", "")[:200]):
        language = wanted.partition("-")[0]
        if language in LANGUAGES:
            return language
    return "en"


@login_not_required
@require_safe
@gzip_page
@by_link
def home(request: HttpRequest, row: HireRow, token: str, language: str = "") -> HttpResponse:
    """Show the whole pack on one page, in the language chosen, else in that of the browser."""
    if language and language not in LANGUAGES:
        raise Http404
    held = held_pack(row, language or asked_language(request))
    page = page_of(held, token, confirmed_points(row), photos_of(held.vehicle), now=clock.now())
    response = render(request, "pack/pack.html", page)
    patch_vary_headers(response, ["Accept-Language"])
    _keep_token(request, response, row, token)
    return response


def _keep_token(request: HttpRequest, response: HttpResponse, row: HireRow, token: str) -> None:
    left = max(ends_at(row) - clock.now(), dt.timedelta())
    response.set_cookie(
        COOKIE,
        token,
        max_age=left,
        path="/pack/",
        httponly=True,
        samesite="Lax",
        secure=request.is_secure(),
    )


@login_not_required
@csrf_exempt  # the token in the address is what allows it, and nothing else is sent along
@require_POST
@by_link
def looked(request: HttpRequest, row: HireRow, token: str) -> HttpResponse:
    """Count one look; the page itself tells it. Somebody of the depot who looks it over counts nothing."""
    _ = token
    if not request.user.is_authenticated:
        note_look(hire=row)
    return HttpResponse(status=204)


@login_not_required
@csrf_exempt  # as above
@require_POST
@by_link
def read(request: HttpRequest, row: HireRow, token: str) -> HttpResponse:
    """Note which points the hirer has read; a phone sends it again until it knows that it arrived."""
    points = request.POST.get("points", "").split(",")[:_MOST_POINTS]
    known = held_pack(row, "en").pack.points
    confirm_points(hire=row, points=points, known=known.keys(), at=_moment(request.POST.get("at", "")))
    if request.headers.get("X-Requested-With") == "pack":
        return HttpResponse(status=204)
    language, number = request.POST.get("language", ""), request.POST.get("number", "")
    named = language if language in LANGUAGES else "en"
    back = reverse("pack:home_in", kwargs={"token": token, "language": named})
    return HttpResponseRedirect(f"{back}#n{number}" if number.isdecimal() else back)


def _moment(text: str) -> dt.datetime | None:
    try:
        moment = dt.datetime.fromisoformat(text[:40])
    except ValueError:
        return None
    return moment if moment.tzinfo else None


@login_not_required
@require_GET
@by_link
def dates(request: HttpRequest, row: HireRow, token: str, language: str) -> HttpResponse:
    """Give the dates and reminders as a calendar file."""
    if language not in LANGUAGES:
        raise Http404
    held = held_pack(row, language)
    address = request.build_absolute_uri(reverse("pack:home_in", kwargs={"token": token, "language": language}))
    sender = held.sender(address)
    messages = timed_messages(held.pack, held.hire, sender, confirmed=confirmed_points(row), fallen=fallen_of(row))
    body = pack_calendar(held.hire, messages, sender, stamp=clock.now(), language=language)
    response = HttpResponse(body, content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{held.vehicle.name}.ics"'
    return response


@login_not_required
@require_GET
@by_link
def manifest(request: HttpRequest, row: HireRow, token: str) -> HttpResponse:
    """Tell a phone how to keep the pack among its apps."""
    _ = request
    assert row.vehicle is not None
    start = reverse("pack:home", kwargs={"token": token})
    told = {
        "name": say("pack.app_name", {"vehicle": row.vehicle.name}),
        "short_name": row.vehicle.name,
        "id": start,
        "start_url": start,
        "scope": "/pack/",
        "display": "standalone",
        "background_color": "#f5f2ea",
        "theme_color": "#f5f2ea",
        "icons": [{"src": static("desk/mark.svg"), "sizes": "any", "type": "image/svg+xml", "purpose": "any"}],
    }
    return HttpResponse(json.dumps(told), content_type="application/manifest+json")


@login_not_required
@require_GET
@by_link
def photo(request: HttpRequest, row: HireRow, token: str, digest: str) -> HttpResponse:
    """Give a photo of this vehicle."""
    _ = request, token
    found = FittingPhoto.objects.filter(vehicle=row.vehicle, digest=digest).first()
    if found is None:
        raise Http404
    response = HttpResponse(bytes(found.content), content_type=found.kind)
    response["Cache-Control"] = "private, max-age=604800, immutable"
    return response


@login_not_required
@require_GET
@quiet
def worker(request: HttpRequest) -> HttpResponse:
    """Give the worker that keeps packs on the phone; its scope is the packs alone, never the desk."""
    assets = [static(name) for name in ASSETS]
    body = render(request, "pack/worker.js", {"assets": json.dumps(assets)}).content
    return HttpResponse(body, content_type="text/javascript; charset=utf-8")


@login_not_required
@require_GET
@quiet
def landing(request: HttpRequest, vehicle: str, number: int) -> HttpResponse:
    """Lead from a sticker to its card in the pack that this phone holds, or say how to get it.

    Whoever has no pack learns nothing of the vehicle, not even whether there is one of this name.
    """
    token = request.COOKIES.get(COOKIE, "")
    try:
        row = opened(token) if token else None
    except DeadLink:
        row = None
    if row is None:
        return _landing(request, number, "lost")
    assert row.vehicle is not None
    scanned = VehicleRow.objects.filter(name=vehicle).first()
    if scanned is None or scanned.sheet_id != row.vehicle.sheet_id:
        return _landing(request, number, "other")
    home_of = reverse("pack:home", kwargs={"token": token})
    return HttpResponseRedirect(f"{home_of}#n{number}")


def _landing(request: HttpRequest, number: int, why: str) -> HttpResponse:
    language = asked_language(request)
    context = {"language": language, "number": number, "why": f"pack.landing.{why}", **_depot()}
    return render(request, "pack/landing.html", context)


def _sorry(request: HttpRequest, title: str, why: str, *, status: int) -> HttpResponse:
    context = {"title": title, "language": asked_language(request), "why": f"pack.dead.{why}", **_depot()}
    return render(request, "pack/dead.html", context, status=status)


def _depot() -> dict[str, str]:
    row = DepotRow.objects.first()
    return {"depot": row.document["name"], "phone": on_one_line(row.document.get("phone", ""))} if row else {}
