"""Theme, error pages, and a sign of life."""

from __future__ import annotations

from pathlib import Path

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

_YEAR_S = 365 * 24 * 3600


@login_not_required
@require_POST
def theme(request: HttpRequest) -> HttpResponse:
    """Keep the theme that was chosen, and go back to where the choice was made."""
    back = request.POST.get("back", "/")
    if not url_has_allowed_host_and_scheme(back, allowed_hosts={request.get_host()}):
        back = "/"
    response = HttpResponseRedirect(back)
    chosen = request.POST.get("theme", "")
    if chosen in {"light", "dark"}:
        response.set_cookie("theme", chosen, max_age=_YEAR_S, samesite="Lax", secure=request.is_secure(), httponly=True)
    else:
        response.delete_cookie("theme")
    return response


@login_not_required
def alive(request: HttpRequest) -> HttpResponse:
    """Answer that the desk runs."""
    _ = request
    return HttpResponse("keyhook\n", content_type="text/plain")


@login_not_required
def worker(request: HttpRequest) -> HttpResponse:
    """Give the service worker from the root, so that it may serve every page of the desk without a connection."""
    _ = request
    body = (Path(__file__).parent / "static" / "offline" / "worker.js").read_bytes()
    return HttpResponse(body, content_type="text/javascript", headers={"Cache-Control": "no-cache"})


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Say that there is no such page."""
    _ = exception
    return render(
        request, "web/error.html", {"title": "Nothing hangs on this hook", "said": "There is no such page."}, status=404
    )


def not_allowed(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Say that the role does not include this."""
    said = str(exception) or "Your role does not include this. Ask a manager."
    return render(request, "web/error.html", {"title": "Not with this key", "said": said}, status=403)


def broken(request: HttpRequest) -> HttpResponse:
    """Say that something broke here, without database or user."""
    _ = request
    said = b"<!doctype html><html lang=en><title>Keyhook</title><h1>Something broke here</h1>"
    return HttpResponse(
        said + b"<p>It has been written down. Nothing was saved. Go back and try again.</p>", status=500
    )
