"""Errors that a person may read become a page with their one sentence, whichever view they came from."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from keyhook.errors import BrokenFolder, KeyhookError, UnknownName
from keyhook_desk.web.errors import DoubleHire, EditedMeanwhile

_STATUS: dict[type[KeyhookError], int] = {UnknownName: 404, DoubleHire: 409, EditedMeanwhile: 409, BrokenFolder: 422}


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
