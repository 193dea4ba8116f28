"""From a planned tour to the hand-over sheet."""

from __future__ import annotations

import re
from collections.abc import Iterator
from zoneinfo import ZoneInfo

from keyhook.hire.hire import Hire
from keyhook.phrases import say
from keyhook.tour.outcome import AnswerStop, TourAnswer
from keyhook.vehicle.build_sheet import BuildSheet
from keyhook_desk.papers.documents import (
    HandOverSheet,
    Imprint,
    ReadingLine,
    TourPointLine,
    TourStopLines,
)
from keyhook_desk.papers.loading_paper import moment, people_words
from keyhook_desk.papers.picture import numbers_picture

#: What is written down as a vehicle leaves, and in which unit (common practice).
_READINGS = (
    ("odometer", "km"), ("fuel", "1/8"), ("fresh", "%"), ("gas", "kg"), ("battery", "V"), ("keys", ""),
    ("marks", ""), ("deposit", ""),
)  # fmt: skip
#: So many fittings that fell off are named; the others are counted.
MOST_LATER = 8


def hand_over_paper(
    answer: TourAnswer, hire: Hire, sheet: BuildSheet, imprint: Imprint, *, whole: bool = False
) -> HandOverSheet:
    """Return the tour as a sheet: its stops in walking order; what fell off goes to the pack and is only named.

    The quirks of the vehicle are points of the tour and stand at their station. With ``whole`` every word is set, on
    as many pages as it takes.
    """
    shown = frozenset(line.find_it for line in answer.lines if line.find_it)
    sides = {station.id: station.side for station in sheet.stations}
    return HandOverSheet(
        imprint=imprint,
        lead=hire.lead,
        facts=(hire.id, moment(hire.collect_at.astimezone(ZoneInfo(hire.zone))), people_words(len(hire.party))),
        minutes=_say("minutes", minutes=round(answer.end_min)),
        picture=numbers_picture(sheet, shown),
        stops=tuple(_stop(stop, sides.get(stop.station, "")) for stop in answer.stops),
        later=tuple(_later(answer)),
        readings=tuple(ReadingLine(_say(f"reading_{key}"), unit) for key, unit in _READINGS),
        caution=_say("caution"),
        whole=whole,
    )


def _say(key: str, **values: object) -> str:
    return say(f"papers.hand_over.{key}", values)


def _stop(stop: AnswerStop, side: str) -> TourStopLines:
    points = tuple(
        TourPointLine(line.find_it, line.title, line.text, line.mandatory, first_sentence(line.text))
        for line in stop.lines
    )
    where = _say(f"side_{side}") if side else ""
    return TourStopLines(stop.name, where, _say("minute", minute=int(stop.arrive_s // 60)), points)


def _later(answer: TourAnswer) -> Iterator[str]:
    """Yield what there was no time for, by fitting, dearest first; the last line counts the others."""
    titles = list(dict.fromkeys(entry.title for entry in answer.elsewhere if entry.why != "moment"))
    for title in titles[:MOST_LATER]:
        entries = [entry for entry in answer.elsewhere if entry.title == title and entry.why != "moment"]
        yield title if len(entries) == 1 else _say("later", title=title, count=len(entries))
    if len(titles) > MOST_LATER:
        yield _say("later_more", count=len(titles) - MOST_LATER)


def first_sentence(text: str) -> str:
    """Return the first sentence of a text; a full stop inside a number or an abbreviation ends none."""
    return re.split(r"(?<=[a-z0-9)][.!?])\s+(?=[A-Z0-9])", text, maxsplit=1)[0]
