"""The walk with the hirer: the page for the tablet, what it tells, what it asks, and what was acknowledged."""

from __future__ import annotations

import datetime as dt
import json
from uuid import uuid4
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from keyhook.errors import KeyhookError
from keyhook.pack.spoken import ENGLISH
from keyhook.phrases import LANGUAGES, say
from keyhook.tour.outcome import TourAnswer
from keyhook_desk import clock
from keyhook_desk.hires.models import HireRow
from keyhook_desk.pack.selectors import languages_checked
from keyhook_desk.people.rights import needs
from keyhook_desk.walkround.models import HandOverRecord, Kind
from keyhook_desk.walkround.pages import ENGLISH_ALONE, PointCard, said_too, walk_page
from keyhook_desk.walkround.planned import again
from keyhook_desk.walkround.sent import read_acknowledgement, read_progress, read_tick
from keyhook_desk.walkround.services import hand_over, tick
from keyhook_desk.walkround.views import held_tour, row_of
from keyhook_desk.walkround.walk import as_sent, records_of, ticks_of
from keyhook_desk.yard.services import the_depot


@require_GET
@needs("walk.do")
def walk(request: HttpRequest, hire: str) -> HttpResponse:
    """Show the walk: every stop with its points, the questions and the acknowledgement."""
    row = row_of(hire)
    shown = held_tour(row)
    ticks = ticks_of(row)
    language = _their_language(request)
    page = walk_page(shown, ticks, said_too(language) if language else ENGLISH_ALONE)
    context = {"row": row, "page": page, "records": records_of(row), "ticks": as_sent(ticks), "language": language}
    context["languages"] = [(code, name) for code, name in LANGUAGES.items() if code != ENGLISH]
    if language:
        context["unchecked"] = language not in languages_checked()
    return render(request, "walkround/walk.html", context)


def _their_language(request: HttpRequest) -> str:
    """Return the language besides English in which the points stand on the page, empty for none."""
    asked = request.GET.get("language", "")
    return asked if asked in LANGUAGES and asked != ENGLISH else ""


def _refusal(error: KeyhookError) -> JsonResponse:
    return JsonResponse({"said": str(error), "code": error.code}, status=422)


@require_POST
@needs("walk.do")
def take_tick(request: HttpRequest, hire: str) -> HttpResponse:
    """Take one tick; from a page without script, go back to its place on the page."""
    row = get_object_or_404(HireRow, name=hire)
    by_hand = "by_hand" in request.POST
    try:
        told = read_tick(_by_hand(request) if by_hand else request.POST)
        tick(actor=request.user, hire=row, told=told)  # type: ignore[arg-type]
    except KeyhookError as error:
        if by_hand:
            raise
        return _refusal(error)
    if by_hand:
        return redirect(f"{request.path.removesuffix('tick/')}#p-{told.point}")
    return JsonResponse({"uid": str(told.uid)})


def _by_hand(request: HttpRequest) -> dict[str, str]:
    """Return what a form sent without script, with the id and the time that a tablet would have put on it."""
    marks = {"uid": str(uuid4()), "at": clock.now().isoformat(), "minutes": "0"}
    return marks | {key: value for key, value in request.POST.items() if isinstance(value, str)}


@require_GET
@needs("walk.do")
def state(request: HttpRequest, hire: str) -> HttpResponse:
    """Tell what every tablet has told so far."""
    _ = request
    row = get_object_or_404(HireRow, name=hire)
    signed = [{"number": record.number, "uid": str(record.uid)} for record in records_of(row)]
    return JsonResponse({"ticks": as_sent(ticks_of(row)), "signed": signed})


@require_GET
@needs("walk.do")
def plan_again(request: HttpRequest, hire: str) -> HttpResponse:
    """Plan the rest of a tour from where it stands; nothing is written."""
    row = row_of(hire)
    try:
        progress, left_min = read_progress(request.GET)
        answer = again(held_tour(row), progress, left_min)
    except KeyhookError as error:
        return _refusal(error)
    return JsonResponse(_order(answer))


def _order(answer: TourAnswer) -> dict[str, object]:
    """Return the stops and what there is to say about them, as a tablet takes it."""
    return {
        "stops": [
            {
                "station": stop.station,
                "name": stop.name,
                "arrive_s": round(stop.arrive_s),
                "talk_s": round(stop.talk_s),
                "points": [line.id for line in stop.lines],
            }
            for stop in answer.stops
        ],
        "end_s": round(answer.plan.end_s),
        "said": [say(found.code, found.values) for found in answer.findings if found.code in _WORTH_SAYING],
    }


#: Of a plan made again, what is worth a word in the yard.
_WORTH_SAYING = {"tour.replanned", "tour.come_back", "tour.mandatory_over", "tour.falls_off", "tour.nothing"}


@require_POST
@needs("walk.do")
def take_hand_over(request: HttpRequest, hire: str) -> HttpResponse:
    """Take the acknowledgement into the ledger."""
    row = row_of(hire)
    by_hand = "by_hand" in request.POST
    try:
        said = read_acknowledgement(_signed_by_hand(request, row) if by_hand else request.POST)
        entry = hand_over(actor=request.user, hire=row, said=said)  # type: ignore[arg-type]
    except KeyhookError as error:
        if by_hand:
            raise
        return _refusal(error)
    if by_hand:
        return redirect("walkround:acknowledged", hire=row.name, number=entry.number)
    return JsonResponse({"uid": str(entry.uid), "number": entry.number})


def _signed_by_hand(request: HttpRequest, row: HireRow) -> dict[str, str]:
    """Return an acknowledgement sent without script: the points as the desk has them ticked by now."""
    page = walk_page(held_tour(row), ticks_of(row))
    shown = [{"id": one.id, "text": f"{one.title}: {one.text}", "how": _how(one)} for one in page.must]
    asked = [
        {"point": one.point, "text": f"{one.title}: {one.text}", "answer": request.POST.get(f"q-{one.point}", "again")}
        for one in page.questions
    ]
    return _by_hand(request) | {"shown": json.dumps(shown), "asked": json.dumps(asked), "caution": page.caution}


def _how(point: PointCard) -> str:
    return point.state.kind if point.state and point.state.kind in {Kind.TOLD, Kind.HIRER_DID} else ""


@require_GET
@needs("hire.see")
def acknowledged(request: HttpRequest, hire: str, number: int) -> HttpResponse:
    """Show what was acknowledged, as it stands in the ledger."""
    found = HandOverRecord.objects.select_related("hire__vehicle")
    record = get_object_or_404(found, hire__name=hire, number=number)
    entry = record.entry
    context = {
        "record": record,
        "entry": entry,
        "row": record.hire,
        "missing": [point for point in entry["points"] if not point["how"]],
        "at": dt.datetime.fromisoformat(entry["at"]).astimezone(ZoneInfo(the_depot().zone)).replace(tzinfo=None),
    }
    return render(request, "walkround/acknowledged.html", context)
