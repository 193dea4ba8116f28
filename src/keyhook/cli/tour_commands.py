"""The tour on the command line: what to show, in which order; and what a recorded tour covers."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from keyhook.catalogue import load_catalogue
from keyhook.cli.options import answer_options, depot_at, depot_option, said_plainly
from keyhook.cli.render import as_json
from keyhook.cli.tour_text import check_document, check_text, tour_document, tour_text
from keyhook.dossier import hire_tour, recorded_tour
from keyhook.errors import BadInput
from keyhook.tour.compose import TourWishes
from keyhook.tour.outcome import TourAnswer
from keyhook.tour.replan import Progress
from keyhook.tour.script import autocue, chapters_vtt, subtitles_vtt

FILMS = {"chapters": chapters_vtt, "subtitles": subtitles_vtt}


@click.command()
@click.argument("hire")
@click.option("--vehicle", help="Answer for this vehicle instead of the hire's own.")
@click.option("--minutes", type=float, help="Minutes there are for the whole tour; the usual ones without it.")
@click.option("--slow", type=float, default=1.0, help="How many times as long this party takes, like 1.3.")
@click.option("--confirmed", multiple=True, help="Point that they confirmed in their pack; may be repeated.")
@click.option("--done", multiple=True, help="Point shown already, in order; may be repeated. Plans the rest.")
@click.option("--skipped", multiple=True, help="Point passed over; may be repeated. Plans the rest.")
@click.option("--elapsed", type=float, help="Minutes since the start; as planned for what is done without it.")
@click.option("--at", "at_station", help="Station where they stand now; that of the last point done without it.")
@click.option("--script", is_flag=True, help="Print the tour to read from a screen.")
@click.option("--vtt", type=click.Choice(sorted(FILMS)), help="Print WebVTT for a film of this tour.")
@depot_option
@answer_options
@said_plainly
def tour(  # noqa: PLR0913, PLR0917  # one parameter an option
    hire: str,
    vehicle: str | None,
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
    """Plan the tour of HIRE: what to show this party in the minutes there are, in which order, where the rest goes."""
    catalogue = load_catalogue()
    read = tuple(catalogue.teach_point(name).id for name in _points(confirmed))
    wishes = TourWishes(available_min=minutes, confirmed=read, pace_factor=slow)
    progress = _progress(_points(done), _points(skipped), elapsed, at_station)
    found = hire_tour(depot_at(folder), hire, catalogue, wishes, vehicle=vehicle, progress=progress)
    if script or vtt:
        click.echo(_spoken(found.answer, vtt), nl=False)
    elif json_out:
        click.echo(as_json(tour_document(found)))
    else:
        click.echo(tour_text(found, why=why))


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
    elapsed_s = None if elapsed_min is None else 60 * elapsed_min
    return Progress(elapsed_s=elapsed_s, at_station=at_station, done=done, skipped=skipped)


def _spoken(answer: TourAnswer, vtt: str | None) -> str:
    return FILMS[vtt](answer) if vtt else autocue(answer)


def _text_of(recording: Path) -> str:
    """Return what stands in a file of subtitles."""
    try:
        return recording.read_text(encoding="utf-8")
    except OSError as error:
        raise BadInput("The recording cannot be opened", seen=recording, todo="Name a file with subtitles") from error
    except UnicodeDecodeError as error:
        todo = "Give the subtitles (WebVTT, SRT or lines like [m:ss] words), not the film"
        raise BadInput("The recording is not text in UTF-8", seen=recording, todo=todo) from error
