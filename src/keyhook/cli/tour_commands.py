"""The tour on the command line: what to show, in which order; and what a recorded tour covers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

import click

from keyhook.catalogue import load_catalogue
from keyhook.cli.options import answer_options, depot_at, depot_option, said_plainly
from keyhook.cli.render import as_json
from keyhook.cli.tour_text import check_document, check_text, tour_document, tour_text
from keyhook.depot.folder import DepotFolder
from keyhook.dossier import HireTour, SheetTour, hire_tour, recorded_tour, sheet_tour
from keyhook.errors import BadInput
from keyhook.tour.compose import TourWishes
from keyhook.tour.film import FILM_MIN, TYPICAL_TAGS, FilmAsked, film_note
from keyhook.tour.replan import Progress
from keyhook.tour.script import autocue, chapters_vtt, subtitles_vtt

_TYPICAL = ", ".join(sorted(TYPICAL_TAGS))
FILMS = {"chapters": chapters_vtt, "subtitles": subtitles_vtt}


@click.command()
@click.argument("hire", required=False)
@click.option("--vehicle", help="Answer for this vehicle instead of the hire's own; without HIRE, film its sheet.")
@click.option("--sheet", help="Without HIRE: the tour for a film of this build sheet, for a typical party.")
@click.option("--tag", "tags", multiple=True, help=f"Whom a film is for, like {_TYPICAL}; may be repeated.")
@click.option(
    "--minutes",
    type=float,
    help=f"Minutes there are for the whole tour; the usual ones without it, {FILM_MIN:g} for a film.",
)
@click.option("--slow", type=float, default=1.0, help="How many times as long this party takes, like 1.3.")
@click.option(
    "--confirmed",
    multiple=True,
    help="Point that they confirmed in their pack, by its id as --why shows it; may be repeated.",
)
@click.option(
    "--done", multiple=True, help="Point shown already, by its id, in order; may be repeated. Plans the rest."
)
@click.option("--skipped", multiple=True, help="Point passed over, by its id; may be repeated. Plans the rest.")
@click.option("--elapsed", type=float, help="Minutes since the start; as planned for what is done without it.")
@click.option("--at", "at_station", help="Station where they stand now; that of the last point done without it.")
@click.option("--script", is_flag=True, help="Print the tour to read from a screen.")
@click.option("--vtt", type=click.Choice(sorted(FILMS)), help="Print WebVTT for a film of this tour.")
@depot_option
@answer_options
@said_plainly
def tour(  # noqa: PLR0913, PLR0917  # one parameter an option
    hire: str | None,
    vehicle: str | None,
    sheet: str | None,
    tags: Sequence[str],
    minutes: float | None,
    slow: float,
    confirmed: Sequence[str],
    done: Sequence[str],
    skipped: Sequence[str],
    elapsed: float | None,
    at_station: str | None,
    vtt: str | None,
    folder: Path,
    *,
    script: bool,
    json_out: bool,
    why: bool,
) -> None:
    """Plan the tour of HIRE: what to show this party in the minutes there are, in which order, where the rest goes.

    Without HIRE, with --sheet or --vehicle: the tour for one film of that build sheet, for a typical party.
    """
    depot = depot_at(folder)
    progress = _progress(_points(done), _points(skipped), elapsed, at_station)
    if hire is None:
        _only_of_a_hire(confirmed=bool(confirmed), progress=progress is not None)
        found: HireTour | SheetTour = _film(depot, vehicle, sheet, _points(tags), minutes, slow)
    else:
        _only_of_a_film(sheet, tags)
        catalogue = load_catalogue()
        read = tuple(catalogue.teach_point(name).id for name in _points(confirmed))
        wishes = TourWishes(available_min=minutes, confirmed=read, pace_factor=slow)
        found = hire_tour(depot, hire, catalogue, wishes, vehicle=vehicle, progress=progress)
    if script or vtt:
        click.echo(_spoken(found, vtt), nl=False)
    elif json_out:
        click.echo(as_json(tour_document(found)))
    else:
        click.echo(tour_text(found, why=why))


def _film(  # what was asked for, option by option
    depot: DepotFolder, vehicle: str | None, sheet: str | None, tags: Sequence[str], minutes: float | None, slow: float
) -> SheetTour:
    available_min = FILM_MIN if minutes is None else minutes
    asked = FilmAsked(frozenset(tags) if tags else TYPICAL_TAGS, available_min, slow)
    return sheet_tour(depot, load_catalogue(), asked, vehicle=vehicle, sheet=sheet)


def _only_of_a_hire(*, confirmed: bool, progress: bool) -> None:
    if confirmed or progress:
        seen = "--confirmed" if confirmed else "--done, --skipped, --elapsed or --at"
        raise BadInput("A film knows nobody and cannot be half shown", seen=seen, todo="Name the hire")


def _only_of_a_film(sheet: str | None, tags: Sequence[str]) -> None:
    if sheet or tags:
        seen = f"--sheet {sheet}" if sheet else f"--tag {tags[0]}"
        raise BadInput("A hire has its own vehicle and party", seen=seen, todo="Leave out the hire, or this option")


@click.command(name="tour-check")
@click.argument("recording", type=click.Path(path_type=Path))
@click.option("--vehicle", help="The vehicle that was shown.")
@click.option("--sheet", help="The build sheet of the vehicle that was shown.")
@click.option("--hire", help="The hire it was for: what applies to this party is expected too.")
@depot_option
@answer_options
@said_plainly
def tour_check(
    recording: Path,
    vehicle: str | None,
    sheet: str | None,
    hire: str | None,
    folder: Path,
    *,
    json_out: bool,
    why: bool,
) -> None:
    """Tell what the RECORDING of a tour covers (WebVTT, SRT or [m:ss] text), what is missing, what does not belong."""
    depot, text = depot_at(folder), _text_of(recording)
    found = recorded_tour(depot, text, load_catalogue(), vehicle=vehicle, sheet=sheet, hire_id=hire)
    click.echo(as_json(check_document(recording.name, found)) if json_out else check_text(found, why=why))


def _points(given: Sequence[str]) -> tuple[str, ...]:
    """Return names given one by one or with commas between them."""
    return tuple(name.strip() for part in given for name in part.split(",") if name.strip())


def _progress(
    done: Sequence[str], skipped: Sequence[str], elapsed_min: float | None, at_station: str | None
) -> Progress | None:
    if not done and not skipped and elapsed_min is None and at_station is None:
        return None
    if elapsed_min is not None and not 0 <= elapsed_min < math.inf:
        raise BadInput("The minutes since the start cannot be this", seen=f"{elapsed_min:g}", todo="Give 0 or more")
    elapsed_s = None if elapsed_min is None else 60 * elapsed_min
    return Progress(elapsed_s=elapsed_s, at_station=at_station, done=done, skipped=skipped)


def _spoken(found: HireTour | SheetTour, vtt: str | None) -> str:
    """Return the words of a tour; those of a film say for whom it is."""
    filmed = isinstance(found, SheetTour)
    note = film_note(found.answer, found.sheet.name) if filmed else ""
    return FILMS[vtt](found.answer, note) if vtt else autocue(found.answer, note=note, filmed=filmed)


def _text_of(recording: Path) -> str:
    """Return what stands in a file of subtitles."""
    try:
        return recording.read_text(encoding="utf-8")
    except OSError as error:
        raise BadInput("The recording cannot be opened", seen=recording, todo="Name a file with subtitles") from error
    except UnicodeDecodeError as error:
        todo = "Give the subtitles (WebVTT, SRT or lines like [m:ss] words), not the film"
        raise BadInput("The recording is not text in UTF-8", seen=recording, todo=todo) from error
