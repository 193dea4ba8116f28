"""A recorded tour on a page: what was heard when, what is missing, where nothing was."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from keyhook.basis import Figure, Finding, Level
from keyhook.catalogue import load_catalogue
from keyhook.depot.depot import Depot
from keyhook.drawing import Lane, TimeMark, timeline_drawing
from keyhook.errors import BadInput
from keyhook.hire.hire import Hire
from keyhook.phrases import say
from keyhook.tour.compose import tags_of
from keyhook.tour.coverage import PERHAPS_FROM, ForeignTalk, HeardPoint, StationTalk, TourCheck, tour_check
from keyhook.tour.learning import learnt_factors
from keyhook.vehicle.build_sheet import BuildSheet

#: A stretch without a point is a gap from here on [s] (assumption: two points would have gone into it).
GAP_S = 45.0
#: The longest transcript that is read [letters]: some four hours.
MOST_LETTERS = 400_000


@dataclass(frozen=True, slots=True)
class StationRow:
    """One station: its minutes, what telling there saves, the share of it that was told [%]."""

    talk: StationTalk
    percent: float


@dataclass(frozen=True, slots=True)
class RecordedPage:
    """Everything the page of a checked recording shows."""

    check: TourCheck
    verdict: str
    words: str
    drawing: str
    silent: tuple[HeardPoint, ...]
    perhaps: tuple[HeardPoint, ...]
    others: tuple[HeardPoint, ...]
    foreign: tuple[ForeignTalk, ...]
    stations: tuple[StationRow, ...]
    gaps: tuple[tuple[float, float], ...]
    notes: tuple[Finding, ...]
    figures: tuple[Figure, ...]


def transcript_of(pasted: str, uploaded: bytes | None) -> str:
    """Return the transcript as text: the file when there is one, else what was pasted.

    Raises
    ------
    BadInput
        Nothing was given, the file is no text, or it is too long.
    """
    text = _decoded(uploaded) if uploaded else pasted
    if not text.strip():
        raise BadInput("There is no transcript yet", todo="Paste one, or choose a file")
    if len(text) > MOST_LETTERS:
        raise BadInput("The transcript is too long", seen=f"{len(text)} letters", todo=f"Keep it below {MOST_LETTERS}")
    return text


def _decoded(uploaded: bytes) -> str:
    try:
        return uploaded.decode("utf-8-sig")
    except UnicodeDecodeError:
        seen = "".join(chr(byte) if 32 <= byte < 127 else "." for byte in uploaded[:12])  # noqa: PLR2004  # ASCII
        todo = "Save the transcript as UTF-8 text (.vtt, .srt or .txt); a film or sound file cannot be read"
        raise BadInput("The file is no text", seen=seen, todo=todo) from None


def recorded_page(transcript: str, sheet: BuildSheet, hire: Hire | None, depot: Depot) -> RecordedPage:
    """Return what the page shows of a transcript; with a hire, what applies to its party is expected too.

    Raises
    ------
    BadInput
        The transcript cannot be read.
    """
    tags, options = (tags_of(sheet, hire), hire.options) if hire else (frozenset(), ())
    catalogue = load_catalogue()
    check = tour_check(
        transcript,
        sheet,
        catalogue,
        tags=tags,
        options=options,
        currency=depot.currency,
        learnt=learnt_factors(depot.learnt, catalogue),
    )
    missing = check.missing_mandatory
    gaps = tuple(_gaps([point.at_s for point in check.covered], 60 * check.duration_min))
    verdict, words = (
        ("over", _say("missing", len(missing))) if missing else ("fits", say("tour.coverage.all_mandatory"))
    )
    return RecordedPage(
        check=check,
        verdict=verdict,
        words=words,
        drawing=timeline_drawing(list(_lanes(check)), 60 * check.duration_min, gaps, prefix="said"),
        silent=tuple(point for point in missing if point.chance < PERHAPS_FROM),
        perhaps=tuple(point for point in missing if point.chance >= PERHAPS_FROM),
        others=tuple(point for point in check.missing if not point.mandatory),
        foreign=check.foreign,
        stations=tuple(_rows(check.stations)),
        gaps=gaps,
        notes=tuple(found for found in check.findings if found.level is Level.NOTE),
        figures=tuple(check.figures.values()),
    )


def _say(key: str, count: int) -> str:
    return say(f"walkround.recorded.{key}" if count != 1 else f"walkround.recorded.{key}_one", {"count": count})


def _rows(stations: Sequence[StationTalk]) -> Iterator[StationRow]:
    for talk in stations:
        yield StationRow(talk, 100 * talk.told_cost / talk.value_cost if talk.value_cost else 100.0)


def _gaps(heard_s: Sequence[float], duration_s: float) -> Iterator[tuple[float, float]]:
    """Yield the stretches of :data:`GAP_S` and more in which no point was heard, beginning and end included."""
    moments = [0.0, *sorted(heard_s), duration_s]
    for start_s, end_s in pairwise(moments):
        if end_s - start_s >= GAP_S:
            yield start_s, end_s


def _lanes(check: TourCheck) -> Iterator[Lane]:
    """Yield a lane for each station of which something was heard, in the order in which it was first."""
    marks: dict[str, list[TimeMark]] = {}
    names = {talk.station: talk.name for talk in check.stations}
    perhaps = [point for point in check.missing_mandatory if point.chance >= PERHAPS_FROM]
    for point in sorted((*check.covered, *perhaps), key=lambda point: point.at_s):
        look = "perhaps" if point in perhaps else ("must" if point.mandatory else "said")
        title = f"{point.title}: {point.text}"
        marks.setdefault(point.station, []).append(TimeMark(point.at_s, title, look))  # type: ignore[arg-type]
    for station, found in marks.items():
        yield Lane(names.get(station, station), tuple(found))
    if check.foreign:
        others = tuple(TimeMark(talk.at_s, talk.title, "foreign") for talk in check.foreign)
        yield Lane(say("walkround.recorded.foreign_lane"), others)
