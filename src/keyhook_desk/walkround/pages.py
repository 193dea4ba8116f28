"""What the page of the walk shows: stops with their points as they stand, spare points, questions, what is signed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from keyhook.catalogue import load_catalogue
from keyhook.catalogue.texts import book_of
from keyhook.pack.spoken import ENGLISH, Spoken
from keyhook.phrases import phrase_book, say
from keyhook.tour.answer import ASK_OF_QUIRK
from keyhook.tour.compose import ON_THE_TOUR, Known
from keyhook.tour.outcome import AnswerLine
from keyhook_desk.walkround.models import WalkTick
from keyhook_desk.walkround.panel import walk_drawing
from keyhook_desk.walkround.planned import Tour
from keyhook_desk.walkround.walk import PointState, Walk, walk_of


@dataclass(frozen=True, slots=True)
class SaidToo:
    """Words in the language of the party: what points say and what is asked back about them, by point.

    ``of_quirks`` is the question about what is true of one vehicle only. Where there are no words, there is no key.
    """

    points: Mapping[str, str] = field(default_factory=dict)
    questions: Mapping[str, str] = field(default_factory=dict)
    of_quirks: str = ""

    def question(self, point: str) -> str:
        """Return the question about a point; empty where there is none."""
        known = point in load_catalogue().teach_points
        return self.questions.get(point, "") if known else self.of_quirks


ENGLISH_ALONE = SaidToo()


@dataclass(frozen=True, slots=True)
class QuestionCard:
    """A teach-back question as the tablet shows it; ``too`` in the language of the party, empty where it has none."""

    point: str
    title: str
    text: str
    too: str


@dataclass(frozen=True, slots=True)
class PointCard:
    """One point as the tablet shows it; ``state`` is what last happened to it, None for nothing.

    ``too`` are its words in the language of the party, empty where there are none.
    """

    id: str
    text: str
    title: str
    why: str
    find_it: int
    where: str
    station: str
    must: bool
    closing: bool
    talk_s: int
    state: PointState | None
    notes: tuple[str, ...]
    too: str


@dataclass(frozen=True, slots=True)
class StopCard:
    """One stop: its number along the walk, station, name, when and for how long [s], its points."""

    number: int
    station: str
    name: str
    arrive_s: int
    talk_s: int
    points: tuple[PointCard, ...]


@dataclass(frozen=True, slots=True)
class WalkPage:
    """The whole walk; ``spare`` are points that are not in the plan but may come in when it is made again."""

    tour: Tour
    walk: Walk
    drawing: str
    stops: tuple[StopCard, ...]
    spare: tuple[PointCard, ...]
    questions: tuple[QuestionCard, ...]
    must: tuple[PointCard, ...]
    end_s: int
    caution: str


def said_too(language: str) -> SaidToo:
    """Return the words of a language, text by text where its book has them as the English now stands."""
    if language == ENGLISH:
        return ENGLISH_ALONE
    spoken, points, questions = Spoken(language, book_of(language)), dict[str, str](), dict[str, str]()
    for fitting in load_catalogue().fittings.values():
        for point in fitting.teach:
            for told, name, english in ((points, "text", point.text), (questions, "ask", point.ask)):
                key = f"{fitting.id}.teach.{point.id}.{name}"
                in_language, said = spoken.card({key: english})
                if in_language == language:
                    told[point.id] = said[key]
    return SaidToo(points, questions, phrase_book(language).get(ASK_OF_QUIRK, ""))


def walk_page(tour: Tour, ticks: Iterable[WalkTick], too: SaidToo = ENGLISH_ALONE) -> WalkPage:
    """Return what the page of the walk shows; ``too`` are words in the language of the party."""
    walk = walk_of(ticks)
    stops = tuple(_stops(tour, walk, too))
    planned = {point.id for stop in stops for point in stop.points}
    spare = tuple(
        _spare(tour, known, walk, too)
        for known in tour.composed.known.values()
        if known.moment in ON_THE_TOUR and known.id not in planned
    )
    return WalkPage(
        tour=tour,
        walk=walk,
        drawing=walk_drawing(tour.sheet),
        stops=stops,
        spare=spare,
        questions=tuple(
            QuestionCard(one.point, one.title, one.text, too.question(one.point)) for one in tour.answer.questions
        ),
        must=tuple(point for stop in stops for point in stop.points if point.must),
        end_s=round(tour.answer.plan.end_s),
        caution=f"{say('tour.caution')} {say('walkround.acknowledgement')}",
    )


def _stops(tour: Tour, walk: Walk, too: SaidToo) -> Iterator[StopCard]:
    for number, stop in enumerate(tour.answer.stops, start=1):
        points = tuple(_planned(line, stop.station, walk, too) for line in stop.lines)
        yield StopCard(number, stop.station, stop.name, round(stop.arrive_s), round(stop.talk_s), points)


def _planned(line: AnswerLine, station: str, walk: Walk, too: SaidToo) -> PointCard:
    return PointCard(
        id=line.id,
        text=line.text,
        title=line.title,
        why=line.why,
        find_it=line.find_it,
        where=line.where,
        station=station,
        must=line.mandatory,
        closing=line.closing,
        talk_s=round(line.talk_s),
        state=walk.points.get(line.id),
        notes=walk.notes.get(line.id, ()),
        too=too.points.get(line.id, ""),
    )


def _spare(tour: Tour, known: Known, walk: Walk, too: SaidToo) -> PointCard:
    problem = tour.composed.problem
    point = problem.by_id()[known.id]
    return PointCard(
        id=known.id,
        text=known.text,
        title=known.title,
        why=known.why,
        find_it=known.find_it,
        where=known.where,
        station=point.station,
        must=known.mandatory,
        closing=point.closing,
        talk_s=round(problem.talk_s(point)),
        state=walk.points.get(known.id),
        notes=walk.notes.get(known.id, ()),
        too=too.points.get(known.id, ""),
    )
