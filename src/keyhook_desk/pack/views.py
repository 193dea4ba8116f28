"""Pages of the desk about packs: the link and its code, messages to send, stickers, photos, languages."""

from __future__ import annotations

import io
from urllib.parse import quote

import segno
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyhook.catalogue import load_catalogue
from keyhook.errors import BadInput, KeyhookError
from keyhook.pack import TimedMessage, pack_calendar, timed_messages
from keyhook.phrases import LANGUAGES, say
from keyhook_desk import clock
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.fleet.sheets import built_of
from keyhook_desk.hires.models import HireRow
from keyhook_desk.pack.fallen import fallen_of
from keyhook_desk.pack.links import ends_at, token_of
from keyhook_desk.pack.measure import measured
from keyhook_desk.pack.models import FittingPhoto, LanguageTick, PackLink
from keyhook_desk.pack.selectors import Held, confirmed_points, held_pack, photos_of
from keyhook_desk.pack.services import (
    add_photo,
    make_link,
    renew_link,
    take_photo_off,
    tick_language,
    withdraw_link,
)
from keyhook_desk.pack.stickers import sticker_paper
from keyhook_desk.papers.codes import QUIET_ZONE
from keyhook_desk.papers.printing import sticker_sheet
from keyhook_desk.people.rights import needs
from keyhook_desk.web.pictures import LARGEST_BYTES, read_picture
from keyhook_desk.yard.services import the_depot


def _row(name: str) -> HireRow:
    return get_object_or_404(HireRow.objects.select_related("vehicle__sheet", "pack_link"), name=name)


def _link_of(row: HireRow) -> PackLink | None:
    link: PackLink | None = getattr(row, "pack_link", None)
    return link if link is not None and link.withdrawn_at is None else None


def _address(request: HttpRequest, link: PackLink, row: HireRow) -> str:
    link.hire = row
    return request.build_absolute_uri(reverse("pack:home", kwargs={"token": token_of(link)}))


def _code(address: str) -> str:
    """Return the code of an address as SVG that stands alone."""
    picture = io.BytesIO()
    segno.make_qr(address, error="m").save(picture, kind="svg", border=QUIET_ZONE, scale=6, light="#ffffff")
    return picture.getvalue().decode()


def _language(request: HttpRequest) -> str:
    asked = request.GET.get("language", "en")
    return asked if asked in LANGUAGES else "en"


@require_GET
@needs("hire.see")
def hire(request: HttpRequest, name: str) -> HttpResponse:
    """Show the pack of a hire: its link and code, what was read, and the messages to send."""
    row = _row(name)
    if row.vehicle is None:
        said = "This hire has no vehicle yet, and a pack is of one vehicle. Choose one first."
        return render(request, "web/error.html", {"title": "No vehicle yet", "said": said}, status=409)
    link, language = _link_of(row), _language(request)
    held, confirmed = held_pack(row, language), confirmed_points(row)
    address = _address(request, link, row) if link else ""
    context = {
        "row": row,
        "held": held,
        "zone": held.hire.zone,
        "link": link,
        "withdrawn": getattr(row, "pack_link", None) if link is None else None,
        "ends": ends_at(row),
        "over": clock.now() >= ends_at(row),
        "address": address,
        "code": f"data:image/svg+xml,{quote(_code(address))}" if address else "",
        "read": [card for card in held.pack.cards if card.points and confirmed.issuperset(p.id for p in card.points)],
        "language": language,
        "languages": LANGUAGES.items(),
        "messages_to_send": _messages(held, address, confirmed) if address else (),
    }
    return render(request, "pack/desk_hire.html", context)


def _messages(held: Held, address: str, confirmed: frozenset[str]) -> list[tuple[str, TimedMessage, str]]:
    """Return heading, message, and an address that opens it in the mail program, of each message."""
    found = timed_messages(held.pack, held.hire, held.sender(address), confirmed=confirmed, fallen=fallen_of(held.row))
    return [
        (
            say(f"pack.message.heading_{one.slot}"),
            one,
            f"mailto:?subject={quote(one.subject)}&body={quote(one.text)}",
        )
        for one in found
    ]


@needs("pack.send")
@require_POST
def link(request: HttpRequest, name: str) -> HttpResponse:
    """Make, renew or withdraw the link."""
    row = _row(name)
    if row.vehicle is None:
        raise BadInput("This hire has no vehicle yet", seen=name, todo="Choose one first, then make the link")
    does = {"make": make_link, "renew": renew_link, "withdraw": withdraw_link}
    said = {
        "make": "The link is ready.",
        "renew": "The link is new. The one before it opens nothing any more: send this one.",
        "withdraw": "The link is withdrawn. It opens nothing any more.",
    }
    wanted = request.POST.get("do", "")
    if wanted not in does:
        raise BadInput("This cannot be done with a link", seen=wanted, todo="Use one of the buttons")
    does[wanted](actor=request.user, hire=row)  # type: ignore[arg-type]
    messages.success(request, said[wanted])
    return redirect("packs:hire", name=name)


