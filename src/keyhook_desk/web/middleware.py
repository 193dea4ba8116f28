"""What goes for every page: none is kept by a browser, and errors of ours are said in their one sentence."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from keyhook.errors import BrokenFolder, KeyhookError, UnknownName
from keyhook_desk.web.errors import DoubleHire, EditedMeanwhile

_STATUS: dict[type[KeyhookError], int] = {UnknownName: 404, DoubleHire: 409, EditedMeanwhile: 409, BrokenFolder: 422}


class KeepNothing:
    """Asks browsers and proxies to keep no page: they name people, and a screen behind a counter is shared."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Mark the answer unless its view has marked it."""
        response = self.get_response(request)
        response.headers.setdefault("Cache-Control", "private, no-store")
        return response


class SayErrorsPlainly:
    """Renders every :class:`~keyhook.errors.KeyhookError` that no view has dealt with."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Return the page for an error of ours, None for any other."""
        if not isinstance(exception, KeyhookError):
            return None
        status = _STATUS.get(type(exception), 400)
        context = {"title": "This did not work", "said": str(exception)}
        return render(request, "web/error.html", context, status=status)
