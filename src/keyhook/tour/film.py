"""The tour of a build sheet for a film: made once for a typical party, shown to everybody who hires such a vehicle.

What is true of one vehicle only (its quirks) is left to whoever hands it over, and nobody asks back while a film runs.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import get_args

from keyhook.catalogue import Catalogue
from keyhook.errors import UnknownName
from keyhook.hire.hire import Tag
from keyhook.phrases import say
from keyhook.tour.answer import answer_of
from keyhook.tour.compose import TourWishes, compose_for, vehicle_tags
from keyhook.tour.outcome import TourAnswer
from keyhook.tour.select import Search
from keyhook.vehicle.build_sheet import BuildSheet

#: For whom a film is made when nobody says otherwise: most who watch it have never hired, and plug in (assumption).
TYPICAL_TAGS: frozenset[str] = frozenset({"first_timer", "hookup"})
#: Minutes of a film when nobody says otherwise: half of what people listen to at the vehicle (assumption).
FILM_MIN = 20.0


@dataclass(frozen=True, slots=True)
class FilmAsked:
    """For whom a film is made and how long it may be.

    Parameters
    ----------
    tags
        Hire tags of the party it speaks to.
    available_min
        Minutes from the first word to the last, walking included [min].
    pace_factor
        Above 1 for who speaks slower than the seconds of the catalogue.
    """

    tags: Collection[str] = TYPICAL_TAGS
    available_min: float = FILM_MIN
    pace_factor: float = 1.0


def film_tour(
    sheet: BuildSheet,
    catalogue: Catalogue,
    asked: FilmAsked | None = None,
    *,
    search: Search | None = None,
    currency: str = "GBP",
    learnt: Mapping[str, float] | None = None,
) -> TourAnswer:
    """Return the tour that a film of a build sheet shows; ``learnt`` as for any tour of this depot.

    Raises
    ------
    UnknownName
        A tag that no hire has; a fitting or station as for any tour.
    BadInput
        Minutes or a pace that cannot be.
    NoPlan
        Teach points wait for one another in a circle.
    """
    asked = asked or FilmAsked()
    for tag in asked.tags:
        if tag not in get_args(Tag):
            raise UnknownName("No hire has a tag of this name", seen=tag, todo=f"Use {', '.join(get_args(Tag))}")
    wishes = TourWishes(
        available_min=asked.available_min, pace_factor=asked.pace_factor, filmed=True, learnt=learnt or {}
    )
    composed = compose_for(sheet, catalogue, vehicle_tags(sheet) | frozenset(asked.tags), (), wishes)
    return answer_of(composed, catalogue, search=search, currency=currency)


def film_party(answer: TourAnswer, language: str = "en") -> str:
    """Return in words for whom a film is made: the tags in the order in which hires carry them."""
    words = [say(f"catalogue.tag.{tag}", None, language) for tag in get_args(Tag) if tag in answer.composed.tags]
    return ", ".join(words) or say("tour.film.nobody", None, language)


def film_note(answer: TourAnswer, name: str, language: str = "en") -> str:
    """Return the sentence that goes with a film: of what it is, for whom, how long."""
    minutes = answer.composed.problem.available_min
    values = {"name": name, "party": film_party(answer, language), "minutes": f"{minutes:g}"}
    return say("tour.film.note", values, language)