@require_GET
@needs("hire.see")
def code(request: HttpRequest, name: str) -> HttpResponse:
    """Give the code of the link as SVG."""
    row = _row(name)
    link = _link_of(row)
    if link is None:
        raise Http404
    response = HttpResponse(_code(_address(request, link, row)), content_type="image/svg+xml")
    response["Content-Disposition"] = f'attachment; filename="pack-{row.name}.svg"'
    return response


@require_GET
@needs("hire.see")
def dates(request: HttpRequest, name: str) -> HttpResponse:
    """Give dates and reminders of a hire as a calendar file, to be attached to a message."""
    row = _row(name)
    link, language = _link_of(row), _language(request)
    if link is None:
        raise Http404
    held = held_pack(row, language)
    sender = held.sender(_address(request, link, row))
    found = timed_messages(held.pack, held.hire, sender, confirmed=confirmed_points(row), fallen=fallen_of(row))
    body = pack_calendar(held.hire, found, sender, stamp=clock.now(), language=language)
    response = HttpResponse(body, content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="pack-{row.name}.ics"'
    return response


def _vehicle(name: str) -> VehicleRow:
    return get_object_or_404(VehicleRow.objects.select_related("sheet"), name=name)


@require_GET
@needs("vehicle.see")
def stickers(request: HttpRequest, vehicle: str) -> HttpResponse:
    """Give the sheet of find-it stickers; ``skip`` leaves out labels of the sheet that are used already."""
    row = _vehicle(vehicle)
    depot = the_depot()
    skip = request.GET.get("skip", "")
    paper = sticker_paper(
        built_of(row),
        row.name,
        depot,
        day=clock.today(depot.zone),
        address=lambda number: request.build_absolute_uri(
            reverse("pack:find", kwargs={"vehicle": row.name, "number": number})
        ),
        skip=min(int(skip), 20) if skip.isdecimal() else 0,
    )
    response = HttpResponse(sticker_sheet(paper), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="stickers-{row.name}.pdf"'
    return response


@require_http_methods(["GET", "POST"])
@needs("pack.photo")
def photos(request: HttpRequest, vehicle: str) -> HttpResponse:
    """Show and take in the depot's own photos of the fittings of a vehicle."""
    row = _vehicle(vehicle)
    sheet, catalogue = built_of(row), load_catalogue()
    slip, at = "", request.POST.get("fitting", "")
    if request.method == "POST":
        try:
            said = _keep_photo(request, row, at, {one.fitting for one in sheet.fittings})
        except KeyhookError as error:
            slip = str(error)
        else:
            messages.success(request, said)
            return redirect(reverse("packs:photos", kwargs={"vehicle": vehicle}, fragment=f"f-{at}"))
    there = photos_of(row)
    lines = [
        (one, catalogue.fittings[one.fitting].name, there.get(one.fitting, []))
        for one in sorted(sheet.fittings, key=lambda one: one.find_it)
    ]
    context = {"row": row, "sheet": sheet, "lines": lines, "slip": slip, "at": at, "most_bytes": LARGEST_BYTES}
    return render(request, "pack/desk_photos.html", context, status=422 if slip else 200)


def _keep_photo(request: HttpRequest, row: VehicleRow, fitting: str, known: set[str]) -> str:
    """Take a photo off or add the one that was sent; returns what to say."""
    if digest := request.POST.get("off", ""):
        take_photo_off(actor=request.user, vehicle=row, digest=digest, fitting=fitting)  # type: ignore[arg-type]
        return "The photo is taken off."
    if fitting not in known:
        raise BadInput("This vehicle has no such fitting", seen=fitting, todo="Choose one of the list")
    sent = request.FILES.get("photo")
    if sent is None:
        raise BadInput("No photo was chosen", todo="Choose one, or take one with the camera")
    if (sent.size or 0) > LARGEST_BYTES:
        seen, todo = f"{(sent.size or 0) / 1024**2:.1f} MB", f"Send one of at most {LARGEST_BYTES // 1024**2} MB"
        raise BadInput("The photo is too large", seen=seen, todo=todo)
    add_photo(actor=request.user, vehicle=row, fitting=fitting, picture=read_picture(sent.read()))  # type: ignore[arg-type]
    return "The photo stands on the card of every pack of this vehicle."


@require_GET
@needs("vehicle.see")
def photo(request: HttpRequest, vehicle: str, digest: str) -> HttpResponse:
    """Give one photo of a vehicle."""
    _ = request
    found = FittingPhoto.objects.filter(vehicle__name=vehicle, digest=digest).first()
    if found is None:
        raise Http404
    return HttpResponse(bytes(found.content), content_type=found.kind)


@require_http_methods(["GET", "POST"])
@needs("pack.language")
def languages(request: HttpRequest) -> HttpResponse:
    """Show the languages of the pack and tick those that a native speaker has read."""
    if request.method == "POST":
        language = request.POST.get("language", "")
        tick_language(actor=request.user, language=language, checked=request.POST.get("checked") == "yes")  # type: ignore[arg-type]
        messages.success(request, "Noted.")
        return redirect("packs:languages")
    ticks = {tick.language: tick for tick in LanguageTick.objects.select_related("by")}
    lines = [(code, name, ticks.get(code), *measured(code)) for code, name in LANGUAGES.items() if code != "en"]
    return render(request, "pack/desk_languages.html", {"lines": lines, "zone": the_depot().zone})
