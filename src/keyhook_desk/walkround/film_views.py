"""The tour of a build sheet to be filmed once: the page and the three files for the film."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, get_args
from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from keyhook.catalogue import load_catalogue
from keyhook.errors import BadInput, KeyhookError
from keyhook.hire.hire import Tag
from keyhook.phrases import say
from keyhook.tour.film import FILM_MIN, TYPICAL_TAGS, FilmAsked, film_note, film_tour
from keyhook.tour.learning import learnt_factors
from keyhook.tour.outcome import TourAnswer
from keyhook.tour.script import autocue, chapters_vtt, subtitles_vtt
from keyhook.tour.select import Search
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.fleet.sheets import sheet_of
from keyhook_desk.people.rights import needs
from keyhook_desk.walkround.panel import tour_panel
from keyhook_desk.walkround.planned import LOOK_S, counts_key
from keyhook_desk.walkround.views import file_of
from keyhook_desk.walkround.wishes import minutes_of
from keyhook_desk.web.kept import Kept
from keyhook_desk.yard.services import the_depot

#: The files of a film: what each is called, its kind, and how it is written.
PIECES: dict[str, tuple[str, str, Callable[[TourAnswer, str], str]]] = {
    "autocue": (".txt", "text/plain", lambda answer, note: autocue(answer, note=note, filmed=True)),
    "chapters": ("-chapters.vtt", "text/vtt", chapters_vtt),
    "subtitles": ("-subtitles.vtt", "text/vtt", subtitles_vtt),
}
#: Tags that somebody may choose: all but what the vehicle is by itself.
CHOICES = tuple(tag for tag in get_args(Tag) if tag != "over35")
_FILMS: Kept[TourAnswer] = Kept(64)


@require_GET
@needs("tour.see")
def film(request: HttpRequest, vehicle: str) -> HttpResponse:
    """Show the script of one film for all vehicles of a build sheet, for a party and minutes that can be chosen."""
    row = _row(vehicle)
    sheet, currency = sheet_of(row.sheet), the_depot().currency
    context: dict[str, Any] = {"row": row, "sheet": sheet, "minutes": request.GET.get("minutes", f"{FILM_MIN:g}")}
    context["same"] = VehicleRow.objects.filter(sheet=row.sheet).order_by("name")
    try:
        asked = _asked(request.GET)
        answer = _answer(row, asked)
    except KeyhookError as error:
        asked, context["slip"] = FilmAsked(tuple(request.GET.getlist("tag"))), str(error)
    else:
        note = film_note(answer, sheet.name)
        script = autocue(answer, note=note, filmed=True)
        query = urlencode({"minutes": f"{asked.available_min:g}", "tag": sorted(asked.tags)}, doseq=True)
        context |= {"panel": tour_panel(answer, sheet, currency), "script": script, "query": query}
    context["tags"] = [(tag, say(f"catalogue.tag.{tag}"), tag in asked.tags) for tag in CHOICES]
    return render(request, "walkround/film.html", context)


@require_GET
@needs("tour.see")
def film_piece(request: HttpRequest, vehicle: str, piece: str) -> HttpResponse:
    """Give the autocue, the chapters or the subtitles of a film."""
    if piece not in PIECES:
        raise Http404(piece)
    row = _row(vehicle)
    try:
        answer = _answer(row, _asked(request.GET))
    except KeyhookError as error:
        return HttpResponse(str(error), status=400, content_type="text/plain; charset=utf-8")
    end, kind, written = PIECES[piece]
    return file_of(written(answer, film_note(answer, sheet_of(row.sheet).name)), kind, f"film-{row.sheet.name}{end}")


def _row(vehicle: str) -> VehicleRow:
    return get_object_or_404(VehicleRow.objects.select_related("sheet"), name=vehicle)


def _asked(data: QueryDict) -> FilmAsked:
    """Return whom the film is for: the typical party until somebody has chosen.

    Raises
    ------
    BadInput
        Minutes that cannot be.
    """
    minutes, slip = minutes_of(data.get("minutes", "").strip())
    if slip:
        raise BadInput(slip.rstrip("."))
    tags = data.getlist("tag") if "minutes" in data else sorted(TYPICAL_TAGS)
    return FilmAsked(tuple(sorted(set(tags))), FILM_MIN if minutes is None else minutes)


def _answer(row: VehicleRow, asked: FilmAsked) -> TourAnswer:
    sheet, depot, catalogue = sheet_of(row.sheet), the_depot(), load_catalogue()

    def work_out() -> TourAnswer:
        learnt = learnt_factors(depot.learnt, catalogue)
        search = Search(limit_s=LOOK_S)
        return film_tour(sheet, catalogue, asked, search=search, currency=depot.currency, learnt=learnt)

    return _FILMS.answer((row.sheet.digest, asked, *counts_key(depot)), work_out)
