"""Bookings out of a file: a preview first, with every slip; only the button beneath it writes."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from keyhook.errors import BadInput, KeyhookError
from keyhook.hire.booking_file import BookingRules, Preview, as_hire, read_bookings
from keyhook.hire.hire import Hire
from keyhook_desk import clock
from keyhook_desk.fleet.models import SheetRow, VehicleRow
from keyhook_desk.hires.models import HOLDING, HireRow
from keyhook_desk.hires.services import add_hire, hire_of
from keyhook_desk.people.rights import needs
from keyhook_desk.yard.services import options_sold, the_depot

MOST_FILE_BYTES = 2 * 1024 * 1024
_SALT, _HOUR_S = "bookings", 3600


@require_http_methods(["GET", "POST"])
@needs("hire.import")
def take_in(request: HttpRequest) -> HttpResponse:
    """Show the form, the preview of a file, or write what the preview showed."""
    if request.method == "GET":
        return render(request, "hires/take_in.html", {})
    try:
        if "sound" in request.POST:
            return _write(request)
        return _preview(request)
    except KeyhookError as error:
        return render(request, "hires/take_in.html", {"trouble": str(error)}, status=400)


def _preview(request: HttpRequest) -> HttpResponse:
    given = request.FILES.get("file")
    if given is None or given.size is None:
        raise BadInput("No file was chosen", todo="Choose a CSV, XLSX or ODS file")
    if given.size > MOST_FILE_BYTES:
        raise BadInput("The file is too large", seen=f"{given.size} bytes", todo="Send at most 2 MB, month by month")
    depot = the_depot()
    preview = read_bookings(given.read(), _rules(depot.zone))
    sound = [as_hire(booking, "new", depot.zone).model_dump(mode="json") for booking in preview.bookings]
    context = {
        "preview": preview,
        "zone": depot.zone,
        "file_name": given.name,
        "good": len(sound),
        "bad": len(preview.rows) - len(sound),
        "sound": signing.dumps(sound, salt=_SALT, compress=True),
        "columns": _columns(preview),
    }
    return render(request, "hires/take_in.html", context)


def _write(request: HttpRequest) -> HttpResponse:
    """Write the hires that the preview carried along, signed; one that the database refuses is told, the rest stay."""
    written = []
    for document in _signed(request.POST["sound"]):
        hire = Hire.model_validate(document)
        try:
            written.append(add_hire(actor=request.user, hire=hire).name)  # type: ignore[arg-type]
        except KeyhookError as error:
            messages.error(request, f"{hire.lead}: {error}")
    if written:
        one = (
            f"Hire {written[0]} is"
            if len(written) == 1
            else f"{len(written)} hires, {written[0]} to {written[-1]}, are"
        )
        messages.success(request, f"{one} written down.")
    return redirect("hires:listing")


def _signed(text: str) -> list[dict[str, Any]]:
    try:
        found: list[dict[str, Any]] = signing.loads(text, salt=_SALT, max_age=_HOUR_S)
    except signing.BadSignature as error:
        raise BadInput("The preview is more than an hour old, or was changed", todo="Choose the file again") from error
    return found


def _rules(zone: str) -> BookingRules:
    holding = HireRow.objects.filter(status__in=[status.value for status in HOLDING], return_at__gte=clock.now())
    return BookingRules(
        zone=zone,
        vehicles={row.name: row.sheet.name for row in VehicleRow.objects.select_related("sheet")},
        sheets={row.name: row.document["name"] for row in SheetRow.objects.all()},
        options=[name for name, _ in options_sold()],
        hires=[hire_of(row) for row in holding],
    )


def _columns(preview: Preview) -> list[tuple[str, str]]:
    """Return our columns with the heading of the file that each was read from, where the two differ."""
    return [(ours, theirs) for ours, theirs in preview.columns.items() if ours != theirs.strip().lower()]
